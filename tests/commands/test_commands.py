"""The commands of manage.py."""

import re
from contextlib import nullcontext
from datetime import UTC, datetime, timedelta
from io import StringIO
from pathlib import Path
from unittest.mock import Mock

import pytest
from django.core.management import CommandError, call_command
from django.db import OperationalError, connection, transaction
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.utils import timezone

from coldroom import lock
from coldroom.lock import serving
from coldroom.serve import watch
from inventory.demo import load_demo, scenario
from inventory.lives import logs
from inventory.management.commands import start
from inventory.management.farm_command import FarmCommand
from inventory.models import Change, Farm, Lot, Movement, Person, Reading
from inventory.queries.week import read_week
from inventory.upkeep import backup
from tests import builders


def run(*args) -> str:
    out = StringIO()
    call_command(*args, stdout=out)
    return out.getvalue()


def test_no_migration_is_missing(db):
    run("makemigrations", "--check", "--dry-run")


def test_check_ledger_is_content_with_a_true_ledger(farm):
    builders.make_lots(12, 12)
    assert run("check_ledger") == "2 crates agree with the ledger\n"


def test_check_ledger_reports_a_tampered_crate(farm):
    lot = builders.make_lot(12)
    Lot.objects.filter(pk=lot.pk).update(quantity=11)
    out = StringIO()
    with pytest.raises(CommandError, match="1 differences in 1 crates"):
        call_command("check_ledger", stdout=out)
    assert f"{lot.pk}: quantity is 11.000, the ledger says 12.000" in out.getvalue()


def is_a_season_with_something_of_everything():
    """What holds of a demo, all of it in one go: loading one takes many seconds."""
    assert "agree with the ledger" in run("check_ledger")
    kinds = set(Movement.objects.values_list("kind", flat=True))
    assert kinds >= {
        "brought in", "moved", "out", "back", "settled", "counted", "re-sorted", "weight lost",
        "discarded", "inspected", "held",
    }  # fmt: skip
    states = set(Lot.objects.values_list("state", flat=True))
    assert states == {"to put away", "in place", "out", "empty"}
    with pytest.raises(CommandError, match="a farm already"):
        run("demo")
    assert Lot.objects.count() > 300
    farm = Farm.objects.get()
    this = farm.week_of(Movement.objects.latest("occurred_at").occurred_at)
    weeks = [read_week(farm, this - timedelta(days=7 * back)) for back in range(11)]
    assert all(weeks[:10])
    assert [row for rows in weeks for row in rows if row.difference] == []


@pytest.mark.skipif(connection.vendor == "sqlite", reason="on SQLite: browser/test_first_start.py")
def test_the_demo_is_a_season_with_something_of_everything(db):
    password = re.search(r"password (\S+)", run("demo")).group(1)
    assert Person.objects.get(name="Odile").check_password(password)
    is_a_season_with_something_of_everything()


def test_the_demo_is_the_same_again(db, monkeypatch):
    """All but the password and the ids of the forms; one week of it tells."""
    monkeypatch.setattr(scenario, "WEEKS", 1)

    def story():
        logs.forget()
        with transaction.atomic():
            load_demo(datetime(2026, 7, 1, 15, tzinfo=UTC), "x")
            told = list(Movement.objects.order_by("pk").values_list("lot_id", "kind", "change"))
            transaction.set_rollback(True)
        return told

    first = story()
    assert len(first) > 50
    assert first == story()


TAKEN = 8002


@pytest.fixture
def started(db, monkeypatch):
    """start without the server and the watch, and what it was asked to serve on."""
    served = []
    monkeypatch.setattr(start, "serve", lambda host, port: served.append((host, port)))
    monkeypatch.setattr(start, "Beside", Mock())
    monkeypatch.setattr(start.Command, "serve_securely", lambda *args: None)
    monkeypatch.setattr(lock, "WAIT_S", 0)
    monkeypatch.setattr(
        start, "hold_port", lambda host, port: None if port == TAKEN else nullcontext()
    )
    return served


def test_start_prints_addresses_and_a_set_up_code(started):
    said = run("start", "--port", "8001")
    assert "http://127.0.0.1:8001/" in said
    assert re.search(r"Set-up code[^:]*: [0-9A-Z]{7}\n", said)
    assert run("start").count("Set-up code") == 1
    assert started == [("0.0.0.0", 8001), ("0.0.0.0", 8000)]


def test_start_keeps_the_watch_beside_the_server(started, monkeypatch):
    monkeypatch.setattr(start, "Beside", lambda run: started.append(run) or Mock())
    run("start")
    assert started == [watch, ("0.0.0.0", 8000)]


def test_start_refuses_a_port_or_a_folder_that_is_served_already(started, settings):
    said = StringIO()
    with pytest.raises(CommandError, match=r"Port 8002 is taken.*--port 8003\nEl puerto 8002"):
        call_command("start", "--port", str(TAKEN), stdout=said)
    with serving(settings.DATA_DIR), pytest.raises(CommandError, match=r"served from .* already"):
        call_command("start", stdout=said)
    assert (said.getvalue(), started) == ("", [])


def test_start_says_what_gave_way_without_a_traceback(started, farm, monkeypatch):
    def gives_way(*_args):
        raise OperationalError("database is locked")

    monkeypatch.setattr(start, "prepare_update", gives_way)
    with pytest.raises(CommandError, match=r"Another program holds[^§]*database is locked"):
        run("start")
    assert not started


def test_start_says_that_the_clock_is_behind_the_latest_entry(started, farm):
    assert "clock" not in run("start")
    builders.make_lot(12, at=timezone.now() + timedelta(days=1))
    said = run("start")
    assert "Check the clock of this machine" in said
    assert "Revisa el reloj" in said
    assert len(started) == 2


def test_start_keeps_to_itself_when_told(started):
    said = run("start", "--host", "127.0.0.1")
    assert "local network" not in said


def test_start_proposes_an_address_for_labels_and_warns_of_numbers(started, farm):
    assert "Labels carry no address yet" in run("start")
    Farm.objects.update(label_address="http://192.168.1.7:8000")
    assert "changes with the router" in run("start")
    Farm.objects.update(label_address="http://farm.local:8000")
    assert "Labels" not in run("start")


def test_start_again_keeps_the_farm(started, farm):
    assert "Sign in as before" in run("start", "--demo")
    assert Farm.objects.get() == farm


def test_start_resets_a_lost_password(started, farm):
    password = re.search(r"password (\S+)", run("start", "--reset-password", "ada")).group(1)
    assert builders.owner().check_password(password)
    (change,) = Change.objects.all()
    assert (change.action.person, change.action.kind) == (builders.owner(), "change")
    assert (change.subject, change.name, change.field) == ("person", "Ada", "password")
    assert (change.before, change.after) == ("", "set")
    assert not started
    with pytest.raises(CommandError, match="nobody"):
        run("start", "--reset-password", "Zoe")


@pytest.fixture
def before_update(transactional_db, later, started, settings, tmp_path):
    """A farm with a crate, and a program with one migration more. Its data folder."""
    builders.make_farm()
    builders.make_lot(12)
    settings.DATA_DIR = tmp_path
    yield tmp_path
    loader = MigrationLoader(connection)
    (newest,) = loader.graph.node_map["inventory", "9999_later"].parents
    call_command("migrate", *newest, verbosity=0)


def farm_columns() -> list[str]:
    with connection.cursor() as cursor:
        described = connection.introspection.get_table_description(cursor, "inventory_farm")
    return [column.name for column in described]


def test_start_copies_a_farm_before_it_migrates_and_says_where(before_update, started):
    said = run("start")
    (copy,) = (before_update / "copies").iterdir()
    assert f"Copied the farm before the update: {copy}\n" in said
    assert "later" in farm_columns()
    assert b"inventory_lot" in copy.read_bytes()
    assert run("check_ledger") == "1 crates agree with the ledger\n"
    # Once is enough: the next start finds nothing to change.
    assert "Copied" not in run("start")
    assert (len(list((before_update / "copies").iterdir())), len(started)) == (1, 2)


def test_start_migrates_without_a_copy_where_told(before_update):
    assert "Copied" not in run("start", "--without-copy")
    assert "later" in farm_columns()
    assert not (before_update / "copies").exists()


def test_start_changes_nothing_where_no_copy_can_be_made(before_update, started):
    (before_update / "copies").write_text("in the way", encoding="utf-8")
    with pytest.raises(CommandError, match="could not be copied"):
        run("start")
    assert "later" not in farm_columns()
    assert not started


def test_start_refuses_tables_newer_than_the_program(before_update, started):
    recorder = MigrationRecorder(connection)
    recorder.record_applied("inventory", "9998_of_the_future")
    try:
        with pytest.raises(CommandError, match="newer than this program"):
            run("start")
    finally:
        recorder.record_unapplied("inventory", "9998_of_the_future")
    assert "later" not in farm_columns()
    assert not started
    assert [file.name for file in before_update.iterdir()] == ["lock"]


def test_a_loggers_file_is_taken_up(farm, tmp_path):
    file = tmp_path / "log.csv"
    file.write_text("time,temp °C\n2026-06-01 06:30,3.5\n2026-06-01 06:40,x\n", encoding="utf-8")
    assert "2 rows" in run("import_temperatures", "cold room", str(file), "--dry-run")
    for said in ("1 new, 0 known", "0 new, 1 known"):
        assert said in run("import_temperatures", "cold room", str(file))
    with pytest.raises(CommandError, match="no room called shed"):
        run("import_temperatures", "shed", str(file))
    file.write_text("hello", encoding="utf-8")
    with pytest.raises(CommandError, match="no temperature log"):
        run("import_temperatures", "cold room", str(file))


def test_a_loggers_file_in_doubt_is_refused_with_the_choices(farm, tmp_path):
    file = tmp_path / "log.csv"
    file.write_text("time,T1,note,T2 °F\n2026-06-01 06:30,9.5,good,38.3\n", encoding="utf-8")
    command = ("import_temperatures", "cold room", str(file))
    with pytest.raises(CommandError, match=r"--column with one of: T1, T2 °F$"):
        run(*command)
    with pytest.raises(CommandError, match=r"No column note holds numbers\. There are: T1, T2 °F$"):
        run(*command, "--column", "note")
    with pytest.raises(CommandError, match="say --unit C or F"):
        run(*command, "--column", "T1", "--dry-run")
    assert "'unit': 'F'" in run(*command, "--column", "T1", "--unit", "F", "--dry-run")
    assert not Reading.objects.exists()
    assert "1 new" in run(*command, "--column", "t2 °f")
    assert Reading.objects.get().temperature_c == pytest.approx(3.5)


@pytest.fixture
def data(settings, tmp_path, monkeypatch):
    """A data folder of the test's own; copies are not opened in a process of their own."""
    settings.DATA_DIR = tmp_path / "data"
    settings.DATA_DIR.mkdir()
    monkeypatch.setattr(backup, "refold_apart", lambda about, where: None)
    return settings.DATA_DIR


@pytest.mark.django_db(transaction=True)
def test_backup_prints_where_the_copy_is_last_and_restore_puts_it_back(data, tmp_path):
    builders.make_farm()
    *_, said, path = run("backup", "--to", str(tmp_path / "to"), "--keep", "1").splitlines()
    assert said == "It was opened, and its ledger agrees."
    assert list((tmp_path / "to").iterdir()) == [Path(path)]
    assert Path(run("backup").splitlines()[-1]).parent == data / "copies"
    builders.make_lot(12)
    there = r"replace Test Farm: 1 crates, last entry .*--replace\. Nothing was changed"
    with pytest.raises(CommandError, match=there):
        run("restore", path)
    assert Lot.objects.count() == 1
    said = run("restore", path, "--replace")
    assert re.search(r"kept in .*replaced-.*\nRestored Test Farm: 0 crates, no entry\.", said)
    assert Lot.objects.count() == 0


@pytest.mark.django_db(transaction=True)
def test_a_copy_that_cannot_be_made_is_said(data, tmp_path):
    (data / "copies").write_text("in the way")
    with pytest.raises(CommandError, match=r"There is no copy: .*copies"):
        run("backup")
    with pytest.raises(CommandError, match=r"no\.zip.* Nothing was changed"):
        run("restore", str(tmp_path / "no.zip"))
    with pytest.raises(CommandError, match="from 1 on"):
        run("backup", "--keep", "0")


@pytest.mark.django_db(transaction=True)
def test_an_export_goes_into_an_empty_installation(data, tmp_path):
    builders.make_farm()
    *_, said, path = run("export_all", str(tmp_path / "all.zip")).splitlines()
    assert re.fullmatch(r"\d+ rows of \d+ tables", said)
    assert path == str(tmp_path / "all.zip")
    with pytest.raises(CommandError, match=r"no export: .*exists"):
        run("export_all", path)
    with pytest.raises(CommandError, match=r"a farm here already.* Nothing was written"):
        run("import_all", path)
    call_command("flush", verbosity=0, interactive=False, reset_sequences=False)
    assert run("import_all", path) == f"{said}. The ledger agrees.\n"
    assert Farm.objects.get().name == "Test Farm"


@pytest.mark.parametrize(
    ("folder", "said"),
    [("data", "The data folder or the database in it can't be written"), ("mine", "mine/x.csv")],
)
def test_a_file_that_cannot_be_had_is_named_and_not_taken_for_the_farms(
    db, settings, tmp_path, folder, said
):
    settings.DATA_DIR = tmp_path / "data"

    class Failing(FarmCommand):
        def handle(self, *args, **options):
            raise PermissionError(13, "Permission denied", str(tmp_path / folder / "x.csv"))

    with pytest.raises(CommandError) as refused:
        call_command(Failing())
    assert said in str(refused.value)
    assert ("data folder" in str(refused.value)) == (folder == "data")
