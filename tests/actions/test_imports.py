"""Logger files that can't be taken up say why, and leave nothing behind."""

import os
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings

from inventory import logger_files
from inventory.actions import imports
from inventory.actions.imports import confirm_columns, keep_file, take_up_chunk
from inventory.errors import Refused
from inventory.models import Farm, Reading, Room, TemperatureFile
from tests.builders import NOW, act
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
        (b"2026-06-01 06:30,3.5" + b",1" * 39 + b"\n", "file-wide"),
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


@pytest.mark.parametrize(("where", "name"), [(os, "fsync"), (Path, "replace")])
def test_on_a_failing_disk_nothing_is_left(where, name, monkeypatch):
    def fail(*args):
        raise OSError("no space left")

    before = kept_files()
    with monkeypatch.context() as broken:
        broken.setattr(where, name, fail)
        with pytest.raises(OSError, match="no space"):
            keep(ROW)
    assert not TemperatureFile.objects.exists()
    assert kept_files() == before
    assert confirm_columns(keep(ROW)).rows == 1


def test_the_text_is_in_its_place_before_its_row_counts(monkeypatch):
    """A row that can't be written takes nothing along; the next try finds a clean folder."""

    def fail(**told):
        raise RuntimeError("the database is gone")

    before = kept_files()
    monkeypatch.setattr(TemperatureFile.objects, "get_or_create", fail)
    with pytest.raises(RuntimeError):
        keep(ROW)
    assert kept_files() == before


def test_the_same_form_twice_keeps_one_text():
    room, entry = Room.objects.get(), act()
    files = [keep_file(entry, room=room, sensor="", data=data) for data in (ROW, ROW * 2)]
    assert files[0] == files[1]
    assert imports.text_of(files[1]) == ROW.decode()
    assert not list((settings.DATA_DIR / "imports").glob("*.part"))


def lose(file: TemperatureFile) -> None:
    (settings.DATA_DIR / "imports" / f"{file.pk}.csv").unlink()


def test_a_file_whose_text_is_gone_is_not_confirmed():
    file = keep(ROW)
    lose(file)
    with refused(Refused("file-gone", field="file")):
        confirm_columns(file)


def test_the_rest_of_a_file_whose_text_is_gone_does_not_count_as_done(monkeypatch):
    monkeypatch.setattr(imports, "CHUNK_ROWS", 2)
    rows = b"".join(b"2026-06-01 06:3%d,3.5\n" % minute for minute in range(5))
    farm, at = Farm.objects.get(), act().at
    file = take_up_chunk(confirm_columns(keep(rows)).pk, farm, at)
    lose(file)
    with refused(Refused("file-gone", field="file")):
        take_up_chunk(file.pk, farm, at)
    again = confirm_columns(keep(rows))
    while not again.is_done:
        again = take_up_chunk(again.pk, farm, at)
    assert (again.added, again.already_there) == (3, 2)
    assert Reading.objects.count() == 5


def test_columns_stored_by_an_earlier_version_are_still_taken_up():
    file = keep(ROW)
    file.columns = {
        name: value for name, value in file.columns.items() if not name.endswith("_unsure")
    }
    file.save()
    done = take_up_chunk(confirm_columns(file).pk, Farm.objects.get(), act().at)
    assert (done.is_done, done.added) == (True, 1)


MANY_ROWS = (
    b"time,temp C,note\n"
    b"2026-06-01 06:00,3.0,\n"
    b'2026-06-01 06:10,3.1,"two\nlines"\n'
    b"\n"
    b"2026-06-01 06:20,cold,\n"
    b"2026-06-01 06:30,3.3,caf\xc3\xa9\r\n"
    b"2026-06-01 06:40,3.4,\n"
    b"2026-06-01 06:50,warm,\n"
    b"2026-06-01 07:00,3.6,\n"
)


@pytest.mark.parametrize(
    "data", [MANY_ROWS, MANY_ROWS.replace(b"\r\n", b"\n").replace(b"\n", b"\r")]
)
def test_a_file_in_pieces_gives_what_it_gives_in_one(data, monkeypatch):
    whole = _taken_up(data, 100, "one", monkeypatch)
    for rows in (1, 2, 3):
        assert _taken_up(data, rows, f"by {rows}", monkeypatch) == whole
    assert whole[1] == [
        [6, "figure", "2026-06-01 06:20,cold,"],
        [9, "figure", "2026-06-01 06:50,warm,"],
    ]
    assert [reading[1] for reading in whole[0]] == [3.0, 3.1, 3.3, 3.4, 3.6]


def _taken_up(data, rows, sensor, monkeypatch):
    monkeypatch.setattr(imports, "CHUNK_ROWS", rows)
    file = confirm_columns(keep_file(act(), room=Room.objects.get(), sensor=sensor, data=data))
    while not file.is_done:
        file = take_up_chunk(file.pk, Farm.objects.get(), NOW)
    readings = Reading.objects.filter(file=file).order_by("at")
    found = list(readings.values_list("at", "temperature_c")), file.bad_rows
    # The same file again would keep its first sensor's name, and add nothing.
    readings.delete()
    return found


def test_no_piece_reads_what_an_earlier_one_has_read(monkeypatch):
    monkeypatch.setattr(imports, "CHUNK_ROWS", 5)
    file = confirm_columns(keep(b"time,temp C\n" + ROW * 20))
    taken = []
    monkeypatch.setattr(logger_files, "KeptLines", _counting(logger_files.KeptLines, taken))
    while not file.is_done:
        file = take_up_chunk(file.pk, Farm.objects.get(), NOW)
    assert len(taken) == 21


def _counting(lines, taken):
    class Counting(lines):
        def __iter__(self):
            for line in super().__iter__():
                taken.append(line)
                yield line

    return Counting


def test_a_file_half_taken_up_by_an_earlier_program_goes_on(monkeypatch):
    monkeypatch.setattr(imports, "CHUNK_ROWS", 2)
    file = confirm_columns(keep(MANY_ROWS))
    take_up_chunk(file.pk, Farm.objects.get(), NOW)
    TemperatureFile.objects.update(next_byte=0)
    while not file.is_done:
        file = take_up_chunk(file.pk, Farm.objects.get(), NOW)
    assert (file.added, [row[0] for row in file.bad_rows]) == (5, [6, 9])


def test_rows_are_numbered_only_as_long_as_they_are_shown(monkeypatch):
    """To number one, all lines above it are counted."""
    counted, count = [], imports._lines_above
    monkeypatch.setattr(imports, "_lines_above", lambda *of: counted.append(of) or count(*of))
    monkeypatch.setattr(imports, "MOST_BAD_ROWS_SHOWN", 1)
    monkeypatch.setattr(imports, "CHUNK_ROWS", 2)
    file = confirm_columns(keep(MANY_ROWS))
    while not file.is_done:
        file = take_up_chunk(file.pk, Farm.objects.get(), NOW)
    assert (file.added, [row[0] for row in file.bad_rows], len(counted)) == (5, [6], 1)


def test_uploads_nobody_confirmed_are_gone_after_a_day_and_the_rest_stay():
    day = timedelta(days=1)
    unconfirmed, half_taken = keep(ROW), keep(ROW * 2)
    confirm_columns(half_taken)
    orphan = settings.DATA_DIR / "imports" / "left-by-a-kill.part"
    orphan.write_text("half a file")
    paths = {file.pk: settings.DATA_DIR / "imports" / f"{file.pk}.csv" for file in (
        unconfirmed, half_taken)}  # fmt: skip
    for path in (orphan, *paths.values()):
        os.utime(path, (NOW.timestamp(), NOW.timestamp()))
    assert imports.drop_unconfirmed(NOW + day) == 0
    assert orphan.exists()
    assert paths[unconfirmed.pk].exists()
    assert imports.drop_unconfirmed(NOW + day + timedelta(seconds=1)) == 1
    assert [file.pk for file in TemperatureFile.objects.all()] == [half_taken.pk]
    assert (paths[half_taken.pk].exists(), paths[unconfirmed.pk].exists()) == (True, False)
    assert not orphan.exists()
