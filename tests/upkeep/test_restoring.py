"""A copy comes back whole: over nothing, over other data if that is meant, or not at all."""

import contextlib
import itertools
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import zipfile
from contextlib import closing
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from django.db import connection

from coldroom.faults import CannotStart
from coldroom.lock import serving
from coldroom.restored import finish_restore
from inventory.models import Farm, Lot
from inventory.upkeep import restoring
from inventory.upkeep.backup import DATABASE, BadCopy, make_backup
from inventory.upkeep.copies import NoCopy
from inventory.upkeep.refold import refold_ledger
from inventory.upkeep.restoring import (
    WouldReplace,
    need_whole_restore,
    restore,
    what_is_there,
)
from inventory.upkeep.watch import lock_file, take
from tests import builders
from tests.upkeep.conftest import lots_brought_to, write

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.usefixtures("quick")]
on_sqlite = pytest.mark.skipif(connection.vendor != "sqlite", reason="on SQLite")
on_postgresql = pytest.mark.skipif(connection.vendor != "postgresql", reason="on PostgreSQL")


@pytest.fixture
def copy(data):
    """A copy of Test Farm; what is there now is another farm, with other files."""
    builders.make_farm()
    builders.make_lots(12, 11)
    file = make_backup(connection, data.parent / "to", builders.NOW)
    call_command("flush", verbosity=0, interactive=False, reset_sequences=False)
    builders.make_farm(name="Other")
    builders.make_lot(5)
    write("secret-key", "of the other")
    write("imports/1.csv", "of the other")
    write("imports/9.csv", "of the other")
    return file


def here():
    """Return what stands in the database and beside it, apart from what copies leave alone."""
    top = settings.DATA_DIR
    files = [top / "secret-key", *top.glob("imports/*.csv")]
    return (
        Farm.objects.get().name,
        Lot.objects.count(),
        {file.name: file.read_text(encoding="utf-8") for file in files},
    )


TEST_FARM = ("Test Farm", 2, {"secret-key": "of this farm", "1.csv": "half taken up"})
OTHER = (
    "Other", 1,
    {"secret-key": "of the other", "1.csv": "of the other", "9.csv": "of the other"},
)  # fmt: skip


def test_other_data_is_named_and_not_replaced_unless_that_is_said(copy, data):
    with pytest.raises(WouldReplace) as there:
        restore(connection, copy, builders.NOW)
    assert str(there.value) == "Other: 1 crates, last entry 2026-06-10 14:00 UTC"
    assert here() == OTHER
    assert not (data / "restoring").exists()


def test_what_was_replaced_is_kept_and_leads_back(copy, data):
    holds, kept = restore(connection, copy, builders.NOW, replace=True)
    assert str(holds) == "Test Farm: 2 crates, last entry 2026-06-10 14:00 UTC"
    assert here() == TEST_FARM
    assert refold_ledger().differences == []
    assert (data / "tls" / "authority-key.pem").exists()
    assert not (data / "imports" / "2.csv").exists()
    assert kept == data / "copies" / "replaced-20260610T140000Z"
    assert (kept / "imports" / "9.csv").read_text() == "of the other"
    if connection.vendor == "sqlite":
        old = kept / Path(connection.settings_dict["NAME"]).name
        with closing(sqlite3.connect(old)) as opened:
            assert opened.execute("SELECT name FROM inventory_farm").fetchall() == [("Other",)]
    else:
        assert "\tOther\t" in next(kept.glob("*.sql")).read_text()
    assert not (data / "restoring").exists()
    builders.make_lot(3)
    assert Lot.objects.count() == 3


def test_over_nothing_no_word_is_needed(copy, data):
    call_command("flush", verbosity=0, interactive=False, reset_sequences=False)
    for folder in ("imports", "photos"):
        shutil.rmtree(data / folder)
    (data / "settings.env").unlink()
    for made in ("secret-key", "set-up-code", ".DS_Store"):
        (data / made).write_text("of a folder where nothing was put in yet")
    assert what_is_there(connection) == ""
    _, kept = restore(connection, copy, builders.NOW)
    assert (kept, here()) == (None, TEST_FARM)
    assert not (data / "copies").exists()


@on_sqlite
def test_into_a_new_data_folder_it_makes_the_tables_and_asks_nothing(copy, data, tmp_path):
    assert lots_brought_to(tmp_path / "new machine", "restore", copy) == 2


def test_files_without_a_farm_are_something_too(copy, data):
    """As on a new machine, where settings and pictures were put first."""
    call_command("flush", verbosity=0, interactive=False, reset_sequences=False)
    for folder in ("imports", "photos"):
        shutil.rmtree(data / folder)
    write("photos/9.jpg", "of the new machine")
    with pytest.raises(WouldReplace, match=r"no farm \(2: photos/9\.jpg, settings\.env\)"):
        restore(connection, copy, builders.NOW)
    assert (data / "photos" / "9.jpg").exists()
    _, kept = restore(connection, copy, builders.NOW, replace=True)
    assert (kept / "photos" / "9.jpg").read_text() == "of the new machine"
    assert not (data / "photos" / "9.jpg").exists()


class Killed(BaseException):
    """The process is no more: nothing after it is done either."""


def killed_at(step, monkeypatch):
    """Let the process die at its nth change of the disk; return how many it came to."""
    done = []

    def dying(change):
        def until_then(*args, **options):
            done.append(change)
            if len(done) >= step:
                raise Killed
            return change(*args, **options)

        return until_then

    for where, name in [
        (os, "replace"), (os, "link"), (Path, "replace"), (Path, "unlink"), (shutil, "move"),
        (shutil, "rmtree"), (restoring, "settle"),
    ]:  # fmt: skip
        monkeypatch.setattr(where, name, dying(getattr(where, name)))
    return done


@on_sqlite
def test_killed_at_any_step_it_is_the_old_farm_or_the_new_never_a_mix(copy, data, monkeypatch):
    back = make_backup(connection, data.parent / "back", builders.NOW)
    seen = []
    for step in itertools.count(1):
        with monkeypatch.context() as dying:
            done = killed_at(step, dying)
            with contextlib.suppress(Killed):
                restore(connection, copy, builders.NOW, replace=True)
        if len(done) < step:
            break
        finish_restore(data)
        seen.append(here())
        if seen[-1] != OTHER:
            restore(connection, back, builders.NOW, replace=True)
    new = seen.index(TEST_FARM)
    assert new > 5
    assert seen == [OTHER] * new + [TEST_FARM] * (len(seen) - new)


# A restore that a signal ends in its midst: the database is in its place, the files are not.
DYING = """
import os, signal, sys
import django
django.setup()
from django.core.management import CommandError, call_command
from inventory.upkeep import backup
backup.refold_apart = lambda about, where: None
replace, done = os.replace, []
def dying(*args):
    done.append(replace(*args))
    os.kill(os.getpid(), signal.SIGKILL)
os.replace = dying
call_command("restore", sys.argv[1])
"""


@on_sqlite
def test_a_restore_that_was_really_killed_is_ended_by_the_next_command(copy, data, tmp_path):
    there = tmp_path / "killed"
    done = subprocess.run(
        [sys.executable, "-c", DYING, str(copy)],
        cwd=Path(__file__).parents[2],
        env=os.environ
        | {"COLDROOM_DATA": str(there), "DJANGO_SETTINGS_MODULE": "coldroom.settings"},
        check=False,
    )
    assert done.returncode == -signal.SIGKILL
    assert (there / "secret-key").read_text() != "of this farm"
    finish_restore(there)
    assert (there / "secret-key").read_text() == "of this farm"
    assert (there / "imports" / "1.csv").read_text() == "half taken up"
    with closing(sqlite3.connect(there / "coldroom.sqlite3")) as opened:
        assert opened.execute("SELECT count(*) FROM inventory_lot").fetchall() == [(2,)]
    assert not (there / "restoring").exists()


def test_what_cannot_be_opened_changes_nothing(copy, data):
    with pytest.raises(NoCopy, match=r"no\.zip"):
        restore(connection, data / "no.zip", builders.NOW, replace=True)
    (data / "no.zip").write_text("no zip")
    with pytest.raises(BadCopy, match="no whole copy"):
        restore(connection, data / "no.zip", builders.NOW, replace=True)
    assert here() == OTHER
    assert not (data / "restoring").exists()


def test_while_a_server_or_a_watch_has_the_folder_nothing_is_put_there(copy, data):
    with serving(data), pytest.raises(NoCopy, match=f"by process {os.getpid()}. Stop that first"):
        restore(connection, copy, builders.NOW, replace=True)
    with lock_file(data) as watch:
        assert take(watch)
        with pytest.raises(NoCopy, match="watch goes its rounds"):
            restore(connection, copy, builders.NOW, replace=True)
    assert here() == OTHER


@on_sqlite
def test_a_database_that_cannot_be_read_is_replaced_and_kept(copy, data):
    connection.close()
    file = Path(connection.settings_dict["NAME"])
    file.write_bytes(b"scrap" * 1000)
    written_ahead = file.with_name(f"{file.name}-wal")
    written_ahead.write_bytes(b"more scrap")
    with pytest.raises(WouldReplace, match=r"can't be read \(file is not a database\)"):
        restore(connection, copy, builders.NOW)
    _, kept = restore(connection, copy, builders.NOW, replace=True)
    assert not written_ahead.exists()
    assert here() == TEST_FARM
    assert (kept / file.name).read_bytes() == b"scrap" * 1000
    assert (kept / written_ahead.name).read_bytes() == b"more scrap"


@on_postgresql
def test_tables_that_do_not_all_come_leave_the_old_ones(copy, data, tmp_path):
    name = DATABASE["postgresql"]
    with zipfile.ZipFile(copy) as packed:
        parts = {part: packed.read(part) for part in packed.namelist()}
    parts[name] = parts[name].replace(b"ALTER TABLE ONLY", b"ALTER NO TABLE ONLY", 1)
    spoilt = tmp_path / "spoilt.zip"
    with zipfile.ZipFile(spoilt, "w") as packed:
        for part, content in parts.items():
            packed.writestr(part, content)
    with pytest.raises(NoCopy, match="syntax error"):
        restore(connection, spoilt, builders.NOW, replace=True)
    assert here() == OTHER
    need_whole_restore(connection)


@on_postgresql
def test_killed_between_tables_and_files_it_says_so_until_the_next_restore(copy, data, monkeypatch):
    replace_tables = restoring._replace_tables

    def then_dies(*args):
        replace_tables(*args)
        raise Killed

    with monkeypatch.context() as dying, contextlib.suppress(Killed):
        dying.setattr(restoring, "_replace_tables", then_dies)
        restore(connection, copy, builders.NOW, replace=True)
    finish_restore(data)
    assert here() == (*TEST_FARM[:2], OTHER[2])
    with pytest.raises(CommandError, match="was cut short"):
        call_command("start", port=0)
    with pytest.raises(BadCopy):
        restore(connection, data / "secret-key", builders.NOW, replace=True)
    with pytest.raises(CannotStart, match="was cut short"):
        need_whole_restore(connection)
    restore(connection, copy, builders.NOW, replace=True)
    assert here() == TEST_FARM
    need_whole_restore(connection)
    first = data / "copies" / "replaced-20260610T140000Z"
    assert "\tOther\t" in next(first.glob("*.sql")).read_text()
    assert (first / "imports" / "9.csv").read_text() == "of the other"
