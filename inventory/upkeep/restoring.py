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
from coldroom.restored import PLAN, REPLACED, WORK, finish_restore
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

# What SQLite keeps beside a database: of the one that stood there, never of the one that comes.
_BESIDE = ("-wal", "-shm", "-journal")


class WouldReplace(NoCopy):
    """There is other data, and nobody said that it may be replaced; names it."""


def restore(
    connection: BaseDatabaseWrapper, file: Path, at: datetime, *, replace: bool = False
) -> tuple[Standing, Path | None]:
    """Put a copy in the place of what is there; return what it holds and where that is kept now.

    Killed at any moment, the farm is the old one or, once the next command begins, the new one.
    With PostgreSQL the tables change in one transaction; killed between that and the files, the
    tables are new and the files old: then restore again. Raises NoCopy, with nothing changed.
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
    shutil.rmtree(work, ignore_errors=True)
    try:
        work.mkdir(mode=0o700)
        holds = open_copy(file, work / "unpacked", connection)
        there = what_is_there(connection)
        if there and not replace:
            raise WouldReplace(there)
        connection.close()
        kept = _new_name(at) if there else None
        _decide(connection, work, kept, at)
    except OSError as error:
        raise NoCopy(str(error)) from error
    finally:
        if not (work / PLAN).exists():
            shutil.rmtree(work, ignore_errors=True)
    finish_restore(settings.DATA_DIR)
    return holds, kept


def _new_name(at: datetime) -> Path:
    """Return a folder that is not there yet, for what is replaced."""
    named = own_copies() / f"replaced-{at.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    numbered = (named.with_name(f"{named.name}-{number}") for number in count(2))
    return next(folder for folder in chain([named], numbered) if not folder.exists())


def what_is_there(connection: BaseDatabaseWrapper) -> str:
    """Return what a restore would replace, in words; empty where there is nothing."""
    try:
        return str(standing(connection)) if holds_rows(connection) else ""
    except DatabaseError as error:
        return f"a database that can't be read ({error})"


def _decide(connection: BaseDatabaseWrapper, work: Path, kept: Path | None, at: datetime) -> None:
    """Prepare everything beside what is there, then decide it by writing the plan.

    What is there is kept by a second name of the same file, which costs no room.
    """
    top, unpacked = settings.DATA_DIR, work / "unpacked"
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
    else:
        if kept:
            copy_database(connection, work / REPLACED, at, REPLACED)
        _replace_tables(connection, unpacked / DATABASE["postgresql"])
    _write_plan(work, gone, moves, kept)


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
) -> None:
    """Write the plan under its name in one step, when all it names is safely on the disk."""
    for made, _ in moves:
        settle(made)
    plan = {
        "gone": [str(path) for path in gone],
        "moves": [(str(made), str(place)) for made, place in moves],
        "kept": str(kept),
    }
    part = work / f"{PLAN}.part"
    part.write_text(json.dumps(plan), encoding="utf-8")
    settle(part)
    part.replace(work / PLAN)
    settle(work)
