"""Putting back a copy: opened first, then put in the place of what is there all at once."""

import json
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from itertools import chain, count
from pathlib import Path

from django.conf import settings
from django.db import DatabaseError
from django.db.backends.base.base import BaseDatabaseWrapper

from coldroom.faults import CannotStart
from coldroom.lock import serving
from coldroom.restored import PLAN, PREPARED, REPLACED, WORK, finish_restore
from inventory.upkeep.backup import (
    ABOUT,
    DATABASE,
    Standing,
    carried,
    open_copy,
    own_copies,
    settle,
    standing,
)
from inventory.upkeep.copies import NoCopy, copy_database, run_postgresql
from inventory.upkeep.tables import holds_rows
from inventory.upkeep.watch import lock_file, take

UNPACKED = "unpacked"
# What SQLite keeps beside a database: of the one that stood there, never of the one that comes.
_BESIDE = ("-wal", "-shm", "-journal")
# What commands make in a new data folder, before anything is put in.
_MADE_BY_ITSELF = {"secret-key", "set-up-code"}


class WouldReplace(NoCopy):
    """There is other data, and nobody said that it may be replaced; names it."""


def restore(
    connection: BaseDatabaseWrapper, file: Path, at: datetime, *, replace: bool = False
) -> tuple[Standing, Path | None]:
    """Put a copy in the place of what is there; return what it holds and where that is kept now.

    Killed at any moment, the farm is the old one or, once the next command begins, the new one.
    With PostgreSQL the tables change in one transaction before the files: of one killed between
    (is_cut_short) the next restore makes the new farm. Raises NoCopy, with nothing changed.
    """
    with _to_itself():
        return _restore(connection, file, at, replace)


@contextmanager
def _to_itself() -> Iterator[None]:
    """Have the data folder to itself; no server or watch begins within this. Raises NoCopy."""
    try:
        with serving(settings.DATA_DIR, wait_s=0), lock_file(settings.DATA_DIR) as watch:
            if not take(watch):
                raise NoCopy("A watch goes its rounds on this data folder. Stop that first")
            yield
    except CannotStart as held:
        raise NoCopy(str(held)) from held


def _restore(
    connection: BaseDatabaseWrapper, file: Path, at: datetime, replace: bool
) -> tuple[Standing, Path | None]:
    work = settings.DATA_DIR / WORK
    _clear(work, connection, at)
    try:
        work.mkdir(mode=0o700, exist_ok=True)
        holds = open_copy(file, work / UNPACKED, connection)
        there = what_is_there(connection)
        if there and not replace:
            raise WouldReplace(there)
        connection.close()
        kept = _new_name(at) if there else None
        _decide(connection, work, kept, at)
    except OSError as error:
        raise NoCopy(str(error)) from error
    finally:
        if not (work / PLAN).exists() and not is_cut_short(connection):
            shutil.rmtree(work, ignore_errors=True)
    finish_restore(settings.DATA_DIR)
    return holds, kept


def is_cut_short(connection: BaseDatabaseWrapper) -> bool:
    """Return whether a restore ended when the tables may have been changed and no file yet."""
    return connection.vendor == "postgresql" and (settings.DATA_DIR / WORK / PREPARED).exists()


def need_whole_restore(connection: BaseDatabaseWrapper) -> None:
    """Raise CannotStart where a restore was cut short."""
    if is_cut_short(connection):
        raise CannotStart(
            "A restore was cut short: the tables may be those of the copy and the files still the "
            "old ones. Restore the same file again: manage.py restore FILE --replace",
            "Una restauración se interrumpió: las tablas pueden ser las de la copia y los archivos "
            "todavía los de antes. Restaura otra vez el mismo archivo: "
            "manage.py restore ARCHIVO --replace",
        )


def _clear(work: Path, connection: BaseDatabaseWrapper, at: datetime) -> None:
    """Remove what an earlier restore left; of one that was cut short, keep what it replaced.

    The sign that it was stays until another one is whole.
    """
    if not is_cut_short(connection):
        shutil.rmtree(work, ignore_errors=True)
        return
    if (work / REPLACED).exists():
        own_copies().mkdir(mode=0o700, exist_ok=True)
        (work / REPLACED).rename(_new_name(at))
    shutil.rmtree(work / UNPACKED, ignore_errors=True)


def _new_name(at: datetime) -> Path:
    """Return a folder that is not there yet, for what is replaced."""
    named = own_copies() / f"replaced-{at.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    numbered = (named.with_name(f"{named.name}-{number}") for number in count(2))
    return next(folder for folder in chain([named], numbered) if not folder.exists())


def what_is_there(connection: BaseDatabaseWrapper) -> str:
    """Return what a restore would replace, in words; empty where there is nothing."""
    try:
        if holds_rows(connection):
            return str(standing(connection))
    except DatabaseError as error:
        return f"a database that can't be read ({error})"
    put_there = (str(file) for file in carried(connection) if not file.name.startswith("."))
    files = sorted(name for name in put_there if name not in _MADE_BY_ITSELF)
    return f"files of no farm ({len(files)}: {', '.join(files[:3])})" if files else ""


def _decide(connection: BaseDatabaseWrapper, work: Path, kept: Path | None, at: datetime) -> None:
    """Prepare everything beside what is there, then decide it by naming the plan."""
    gone, moves = _prepare(connection, work, kept, at)
    was_cut_short = is_cut_short(connection)
    plan = _write_plan(work, gone, moves, kept)
    if connection.vendor == "postgresql":
        try:
            _replace_tables(connection, work / UNPACKED / DATABASE["postgresql"])
        except NoCopy:  # the tables are as they were
            if not was_cut_short:
                plan.unlink()
            raise
    plan.replace(work / PLAN)
    settle(work)


def _prepare(
    connection: BaseDatabaseWrapper, work: Path, kept: Path | None, at: datetime
) -> tuple[list[Path], list[tuple[Path, Path]]]:
    """Put what comes beside what is there, and return what is to go and what is to be moved.

    What is there is kept by a second name of the same file, which costs no room.
    """
    top, unpacked = settings.DATA_DIR, work / UNPACKED
    old = [top / name for name in carried(connection)]
    new = [path for path in unpacked.rglob("*") if path.is_file()]
    moves = [
        (path, top / path.relative_to(unpacked))
        for path in new
        if path.relative_to(unpacked).as_posix() not in {ABOUT, *DATABASE.values()}
    ]
    places = {place for _, place in moves}
    gone = [path for path in old if path not in places]
    if kept:
        _keep(old, work / REPLACED)
    if connection.vendor == "sqlite":
        database = Path(connection.settings_dict["NAME"])
        beside = [database.with_name(database.name + ending) for ending in _BESIDE]
        if kept:
            _keep([database, *beside], work / REPLACED)
        # Beside its place, so that a rename puts it there, on whatever disk that is.
        made = database.with_name(f"{database.name}-{WORK}")
        shutil.move(unpacked / DATABASE["sqlite"], made)
        gone += beside
        moves.insert(0, (made, database))
    elif kept:
        copy_database(connection, work / REPLACED, at, REPLACED)
    return gone, moves


def _keep(paths: list[Path], folder: Path) -> None:
    folder.mkdir(mode=0o700, exist_ok=True)
    for path in paths:
        inside = path.is_relative_to(settings.DATA_DIR)
        name = path.relative_to(settings.DATA_DIR) if inside else Path(path.name)
        (folder / name).parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        if path.exists():
            try:
                os.link(path, folder / name)
            except OSError:  # a disk without second names
                shutil.copy2(path, folder / name)


def _replace_tables(connection: BaseDatabaseWrapper, text: Path) -> None:
    """Put PostgreSQL's tables in the place of those that are there, in one transaction."""
    with connection.cursor() as cursor:
        there = connection.introspection.table_names(cursor)
    ours = [name for name in there if name.startswith(("inventory_", "django_", "auth_"))]
    connection.close()
    quoted = ", ".join(map(connection.ops.quote_name, ours))
    drop = ["--command", f"DROP TABLE {quoted} CASCADE"] if ours else []
    run_postgresql(
        "psql", connection, "--no-psqlrc", "--quiet", "--output", os.devnull,
        "-v", "ON_ERROR_STOP=1", "--single-transaction",
        "--command", "SET lock_timeout = '10s'", *drop, "--file", str(text),
    )  # fmt: skip


def _write_plan(
    work: Path, gone: list[Path], moves: list[tuple[Path, Path]], kept: Path | None
) -> Path:
    """Write the plan when all it names is safely on the disk; its name decides it."""
    for made, _ in moves:
        settle(made)
    plan = {
        "gone": [str(path) for path in gone],
        "moves": [(str(made), str(place)) for made, place in moves],
        "kept": str(kept),
    }
    prepared = work / PREPARED
    prepared.write_text(json.dumps(plan), encoding="utf-8")
    settle(prepared)
    settle(work)
    return prepared
