"""A confirmed file is taken up whether its page is open or not, by one process at a time."""

from datetime import timedelta

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from django.db import connections

from inventory.actions import imports
from inventory.actions.imports import (
    SET_ASIDE_FOR,
    confirm_columns,
    keep_file,
    take_up_chunk,
)
from inventory.actions.temperatures import write_rows
from inventory.errors import Refused
from inventory.management.commands import import_temperatures
from inventory.management.commands import watch as command
from inventory.models import Farm, Reading, Room, TemperatureFile
from inventory.queries.imports import FAILURES, failed_files
from inventory.upkeep.loading import AFTER_A_FAULT_S, LOOK_S, PAUSE_S, keep_loading, turn
from tests.builders import NOW, act, sign_in
from tests.refusing import refused

BY_SCRIPT = {"HX-Request": "true"}


@pytest.fixture(autouse=True)
def in_small_pieces(farm, monkeypatch):
    monkeypatch.setattr(imports, "CHUNK_ROWS", 2)
    monkeypatch.setattr(connections, "close_all", lambda: None)


def keep(rows: int, sensor: str = "left", confirmed: bool = True) -> TemperatureFile:
    data = "".join(f"2026-06-01 06:{minute:02},3.5\n" for minute in range(rows)).encode()
    file = keep_file(act(), room=Room.objects.get(), sensor=sensor, data=data)
    return confirm_columns(file) if confirmed else file


def rounds(count: int):
    """Return what ends the loading after so many waits, and how long each was to be."""
    waits: list[float] = []
    return (lambda seconds: waits.append(seconds) or len(waits) > count), waits


def rows_done() -> list[int]:
    return list(TemperatureFile.objects.order_by("sensor").values_list("next_row", flat=True))


def test_a_confirmed_file_is_taken_up_though_nobody_asks_for_it_and_the_shortest_first():
    keep(5, "a long one")
    keep(3, "a short one")
    keep(3, "not confirmed", confirmed=False)
    ended, waits = rounds(2)
    keep_loading(lambda: NOW, ended)
    assert (rows_done(), waits) == ([0, 3, 0], [LOOK_S, PAUSE_S, PAUSE_S])
    ended, waits = rounds(5)
    keep_loading(lambda: NOW, ended)
    assert (rows_done(), waits[-2:]) == ([5, 3, 0], [LOOK_S] * 2)
    assert Reading.objects.count() == 8
    assert not list((settings.DATA_DIR / "imports").glob("*.part"))


def test_a_piece_that_took_long_is_followed_by_a_longer_pause():
    keep(3)
    times = iter([NOW, NOW + timedelta(seconds=0.01), NOW, NOW + timedelta(seconds=4), NOW, NOW])
    ended, waits = rounds(3)
    keep_loading(lambda: next(times), ended)
    assert (rows_done(), waits) == ([3], [LOOK_S, PAUSE_S, 16, LOOK_S])


def test_a_file_whose_text_lies_on_another_server_is_left_to_that():
    file = keep(3)
    (settings.DATA_DIR / "imports" / f"{file.pk}.csv").unlink()
    keep(3, "right")
    ended, waits = rounds(4)
    keep_loading(lambda: NOW, ended)
    assert (rows_done(), AFTER_A_FAULT_S in waits) == ([0, 3], False)


def test_whoever_does_not_hold_the_lock_takes_nothing_up():
    keep(3)
    with turn() as ours:
        ended, waits = rounds(3)
        keep_loading(lambda: NOW, ended)
    assert (ours, rows_done(), waits) == (True, [0], [LOOK_S] * 4)


def test_after_a_fault_the_page_may_meet_it_and_nothing_is_there_twice(monkeypatch, caplog):
    """The disk is full when the piece is written; later it is not."""
    file = keep(4)
    recorded, seen = imports.write_rows, []

    def fails(*args, **kwargs):
        recorded(*args, **kwargs)
        raise OSError("No space left on device")

    def ended(seconds):
        with turn() as ours:
            seen.append((seconds, ours, Reading.objects.count()))
        monkeypatch.setattr(imports, "write_rows", fails if len(seen) == 1 else recorded)
        return len(seen) > 3

    keep_loading(lambda: NOW, ended)
    assert seen == [
        (LOOK_S, True, 0),
        (AFTER_A_FAULT_S, True, 0),
        (PAUSE_S, False, 2),
        (PAUSE_S, False, 4),
    ]
    file.refresh_from_db()
    assert (file.is_done, file.added, file.already_there) == (True, 4, 0)
    assert "is tried again" in caplog.text


@pytest.fixture
def breaks(monkeypatch):
    """A short file whose pieces fail each time, and a long one that has nothing to do with it."""
    file = keep(3, "a short one")
    keep(5, "the other")
    recorded = imports.write_rows

    def fails(room, rows, at):
        if rows[0].sensor == file.sensor:
            raise OSError("Input/output error")
        return recorded(room, rows, at)

    monkeypatch.setattr(imports, "write_rows", fails)
    return file


def test_a_file_that_fails_each_time_is_set_aside_and_the_others_go_on(breaks):
    ended, waits = rounds(FAILURES + 4)
    keep_loading(lambda: NOW, ended)
    assert (rows_done(), waits.count(AFTER_A_FAULT_S)) == ([0, 5], FAILURES)
    assert failed_files() == [(breaks, "Input/output error")]
    # An hour later it is its turn again, once.
    ended, waits = rounds(3)
    keep_loading(lambda: NOW + SET_ASIDE_FOR, ended)
    assert waits == [LOOK_S, AFTER_A_FAULT_S, LOOK_S, LOOK_S]


def test_a_file_that_no_longer_fails_is_as_any_other(breaks, monkeypatch):
    for _time in range(FAILURES - 1):
        keep_loading(lambda: NOW, rounds(1)[0])
    with monkeypatch.context() as mended:
        mended.setattr(imports, "write_rows", write_rows)
        keep_loading(lambda: NOW, rounds(1)[0])
    keep_loading(lambda: NOW, rounds(1)[0])
    assert (rows_done(), failed_files()) == ([2, 0], [])


def test_a_file_that_fails_each_time_is_told_of(breaks, client):
    keep_loading(lambda: NOW, rounds(FAILURES)[0])
    sign_in(client)
    told = "This file could not be loaded, so the others go on without it."
    assert told in progress(client, breaks)
    assert f"/file/{breaks.pk}" in client.get(f"/rooms/{breaks.room_id}").content.decode()
    assert "Input/output error" in client.get("/health").content.decode()
    with refused(Refused("file-fails", field="file")):
        imports.need_rest(breaks)


def progress(client, file: TemperatureFile, **headers) -> str:
    page = client.post(f"/file/{file.pk}/take-up", follow=True, headers=headers).content.decode()
    return page.partition('id="progress"')[2]


def test_the_page_shows_how_far_it_is_and_takes_nothing_up_while_the_watch_does(client):
    """With and without JavaScript. Nobody is told that nothing is left to go on with."""
    file = keep(5)
    sign_in(client)
    with turn():
        for headers in ({}, BY_SCRIPT):
            said = progress(client, file, **headers)
            assert "0 of 5 rows" in said
            assert "delay:1s" in said
            assert "also when you leave" in said
            assert "How far is it?" in said
        take_up_chunk(file.pk, Farm.objects.get(), NOW)
        assert "2 of 5 rows" in progress(client, file)
    assert rows_done() == [2]
    said = progress(client, file, **BY_SCRIPT)
    assert "4 of 5 rows" in said
    assert "delay:50ms" in said
    assert "Go on" in said


def test_a_file_whose_last_piece_comes_in_while_its_page_asks_is_done_and_not_gone(
    client, monkeypatch
):
    file = keep(2)
    sign_in(client)
    need_text = imports.need_text

    def done_meanwhile(asked):
        monkeypatch.setattr(imports, "need_text", need_text)
        take_up_chunk(file.pk, Farm.objects.get(), NOW)
        need_text(asked)

    monkeypatch.setattr(imports, "need_text", done_meanwhile)
    assert "2 new, 0 known already" in progress(client, file, **BY_SCRIPT)


def test_the_command_line_waits_for_the_watch(tmp_path, monkeypatch, capsys):
    file = tmp_path / "log.csv"
    file.write_text("time,temp C\n" + "".join(f"2026-06-01 06:{n:02},3.5\n" for n in range(3)))

    def the_watch_goes_on(_seconds):
        take_up_chunk(TemperatureFile.objects.get().pk, Farm.objects.get(), NOW)

    monkeypatch.setattr("time.sleep", the_watch_goes_on)
    monkeypatch.setattr(import_temperatures, "take_up_chunk", None)
    with turn():
        call_command("import_temperatures", "cold room", str(file))
    assert "3 new, 0 known already" in capsys.readouterr().out


def test_the_command_line_does_not_wait_for_a_text_that_is_gone(tmp_path, monkeypatch):
    """Whoever holds the lock: the watch, or nobody."""
    file = tmp_path / "log.csv"
    file.write_text("time,temp C\n" + "".join(f"2026-06-01 06:{n:02},3.5\n" for n in range(3)))

    waits = []

    def somebody_clears_up(seconds):
        waits.append(seconds)
        assert len(waits) < 5, "it waits for ever"
        for text in (settings.DATA_DIR / "imports").glob("*.csv"):
            text.unlink()

    monkeypatch.setattr("time.sleep", somebody_clears_up)
    with pytest.raises(CommandError, match="The text of this file is gone"):
        call_command("import_temperatures", "cold room", str(file))
    with turn(), pytest.raises(CommandError, match="The text of this file is gone"):
        call_command("import_temperatures", "cold room", str(file))
    assert Reading.objects.count() == 2


def test_the_watch_loads_beside_its_rounds(monkeypatch):
    begun = []
    monkeypatch.setattr(command, "keep_watch", lambda clock, ended: begun.append(ended))
    monkeypatch.setattr(command, "keep_loading", lambda clock, ended: begun.append(ended))
    monkeypatch.setattr(command, "Thread", InTurn)
    call_command("watch")
    assert begun == [command.ended] * 2


class InTurn:
    """A thread that is over when it has begun; as a daemon it holds nobody up at the end."""

    def __init__(self, target, args, daemon):
        self.start = lambda: target(*args)
        assert daemon
