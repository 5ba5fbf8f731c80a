"""Which loggers' files fail again and again, and why."""

from inventory.actions.imports import confirm_columns, keep_file, note_failure, take_up_chunk
from inventory.models import Room
from inventory.queries.imports import FAILURES, failed_files
from tests.builders import NOW, act


def test_a_file_that_failed_too_often_running_is_named_until_a_piece_of_it_is_taken_up(farm):
    file = keep_file(act(), room=Room.objects.get(), sensor="", data=b"2026-06-01 06:30,3.5\n")
    confirm_columns(file)
    for _time in range(FAILURES - 1):
        note_failure(file, OSError("Input/output error"), NOW)
    assert failed_files() == []
    note_failure(file, OSError("No space left"), NOW)
    assert failed_files() == [(file, "No space left")]
    take_up_chunk(file.pk, farm, NOW)
    assert failed_files() == []
    # A note that stayed behind, as after a kill, tells nothing of a file that is done.
    for _time in range(FAILURES):
        note_failure(file, OSError("left behind"), NOW)
    assert failed_files() == []
