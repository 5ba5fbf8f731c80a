"""Copies of the whole database, made while nothing waits for them."""

import os
import shutil
import subprocess
from datetime import datetime
from pathlib import Path

from django.db import DatabaseError
from django.db.backends.base.base import BaseDatabaseWrapper

from coldroom import env


class NoCopy(Exception):
    """No copy could be made; says why. Nothing of one is left behind."""


def copy_database(
    connection: BaseDatabaseWrapper, folder: Path, at: datetime, purpose: str
) -> Path:
    """Copy the database into the folder and return the copy, which only its owner can read.

    at: now, in UTC; with the purpose it names the copy. A copy of SQLite is a database that
    opens as it is, one of PostgreSQL the SQL text that pg_dump writes. Raises NoCopy.
    """
    make, ending = _KINDS[connection.vendor]
    file = folder / f"coldroom-{at:%Y%m%dT%H%M%SZ}-{purpose}.{ending}"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        # Made empty first: what fills it keeps the rights it finds.
        os.close(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
    except OSError as error:
        raise NoCopy(str(error)) from error
    try:
        make(connection, file)
    except BaseException:
        file.unlink()
        raise
    return file


def _copy_sqlite(connection: BaseDatabaseWrapper, file: Path) -> None:
    try:
        with connection.cursor() as cursor:
            cursor.execute("VACUUM INTO %s", [str(file)])
    except DatabaseError as error:
        raise NoCopy(str(error)) from error


def _copy_postgresql(connection: BaseDatabaseWrapper, file: Path) -> None:
    # Whose the tables are is for the server to say that they are put back on.
    run_postgresql("pg_dump", connection, "--no-owner", "--no-privileges", "--file", str(file))


def run_postgresql(
    program: str, connection: BaseDatabaseWrapper, *arguments: str, database: str | None = None
) -> None:
    """Run a program of PostgreSQL's on the database, or another of its server. Raises NoCopy."""
    found = shutil.which(program)
    if found is None:
        raise NoCopy(f"PostgreSQL's {program} is not on this machine")
    where = connection.settings_dict | ({"NAME": database} if database else {})
    # Django knows how psql is told of a database; the others are told the same way.
    psql, secrets = connection.client.settings_to_cmd_args_env(where, [])
    done = subprocess.run(
        [found, "--no-password", *arguments, *psql[1:]],
        env=env.passed_on(secrets or {}),
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise NoCopy(done.stderr.strip())


_KINDS = {"sqlite": (_copy_sqlite, "sqlite3"), "postgresql": (_copy_postgresql, "sql")}
