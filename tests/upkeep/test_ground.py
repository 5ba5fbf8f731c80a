"""What the program stands on gives way, and is told from a fault of ours."""

import errno
from datetime import timedelta
from pathlib import Path

import pytest
from django.db import DatabaseError, IntegrityError, OperationalError, ProgrammingError, connections

from coldroom.faults import CannotStart
from inventory.upkeep import ground
from inventory.upkeep.ground import (
    disk_is_full,
    need_sound_database,
    what_gave_way,
    written_ahead,
)
from tests import builders
from tests.builders import NOW, act

# Messages as SQLite's result codes (sqlite.org/rescode.html) and PostgreSQL 15 give them.
SAID = [
    (OSError(errno.ENOSPC, "No space left on device"), "full"),
    (OSError(errno.EROFS, "Read-only file system"), "shut"),
    (OSError(errno.EACCES, "Permission denied"), "shut"),
    (OSError(errno.ENOENT, "No such file"), ""),
    (OperationalError("database or disk is full"), "full"),
    (OperationalError("could not extend file: No space left on device"), "full"),
    (OperationalError("attempt to write a readonly database"), "shut"),
    (OperationalError("unable to open database file"), "shut"),
    (OperationalError("database is locked"), "busy"),
    (DatabaseError("database disk image is malformed"), "broken"),
    (OperationalError("server closed the connection unexpectedly"), "silent"),
    (OperationalError("no such table: inventory_lot"), "bare"),
    (ProgrammingError('relation "inventory_lot" does not exist'), "bare"),
    (ProgrammingError("column x does not exist"), ""),
    (ProgrammingError('column "x" of relation "inventory_lot" does not exist'), ""),
    (IntegrityError('null value in column "x" of relation "inventory_lot" violates'), ""),
    (OperationalError('deadlock detected CONTEXT: tuple (0,1) in relation "inventory_lot"'), ""),
    (IntegrityError("UNIQUE constraint failed"), ""),
    (ValueError("locked"), ""),
]


def test_what_gave_way_is_read_from_the_error_and_what_caused_it():
    for error, kind in SAID:
        assert what_gave_way(error) == kind, error
        wrapped = RuntimeError("seen from afar")
        wrapped.__cause__ = error
        assert what_gave_way(wrapped) == kind, error
    assert what_gave_way(None) == ""


@pytest.fixture
def sqlite_file(tmp_path):
    """A function from what a file holds to the connection to it."""

    def connect(content: bytes | None):
        file = tmp_path / "coldroom.sqlite3"
        if content is not None:
            file.write_bytes(content)
        made = connections.create_connection("default")
        made.vendor = "sqlite"
        made.settings_dict = made.settings_dict | {"NAME": str(file)}
        return made

    return connect


@pytest.mark.skipif(connections["default"].vendor != "sqlite", reason="on SQLite")
def test_only_a_whole_database_is_taken_up(sqlite_file, django_db_blocker):
    with django_db_blocker.unblock():
        need_sound_database(sqlite_file(None))
        made = sqlite_file(None)
        made.cursor().execute("CREATE TABLE x AS SELECT zeroblob(9000)")
        made.close()
        need_sound_database(made)
        made.close()
        whole = Path(made.settings_dict["NAME"]).read_bytes()
        damaged = whole[:4096] + b"\xff" * (len(whole) - 4096)
        for content, said in ((b"", "0 bytes"), (b"hello" * 999, "can't be read"), (damaged, "")):
            broken = sqlite_file(content)
            with pytest.raises(CannotStart, match=rf"{said}.*\n.*No se cambió nada"):
                need_sound_database(broken)
            broken.close()


def test_a_disk_is_full_before_nothing_at_all_is_left(tmp_path, monkeypatch):
    assert not disk_is_full(tmp_path)
    monkeypatch.setattr(ground, "LEAST_FREE", 10**18)
    assert disk_is_full(tmp_path)


def test_a_clock_behind_the_latest_entry_is_noticed(farm):
    assert written_ahead(NOW) is None
    builders.make_lot(12, at=NOW)
    assert written_ahead(NOW - timedelta(minutes=9)) is None
    assert written_ahead(NOW - timedelta(hours=1)) == act(NOW).at
