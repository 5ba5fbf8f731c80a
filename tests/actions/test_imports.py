"""Logger files that can't be taken up say why, and leave nothing behind."""

import pytest
from django.conf import settings

from inventory import logger_files
from inventory.actions.imports import confirm_columns, keep_file
from inventory.errors import Refused
from inventory.models import Room
from tests.builders import act
from tests.refusing import refused

pytestmark = pytest.mark.usefixtures("farm")

ROW = b"2026-06-01 06:30,3.5\n"
# The csv module gives up on one cell of more than 131072 characters.
OPEN_QUOTE = b'"' + ROW * 7000


def keep(data: bytes):
    return keep_file(act(), room=Room.objects.get(), sensor="", data=data)


def kept_files() -> set:
    return set((settings.DATA_DIR / "imports").glob("*"))


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"", "file-empty"),
        (b"time,temperature\nyesterday,3.5\n", "file-time"),
        (b"2026-06-01 06:30,cold\n", "file-figure"),
        (b"06/07/2026 06:30,3.5\n" * 60 + OPEN_QUOTE, "file-table"),
    ],
)
def test_a_file_that_is_no_log_says_why(data, code):
    before = kept_files()
    with refused(Refused(code, field="file")):
        keep(data)
    assert kept_files() == before


def test_a_file_that_breaks_off_further_down_is_refused_when_it_is_read_to_its_end():
    file = keep(ROW * 2000 + OPEN_QUOTE)
    with refused(Refused("file-table", field="file")):
        confirm_columns(file)


def test_a_file_has_a_most_of_bytes(monkeypatch):
    monkeypatch.setattr(logger_files, "MOST_BYTES", 2 * len(ROW))
    keep(ROW * 2)
    with refused(Refused("file-too-big", field="file")):
        keep(ROW * 2 + b"\n")


def test_a_file_has_a_most_of_rows(monkeypatch):
    monkeypatch.setattr(logger_files, "MOST_ROWS", 2)
    fits, too_long = keep(ROW * 2), keep(ROW * 3)
    with refused(Refused("file-too-big", field="file")):
        confirm_columns(too_long)
    assert confirm_columns(fits).rows == 2
