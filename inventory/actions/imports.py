"""Taking up a logger's file piece by piece, so that nothing else waits for it."""

import hashlib
import json
import os
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import asdict
from datetime import UTC, datetime, timedelta
from itertools import islice
from pathlib import Path
from typing import BinaryIO
from uuid import UUID

from django.db import transaction
from django.db.models import F, Q

from inventory import logger_files
from inventory.actions.temperatures import OLDEST_READING, make_rows, write_rows
from inventory.errors import Refused
from inventory.ledger.book import Act
from inventory.models import Farm, Reading, Room, TemperatureFile
from inventory.queries.imports import (
    Failure,
    import_folder,
    lasting_failures,
    note_of,
    read_note,
)

# So few that a scan waits for no more than a blink where one writes at a time (SQLite).
CHUNK_ROWS = 500
MOST_BAD_ROWS_SHOWN = 200
UNCONFIRMED_KEPT = timedelta(days=1)
# What failed too often is set aside, so that the others go on, and tried again after that.
SET_ASIDE_FOR = timedelta(hours=1)


def read_columns(data: bytes, farm_unit: str) -> tuple[str, logger_files.Columns]:
    """Return a file's text and how it seems to be written.

    Raises Refused("file-too-big", "file-empty", "file-table", "file-time", "file-figure").
    """
    if len(data) > logger_files.MOST_BYTES:
        raise Refused("file-too-big", field="file")
    text = logger_files.decode(data)
    try:
        guessed = logger_files.guess_columns(text, farm_unit)
        return text, logger_files.settle_day_order(text, guessed)
    except logger_files.NotALog as error:
        raise Refused(f"file-{error.reason}", field="file") from error


def keep_file(act: Act, *, room: Room, sensor: str, data: bytes) -> TemperatureFile:
    """Keep an uploaded file and guess its columns; nothing of it is taken up yet.

    A file that counts already keeps the logger's name it came under, so that it adds nothing.
    The text is on the disk before the row is: no row is ever left without one.

    Raises Refused("file-too-big", "file-empty", "file-table", "file-time", "file-figure").
    """
    text, columns = read_columns(data, act.farm.temperature_unit)
    digest = hashlib.sha256(data).hexdigest()
    earlier = Reading.objects.filter(room=room, file__digest=digest, set_aside="")
    sensor = earlier.values_list("sensor", flat=True).first() or sensor
    with _written(text) as part, transaction.atomic():
        file, made = TemperatureFile.objects.get_or_create(
            id=act.id,
            defaults={
                "room": room,
                "sensor": sensor,
                "digest": digest,
                "person": act.person,
                "uploaded_at": act.at,
                "columns": columns.as_dict(),
            },
        )
        if made:
            part.replace(_path(file))
            settle_on_disk(import_folder())
    return file


@contextmanager
def _written(text: str) -> Iterator[Path]:
    """Write a text under a passing name, safely on the disk; gone after, unless renamed."""
    import_folder().mkdir(exist_ok=True)
    with tempfile.NamedTemporaryFile(
        "w", encoding="utf-8", newline="", dir=import_folder(), suffix=".part", delete=False
    ) as part:
        try:
            part.write(text)
            part.flush()
            os.fsync(part.fileno())
            yield Path(part.name)
        finally:
            Path(part.name).unlink(missing_ok=True)


def settle_on_disk(folder: Path) -> None:
    """Make a rename last through a power cut, where the system can do that for a folder."""
    if os.name == "posix":
        opened = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(opened)
        finally:
            os.close(opened)


def change_columns(file: TemperatureFile, columns: logger_files.Columns) -> None:
    """Read a file in another way than guessed, until the columns were confirmed."""
    if not file.rows:
        file.columns = columns.as_dict()
        file.save(update_fields=["columns"])


def confirm_columns(file: TemperatureFile) -> TemperatureFile:
    """Take up the file in these columns and count its rows.

    Confirmed once, they stay: half a file must not be read in another way.

    Raises Refused("file-too-big", "file-gone", "file-table").
    """
    if file.rows:
        return file
    columns = logger_files.Columns(**file.columns)
    try:
        rows = sum(1 for _ in logger_files.body_rows(text_of(file), columns))
    except logger_files.NotALog as error:
        raise Refused(f"file-{error.reason}", field="file") from error
    if rows > logger_files.MOST_ROWS:
        raise Refused("file-too-big", field="file")
    file.rows = rows
    file.save(update_fields=["rows"])
    return file


def next_file(at: datetime) -> TemperatureFile | None:
    """Return the file to go on with: confirmed, its text here, not set aside, fewest rows left."""
    here = {text.stem for text in import_folder().glob("*.csv")} - {
        key
        for key, failure in lasting_failures().items()
        if abs(at.timestamp() - failure.at_s) < SET_ASIDE_FOR.total_seconds()
    }
    if not here:
        return None
    waiting = TemperatureFile.objects.filter(pk__in=here, rows__gt=F("next_row"))
    return waiting.order_by(F("rows") - F("next_row"), "pk").first()


def note_failure(file: TemperatureFile, error: Exception, at: datetime) -> None:
    """Note beside its text that a file could not be taken up; the next piece of it ends that."""
    note = note_of(file)
    times = read_note(note).times + 1 if note.exists() else 1
    failure = Failure(times, at.timestamp(), str(error) or type(error).__name__)
    with _written(json.dumps(asdict(failure))) as part:
        part.replace(note)


def take_up_chunk(file_id: UUID, farm: Farm, at: datetime) -> TemperatureFile:
    """Take up the next rows in one transaction. Done again or after a break, nothing doubles.

    The rows are read and made before the transaction, so that it holds the database as briefly as
    it can.

    Raises Refused where the text is gone: what is left counts for nothing, not for done.
    """
    file = TemperatureFile.objects.select_related("room", "person").get(pk=file_id)
    if file.is_done or not file.rows:
        return file
    begin, end = file.next_row, min(file.next_row + CHUNK_ROWS, file.rows)
    readings, bad, next_byte = _read(file, begin, end, farm, at)
    like = Reading(
        room=file.room, kind=Reading.Kind.FILE, sensor=file.sensor, person=file.person, file=file
    )
    rows = make_rows(like, readings, at)
    with transaction.atomic():
        locked = TemperatureFile.objects.select_for_update(of=("self",)).get(pk=file_id)
        if locked.next_row != begin:
            return locked
        found = write_rows(file.room, rows, at)
        file.next_row, file.next_byte = end, next_byte
        file.added += found.added
        file.already_there += found.already_there
        file.set_aside += found.set_aside
        file.bad_rows = [*file.bad_rows, *bad][:MOST_BAD_ROWS_SHOWN]
        file.save()
    note_of(file).unlink(missing_ok=True)
    if file.is_done:
        _path(file).unlink(missing_ok=True)
    return file


def _read(
    file: TemperatureFile, begin: int, end: int, farm: Farm, at: datetime
) -> tuple[list[tuple[datetime, float]], list[list[int | str]], int]:
    """Return the readings of some rows, (number, reason, text) of those that are none, and where
    the row after them begins.

    They are read from where the last piece ended, not from the beginning.
    """
    columns = logger_files.Columns(**file.columns)
    need_text(file)
    with _path(file).open("rb") as kept:
        lines = logger_files.KeptLines(kept, file.next_byte)
        # A file half taken up by an earlier program has no place to go on from.
        before = begin if not file.next_byte else 0
        rows = islice(logger_files.rows_from(lines, columns), before, before + end - begin)
        readings, bad = _take(rows, columns, farm, at)
        next_byte = lines.at
        # To number a row all lines above it are counted: only where it will be shown.
        shown = bad if len(file.bad_rows) < MOST_BAD_ROWS_SHOWN else []
        above = _lines_above(kept, file.next_byte) if shown else 0
    said: list[list[int | str]] = [[above + number, reason, text] for number, reason, text in shown]
    return readings, said, next_byte


def _lines_above(kept: BinaryIO, at: int) -> int:
    """Return how many lines a kept text has before a byte."""
    kept.seek(0)
    text = kept.read(at)
    returns = text.count(b"\r")
    return text.count(b"\n") + returns - text.count(b"\r\n")


def _take(
    rows: Iterable[tuple[int, list[str]]], columns: logger_files.Columns, farm: Farm, at: datetime
) -> tuple[list[tuple[datetime, float]], list[tuple[int, str, str]]]:
    readings: list[tuple[datetime, float]] = []
    bad: list[tuple[int, str, str]] = []
    for number, row in rows:
        try:
            moment, celsius = logger_files.read_row(row, columns, farm.zone)
            if not at - OLDEST_READING <= moment <= at:
                raise logger_files.BadRow("when")
        except logger_files.BadRow as error:
            bad.append((number, error.reason, ",".join(row)[:80]))
            continue
        readings.append((moment, celsius))
    return readings, bad


def drop_unconfirmed(at: datetime) -> int:
    """Drop uploads whose columns nobody confirmed within a day, and return how many.

    Texts that belong to no file in the making go too: what a killed upload left behind.
    """
    since = at - UNCONFIRMED_KEPT
    _all, by_model = TemperatureFile.objects.filter(rows=0, uploaded_at__lt=since).delete()
    wanted = TemperatureFile.objects.filter(Q(rows=0) | Q(next_row__lt=F("rows")))
    names = {f"{pk}.csv" for pk in wanted.values_list("pk", flat=True)}
    for text in import_folder().glob("*"):
        left = datetime.fromtimestamp(text.stat().st_mtime, UTC) < since
        if left and text.name not in names:
            text.unlink(missing_ok=True)
    return by_model.get(TemperatureFile._meta.label, 0)


def text_of(file: TemperatureFile) -> str:
    """Return a file's text. Raises Refused."""
    need_text(file)
    return _path(file).read_text(encoding="utf-8")


def need_text(file: TemperatureFile) -> None:
    """Raise Refused("file-gone") where a file's text was cleared away, or a copy came without."""
    if not _path(file).exists():
        raise Refused("file-gone", field="file")


def need_rest(file: TemperatureFile) -> None:
    """See to it that what is left of a file can be taken up, if anything is.

    Raises Refused("file-gone", "file-fails").
    """
    try:
        need_text(file)
        if str(file.pk) in lasting_failures():
            raise Refused("file-fails", field="file")
    except Refused:
        file.refresh_from_db()  # its last piece may be in by now
        if not file.is_done:  # then only its readings are left, rightly
            raise


def _path(file: TemperatureFile) -> Path:
    return import_folder() / f"{file.pk}.csv"
