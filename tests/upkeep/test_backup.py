"""A copy holds all of a farm, while people write, and nothing of it counts before it was opened."""

import json
import os
import subprocess
import threading
import zipfile
from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from django.db.migrations.loader import MigrationLoader

from inventory.models import Action, Farm, Lot
from inventory.upkeep import backup
from inventory.upkeep.backup import (
    DATABASE,
    BadCopy,
    last_good_copy,
    make_backup,
    nightly_copy,
    open_copy,
)
from inventory.upkeep.copies import NoCopy
from inventory.upkeep.refold import refold_ledger
from inventory.upkeep.restoring import restore
from tests import builders
from tests.serving import LIMIT_S

pytestmark = pytest.mark.django_db(transaction=True)
DAY = timedelta(days=1)


@pytest.fixture
def crates(data):
    builders.make_farm()
    return builders.make_lots(12, 11)


def mode(file):
    return file.stat().st_mode & 0o777


def names(folder):
    return sorted(file.name for file in folder.iterdir())


@pytest.mark.usefixtures("crates", "quick")
def test_a_copy_holds_the_database_and_what_lies_beside_it_but_no_key_of_tls(data, tmp_path):
    file = make_backup(connection, tmp_path / "to", builders.NOW)
    assert (file.name, mode(file)) == ("coldroom-20260610T140000Z-copy.zip", 0o600)
    assert names(file.parent) == [file.name]
    with zipfile.ZipFile(file) as packed:
        assert set(packed.namelist()) == {
            DATABASE[connection.vendor], "COPY.json", "imports/1.csv", "photos/1.jpg",
            "secret-key", "settings.env",
        }  # fmt: skip
        assert {info.external_attr >> 16 & 0o777 for info in packed.infolist()} == {0o600}
        assert json.loads(packed.read("COPY.json")) | {"migration": ""} == {
            "database": connection.vendor, "migration": "", "farm": "Test Farm", "crates": 2,
            "last_entry": "2026-06-10 14:00 UTC",
        }  # fmt: skip


def test_a_copy_made_while_four_write_holds_all_that_was_answered_before(data, monkeypatch):
    """Its ledger refolds in a process of its own, and again where it was put back."""
    builders.make_farm()
    answered, stop = [], threading.Event()

    def write():
        while not stop.is_set():
            answered.append(builders.make_lot(12).pk)
        connection.close()

    writers = [threading.Thread(target=write) for _ in range(4)]
    for writer in writers:
        writer.start()
    while len(answered) < 8:
        stop.wait(0.01)
    before = set(answered)
    with monkeypatch.context() as patched:
        patched.setattr(backup, "open_copy", lambda *args: None)
        file = make_backup(connection, data / "copies", builders.NOW)
    stop.set()
    for writer in writers:
        writer.join(timeout=LIMIT_S)
    farm = Farm.objects.get()
    farm.name = "Later"
    farm.save()
    restore(connection, file, builders.NOW, replace=True)
    assert Farm.objects.get().name == "Test Farm"
    there = set(Lot.objects.values_list("pk", flat=True))
    assert before <= there <= set(answered)
    assert refold_ledger().differences == []


@pytest.mark.usefixtures("crates")
def test_a_copy_whose_ledger_is_wrong_is_none(data):
    Lot.objects.update(quantity=7)
    with pytest.raises(BadCopy, match=r"ledger was not right: .*the ledger says 1"):
        make_backup(connection, data / "copies", builders.NOW)
    assert names(data / "copies") == []


def test_tables_of_an_earlier_state_are_brought_on_before_they_are_refolded(monkeypatch):
    """In the process that opens the copy, not in the farm's."""
    ran = []

    def run(command, env, **options):
        ran.append((command[2], env["COLDROOM_DATA"], env["DJANGO_SETTINGS_MODULE"]))
        return subprocess.CompletedProcess(command, 0)

    monkeypatch.setattr(backup.subprocess, "run", run)
    newest = MigrationLoader(None).graph.leaf_nodes("inventory")[0][1]
    for migration in (newest, "0009_still_good"):
        about = backup.Standing("sqlite", migration, "Test Farm", 1, "")
        backup.refold_apart(about, {"COLDROOM_DATA": "there"})
    assert ran == [
        (command, "there", "coldroom.settings")
        for command in ("check_ledger", "migrate", "check_ledger")
    ]


@pytest.mark.usefixtures("crates", "quick")
def test_what_is_no_copy_is_not_opened(data, tmp_path):
    good = make_backup(connection, tmp_path, builders.NOW)
    with zipfile.ZipFile(good) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    database = DATABASE[connection.vendor]
    about = json.loads(parts["COPY.json"])
    wrong = {
        "no whole copy": {"COPY.json": None},
        "no whole copy of": {"COPY.json": b"[]"},
        "Its database": {database: parts[database][: len(parts[database]) // 2]},
        "does not know 9999_z": {"COPY.json": json.dumps(about | {"migration": "9999_z"})},
        "never started": {"COPY.json": json.dumps(about | {"migration": ""})},
        "copy of other": {"COPY.json": json.dumps(about | {"database": "other"})},
    }
    for number, (said, changes) in enumerate(wrong.items()):
        file = tmp_path / f"{number}.zip"
        with zipfile.ZipFile(file, "w") as packed:
            for name, content in (parts | changes).items():
                if content is not None:
                    packed.writestr(name, content)
        with pytest.raises(BadCopy, match=said):
            open_copy(file, tmp_path / f"opened-{number}", connection)
    cut = tmp_path / "cut.zip"
    cut.write_bytes(good.read_bytes()[:-400])
    with pytest.raises(BadCopy, match="no whole copy"):
        open_copy(cut, tmp_path / "opened", connection)


def refuse(*args):
    raise BadCopy("not whole")


@pytest.mark.usefixtures("crates", "quick")
def test_older_ones_of_its_own_naming_go_once_the_new_one_is_good(data, monkeypatch):
    folder = data / "copies"
    others = ["coldroom-20200101T000000Z-before-0009_still_good.sqlite3", "mine.zip",
              "coldroom-20200101T000000Z-nightly.zip"]  # fmt: skip
    made = [make_backup(connection, folder, builders.NOW + DAY * day).name for day in range(3)]
    for name in others:
        (folder / name).touch()
    # Made while the clock was wrong: the newest by name, yet not kept instead of the one just made.
    (folder / "coldroom-20990101T000000Z-copy.zip").touch()
    with monkeypatch.context() as patched:
        patched.setattr(backup, "open_copy", refuse)
        with pytest.raises(BadCopy):
            make_backup(connection, folder, builders.NOW + DAY * 3, keep=1)
    assert set(made) < set(names(folder))
    last = make_backup(connection, folder, builders.NOW + DAY * 4, keep=2).name
    assert names(folder) == sorted([*others, last, "coldroom-20990101T000000Z-copy.zip"])


@pytest.mark.usefixtures("crates", "quick")
def test_what_a_killed_copy_left_is_cleared_away_a_day_later(data):
    folder = data / "copies"
    left = {name: folder / f"coldroom-{name}.part" for name in ("old", "new")}
    for part in left.values():
        part.mkdir(parents=True)
    os.utime(left["old"], (0, 0))
    os.utime(left["new"], (builders.NOW.timestamp(),) * 2)
    make_backup(connection, folder, builders.NOW)
    assert (left["old"].exists(), left["new"].exists()) == (False, True)


@pytest.mark.usefixtures("crates", "quick")
def test_a_file_that_comes_while_the_database_is_copied_is_in_the_copy(data, monkeypatch):
    copy = backup.copy_database

    def copy_meanwhile(*args):
        (data / "imports" / "3.csv").write_text("just came", encoding="utf-8")
        return copy(*args)

    monkeypatch.setattr(backup, "copy_database", copy_meanwhile)
    file = make_backup(connection, data / "copies", builders.NOW)
    assert "imports/3.csv" in zipfile.ZipFile(file).namelist()


@pytest.mark.usefixtures("crates", "quick")
def test_the_nightly_copy_goes_to_a_second_folder_that_is_there(data, settings, tmp_path):
    """Two weeks of them stay in each; a folder that is not there is never made."""
    assert last_good_copy() is None
    second = tmp_path / "stick"
    settings.COPIES_TO = str(second)
    with pytest.raises(NoCopy, match=r"nightly\.zip was made, but no second one.*stick is not"):
        nightly_copy(builders.NOW)
    assert not second.exists()
    second.mkdir()
    for day in range(1, 16):
        for folder in (data / "copies", second):
            (folder / f"coldroom-202601{day:02}T020000Z-nightly.zip").touch()
    made = nightly_copy(builders.NOW + DAY)
    assert made.name == "coldroom-20260611T140000Z-nightly.zip"
    assert (second / made.name).read_bytes() == made.read_bytes()
    assert [len(names(folder)) for folder in (second, data / "copies")] == [14, 14]
    assert made.name in names(second)
    assert last_good_copy() == builders.NOW + DAY
    (data / "copies" / "coldroom-20260612T140000Z-before-x.sqlite3").touch()
    assert last_good_copy() == datetime(2026, 6, 11, 14, tzinfo=UTC)


@pytest.mark.usefixtures("crates", "quick")
def test_a_folder_that_cannot_be_written_is_said(data, tmp_path):
    (tmp_path / "to").write_text("in the way", encoding="utf-8")
    with pytest.raises(NoCopy, match="to"):
        make_backup(connection, tmp_path / "to", builders.NOW)
    made = make_backup(connection, data / "copies", builders.NOW)
    with pytest.raises(NoCopy, match="exists already"):
        make_backup(connection, data / "copies", builders.NOW)
    assert Action.objects.exists()
    assert names(data / "copies") == [made.name]
