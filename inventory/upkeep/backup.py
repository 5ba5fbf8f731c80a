"""Dated copies of all that a farm has, made while people write, and opened before they count.

A copy is a zip that, unpacked, is a data folder: the database, the secret key, photos, files on
their way in, settings kept in a file. The keys that phones trust (tls) are in none.
"""

import filecmp
import json
import os
import re
import shutil
import sqlite3
import subprocess
import sys
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from django.conf import settings
from django.db import connection as default_connection
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import Max

from coldroom import env
from inventory.models import Action, Farm, Lot
from inventory.upkeep.copies import NoCopy, copy_database, run_postgresql

# A mistake found two market days later can still be looked up in the copy from before it.
NIGHTLY_KEPT = 14

DATABASE = {"sqlite": "coldroom.sqlite3", "postgresql": "coldroom.sql"}
ABOUT = "COPY.json"
# Not the farm's, or made again; what waits to be put in place is of another copy.
_APART = {"tls", "static", "copies", "restoring", "lock"}
_NAMED = re.compile(r"coldroom-(\d{8}T\d{6}Z)-(copy|nightly)\.zip")
_STAMP = "%Y%m%dT%H%M%SZ"
_OURS = "inventory"


class BadCopy(NoCopy):
    """A file is no copy that could be put back; says why."""


@dataclass(frozen=True)
class Standing:
    """What a database holds, as far as a person needs it to tell two farms apart.

    migration: the newest of ours it went through. last_entry: in UTC, empty where there is none.
    """

    database: str
    migration: str
    farm: str
    crates: int
    last_entry: str

    def __str__(self) -> str:
        last = f"last entry {self.last_entry}" if self.last_entry else "no entry"
        return f"{self.farm}: {self.crates} crates, {last}"


def make_backup(
    connection: BaseDatabaseWrapper,
    folder: Path,
    at: datetime,
    *,
    purpose: str = "copy",
    keep: int | None = None,
) -> Path:
    """Make a copy in the folder and return it; only its owner can read it.

    It has its name once it was opened and its ledger refolded. keep: how many of this purpose
    stay in the folder, counting this one. Raises NoCopy, with nothing left behind.
    """
    file = folder / f"coldroom-{at.astimezone(UTC):{_STAMP}}-{purpose}.zip"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if file.exists():
            raise NoCopy(f"{file} exists already")
        _sweep(folder, at)
        with TemporaryDirectory(prefix="coldroom-", suffix=".part", dir=folder) as work:
            made = _pack(connection, Path(work), at)
            open_copy(made, Path(work) / "opened", connection)
            settle(made)
            made.replace(file)
        settle(folder)
    except OSError as error:
        raise NoCopy(str(error)) from error
    if keep:
        _delete_older(file, purpose, keep)
    return file


def nightly_copy(at: datetime) -> Path:
    """Copy the farm into its data folder, and into COLDROOM_COPIES_TO if that is set.

    Raises NoCopy where either could not be made.
    """
    copy = make_backup(default_connection, own_copies(), at, purpose="nightly", keep=NIGHTLY_KEPT)
    if settings.COPIES_TO:
        try:
            _copy_again(copy, Path(settings.COPIES_TO))
        except OSError as error:
            raise NoCopy(f"{copy} was made, but no second one: {error}") from error
    return copy


def last_good_copy() -> datetime | None:
    """Return when the newest copy was made of those in the farm's own folders of copies."""
    folders = [own_copies(), *([Path(settings.COPIES_TO)] if settings.COPIES_TO else [])]
    named = [_NAMED.fullmatch(file.name) for folder in folders for file in folder.glob("*.zip")]
    stamps = [found[1] for found in named if found]
    return datetime.strptime(max(stamps), _STAMP).replace(tzinfo=UTC) if stamps else None


def own_copies() -> Path:
    return settings.DATA_DIR / "copies"


def standing(connection: BaseDatabaseWrapper) -> Standing:
    """Return what stands in a database, of whatever state its tables are."""
    migrations = MigrationRecorder(connection).applied_migrations()
    ours = [name for app, name in migrations if app == _OURS]
    there = set(connection.introspection.table_names())
    if Farm._meta.db_table not in there:
        return Standing(connection.vendor, max(ours, default=""), "no farm", 0, "")
    # These columns were there from the first, so that tables of any state can be asked.
    farm = Farm.objects.values_list("name", flat=True).first()
    last = Action.objects.aggregate(at=Max("recorded_at"))["at"]
    return Standing(
        connection.vendor,
        max(ours, default=""),
        farm or "no farm",
        Lot.objects.count(),
        f"{last.astimezone(UTC):%Y-%m-%d %H:%M} UTC" if last else "",
    )


def carried(connection: BaseDatabaseWrapper) -> Iterator[Path]:
    """Yield what a copy holds beside the database, each from the data folder on."""
    top = settings.DATA_DIR
    apart = {top / name for name in _APART}
    if settings.COPIES_TO:
        apart.add(Path(settings.COPIES_TO).resolve())
    databases = (DATABASE["sqlite"], Path(str(connection.settings_dict["NAME"])).name)
    for here, folders, files in os.walk(top):
        folders[:] = [name for name in folders if Path(here, name) not in apart]
        for file in (Path(here, name) for name in files):
            passing = file.name.endswith((".part", ".lock")) or _NAMED.fullmatch(file.name)
            if not (file in apart or passing or file.name.startswith(databases)):
                yield file.relative_to(top)


def open_copy(file: Path, folder: Path, connection: BaseDatabaseWrapper) -> Standing:
    """Unpack a copy into a new folder and refold its ledger there; return what it holds.

    Tables of an earlier state are brought to the program's in that folder. Raises BadCopy.
    """
    folder.mkdir(mode=0o700, parents=True)
    try:
        with zipfile.ZipFile(file) as packed:
            about = Standing(**json.loads(packed.read(ABOUT)))
            _need_ours(about, connection)
            # What lies in a zip is unpacked below the folder, whatever its name says.
            packed.extractall(folder)
    except (zipfile.BadZipFile, zlib.error, KeyError, ValueError, TypeError) as error:
        raise BadCopy(f"{file} is no whole copy of this program's: {error}") from error
    for path in folder.rglob("*"):
        path.chmod(0o700 if path.is_dir() else 0o600)
    _CHECKS[connection.vendor](about, folder, connection)
    return about


def can_open(connection: BaseDatabaseWrapper) -> bool:
    """Return whether a copy can be opened as a database of its own on this machine."""
    if connection.vendor == "sqlite":
        return True
    with connection.cursor() as cursor:
        cursor.execute("SELECT rolcreatedb OR rolsuper FROM pg_roles WHERE rolname = current_user")
        return shutil.which("psql") is not None and cursor.fetchone()[0]


def settle(path: Path) -> None:
    """Make a file, or the names in a folder, last through a power cut, where that can be done."""
    if path.is_dir() and os.name != "posix":
        return
    opened = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)


def _pack(connection: BaseDatabaseWrapper, work: Path, at: datetime) -> Path:
    """Write the zip. Files that came while the database was copied are in it too."""
    made = work / "made.zip"
    with (
        os.fdopen(os.open(made, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, strict_timestamps=False) as packed,
    ):
        _pack_files(packed, connection)
        packed.writestr(_private(ABOUT), json.dumps(asdict(standing(connection))))
        packed.write(copy_database(connection, work, at, "now"), DATABASE[connection.vendor])
        _pack_files(packed, connection)
    return made


def _pack_files(packed: zipfile.ZipFile, connection: BaseDatabaseWrapper) -> None:
    there = set(packed.namelist())
    for name in carried(connection):
        if name.as_posix() in there:
            continue
        # What was on its way in may have been taken up meanwhile.
        with suppress(FileNotFoundError):
            packed.writestr(_private(name.as_posix()), (settings.DATA_DIR / name).read_bytes())


def _private(name: str) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name)
    info.compress_type = zipfile.ZIP_DEFLATED
    info.external_attr = 0o600 << 16
    return info


def _need_ours(about: Standing, connection: BaseDatabaseWrapper) -> None:
    """Raise BadCopy of a copy that this program, on this database, can't take."""
    if about.database != connection.vendor:
        raise BadCopy(
            f"It is a copy of {about.database}, and this farm is kept in {connection.vendor}. "
            "export_all and import_all lead from one to the other."
        )
    if not about.migration:
        raise BadCopy("There is nothing in it: the program was never started on that data folder")
    if about.migration not in _migrations():
        raise BadCopy(
            f"It was made by a newer program: this one does not know {about.migration}. "
            "Update the program first."
        )


@cache
def _migrations() -> frozenset[str]:
    """Return the names of this program's migrations, the newest last in the alphabet."""
    loader = MigrationLoader(None)
    return frozenset(name for app, name in loader.disk_migrations if app == _OURS)


def _check_sqlite(about: Standing, folder: Path, connection: BaseDatabaseWrapper) -> None:
    with closing(sqlite3.connect(folder / DATABASE["sqlite"])) as opened:
        try:
            found = opened.execute("PRAGMA integrity_check").fetchone()[0]
        except sqlite3.DatabaseError as error:
            raise BadCopy(f"Its database can't be read: {error}") from error
    if found != "ok":
        raise BadCopy(f"Its database is not whole: {found}")
    refold_apart(about, {"COLDROOM_DATA": str(folder), "DATABASE_URL": ""})


def _check_postgresql(about: Standing, folder: Path, connection: BaseDatabaseWrapper) -> None:
    """Put the copy into a database of its own for a moment; without the right to, read it."""
    text = folder / DATABASE["postgresql"]
    with text.open("rb") as dumped:
        dumped.seek(max(0, text.stat().st_size - 200))
        if b"PostgreSQL database dump complete" not in dumped.read():
            raise BadCopy("Its database is not whole: the end is missing")
    if not can_open(connection):
        return
    with _database_for_a_moment(connection) as name:
        run_postgresql(
            "psql", connection, "--no-psqlrc", "--quiet", "--output", os.devnull,
            "-v", "ON_ERROR_STOP=1", "--file", str(text), database=name,
        )  # fmt: skip
        refold_apart(about, {"COLDROOM_DATA": str(folder), "DATABASE_URL": env.database_url(name)})


_CHECKS = {"sqlite": _check_sqlite, "postgresql": _check_postgresql}


@contextmanager
def _database_for_a_moment(connection: BaseDatabaseWrapper) -> Iterator[str]:
    name = f"{connection.settings_dict['NAME'][:40]}_copy_{os.getpid()}"
    quoted = connection.ops.quote_name(name)
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE DATABASE {quoted} TEMPLATE template0")
    try:
        yield name
    finally:
        with connection.cursor() as cursor:
            cursor.execute(f"DROP DATABASE {quoted}")


def refold_apart(about: Standing, where: dict[str, str]) -> None:
    """Refold a copy's ledger in a process of its own, which holds nobody up here."""
    commands = [["check_ledger"]]
    if about.migration != max(_migrations()):
        commands.insert(0, ["migrate", "--verbosity=0"])
    for command in commands:
        done = subprocess.run(
            [sys.executable, str(settings.BASE_DIR / "manage.py"), *command],
            env=env.passed_on({**where, "DJANGO_SETTINGS_MODULE": "coldroom.settings"}),
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode:
            said = (done.stdout + done.stderr).strip().splitlines()
            raise BadCopy(f"Opened, its ledger was not right: {' / '.join(said[-3:])}")


def _copy_again(copy: Path, folder: Path) -> None:
    """Copy a copy to a second folder. That is never made: it may be a disk that is not in."""
    if not folder.is_dir():
        raise FileNotFoundError(f"the folder {folder} is not there")
    part = folder / f"{copy.name}.part"
    try:
        os.close(os.open(part, os.O_WRONLY | os.O_CREAT, 0o600))
        shutil.copyfile(copy, part)
        settle(part)
        if not filecmp.cmp(copy, part, shallow=False):
            raise OSError(f"what was written to {folder} reads otherwise")
        part.replace(folder / copy.name)
    finally:
        part.unlink(missing_ok=True)
    _delete_older(folder / copy.name, "nightly", NIGHTLY_KEPT)


def _delete_older(newest: Path, purpose: str, keep: int) -> None:
    """Delete older copies of one purpose, never the one just made, whatever the clock says."""
    named = [(_NAMED.fullmatch(file.name), file) for file in newest.parent.glob("*.zip")]
    others = sorted(
        file for found, file in named if found and found[2] == purpose and file != newest
    )
    for file in others[: max(0, len(others) - (keep - 1))]:
        file.unlink(missing_ok=True)


def _sweep(folder: Path, at: datetime) -> None:
    """Clear away what a copy that was killed left behind, a day ago or earlier."""
    for part in folder.glob("coldroom-*.part"):
        if datetime.fromtimestamp(part.stat().st_mtime, UTC) < at - timedelta(days=1):
            shutil.rmtree(part, ignore_errors=True)
