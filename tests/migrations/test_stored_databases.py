"""A farm stored at each landed state comes through every later migration whole.

tests/stored/ holds one file a landed state, called like its newest migration. To add one: migrate
an installation to that state, let the farm of the file before go on in it, and write it with
`python -m tests.stored.dump`. A file that landed is never edited.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from decimal import Decimal
from io import StringIO
from pathlib import Path

import pytest
from django.apps import apps
from django.conf import global_settings
from django.core.management import call_command
from django.core.management.color import no_style
from django.db import connection, transaction
from django.db.migrations.loader import MigrationLoader
from django.urls import reverse
from django.utils import timezone

from inventory.actions.intakes import bring_in_harvest
from inventory.actions.temperatures import record_readings
from inventory.ledger.weeks import forget_losses
from inventory.models import Crop, Farm, Person, Room, Source, TagBinding
from inventory.upkeep.exports import export_all, import_all
from tests import addresses, builders
from tests.stored import dump

FILES = sorted(Path(dump.__file__).parent.glob("*.sql"))
OWNER, PASSWORD = "Odile", "brindle-moor-cold-stone"

# Tables that were renamed since, and columns without which a row of theirs is not carried on: a
# promise that was never taken is made anew by the plan.
RENAMED = {
    "inventory_pull": "inventory_order",
    "inventory_pullline": "inventory_orderline",
    "inventory_pulltake": "inventory_take",
}
DROPPED = {"inventory_pulltake": "taken_id"}

# What a farm that was stored has none of yet.
LATER = {"0001_first_tables": {"slip", "credit", "credit-photo", "open-page"}}

# What a migration says otherwise of a row that was there: nobody had said the figures of 0017.
TURNED = {"0017_fill_order_book": {"inventory_outlet.fridge_c", "inventory_outlet.minimum_days"}}

# What answers with a page to the stored farm's owner is 200, what only takes a form 405.
ELSEWHERE = {
    # Nobody's count, a closed alarm, the form a case's barcode fills, a person to switch to.
    **dict.fromkeys(["count-found", "close-alarm", "case", "switch", "set-up"], 302),
    # Nobody made a certificate, no slip has this token, and a photo is a file beside the tables.
    **dict.fromkeys(["trust", "trust-file", "trust-qr", "delivery", "credit-photo"], 404),
    "api-readings": 405,
}


@pytest.fixture(scope="module", params=FILES, ids=lambda file: file.stem)
def landed(request, django_db_setup, django_db_blocker):
    """A stored file, what was in the tables of its own state it was loaded into, and their rows.

    The tables are those of the newest state by then, after the update of a farm that had
    stopped there: what a test writes is taken back after it.
    """
    file = request.param
    with django_db_blocker.unblock(), its_own_tables():
        call_command("migrate", "inventory", file.stem, verbosity=0)
        load(file)
        then = models_at(file)
        again, rows = "\n".join(dump.statements(then)), rows_of(then)
        call_command("migrate", verbosity=0)
        yield file, again, rows


@pytest.fixture
def updated(landed, db):
    """The file that was updated."""
    return landed[0]


@pytest.fixture
def owner(updated, client, settings, tmp_path):
    """The owner of the stored farm, signed in with the password she always had."""
    settings.DATA_DIR = tmp_path
    # tests.settings hash quickly; the stored password was hashed as a farm's is.
    settings.PASSWORD_HASHERS = global_settings.PASSWORD_HASHERS
    answer = client.post("/sign-in", {"name": OWNER, "password": PASSWORD})
    assert answer.status_code == 302
    return client


@contextmanager
def its_own_tables() -> Iterator[None]:
    """Put an empty database in the place of the tests' own, whose tables nobody need make again."""
    ours, kept = connection.settings_dict, connection.settings_dict["NAME"]
    test, named = ours["TEST"], ours["TEST"]["NAME"]
    connection.close()
    test["NAME"] = f"{kept}_stored"
    try:
        ours["NAME"] = connection.creation._create_test_db(verbosity=0, autoclobber=True)
        yield
    finally:
        connection.close()
        made, ours["NAME"], test["NAME"] = ours["NAME"], kept, named
        if made != kept:
            connection.creation._destroy_test_db(made, verbosity=0)


def load(file: Path) -> None:
    """Run a stored file's statements; the numbers of new rows go on after its own."""
    with transaction.atomic(), connection.cursor() as cursor:
        for statement in file.read_text(encoding="utf-8").split(";\n"):
            if statement.strip():
                cursor.execute(statement.replace(dump.NEW_LINE, "\n"))
        models = dump.tables(models_at(file))
        for statement in connection.ops.sequence_reset_sql(no_style(), models):
            cursor.execute(statement)


def models_at(file: Path):
    """Return the models as they were when the file was stored."""
    return MigrationLoader(connection).project_state(("inventory", file.stem)).apps


def rows_of(models) -> dict[str, dict[str, dict[str, str]]]:
    """Return what each row says, by table, key and column."""
    found = {}
    for model in dump.tables(models):
        fields = dump.columns_of(model)
        said = [
            {field.column: dump.literal(field, row) for field in fields}
            for row in model._base_manager.all()
        ]
        found[model._meta.db_table] = {row[fields[0].column]: row for row in said}
    return found


def keys_in(file: Path) -> dict[str, list[str]]:
    """Return the keys of the file's rows, by table: a row's first column."""
    keys: dict[str, list[str]] = {}
    for line in file.read_text(encoding="utf-8").splitlines():
        if line.startswith("INSERT INTO "):
            table = line.split('"')[1]
            keys[table] = []
        elif line.startswith("("):
            keys[table].append(line[1:].partition(",")[0].strip("'();"))
    return keys


def rows_in(file: Path) -> dict[str, int]:
    return {table: len(keys) for table, keys in keys_in(file).items()}


def rows_and_columns(text: str) -> list[str]:
    """Return the lines in an order of their own: databases sort text differently."""
    return sorted(line.rstrip(",;") for line in text.splitlines() if line[:1] in ("(", "I"))


def without(file: Path, table: str) -> int:
    """Return how many rows of a table are not carried on, as they lack what they were for."""
    column = DROPPED.get(table)
    if column is None:
        return 0
    text = file.read_text(encoding="utf-8").split(f'INSERT INTO "{table}" ')[1].split(";")[0]
    names, *rows = text.splitlines()
    place = names.strip("() VALUES").replace('"', "").split(", ").index(column)
    return sum(row.strip("(),").split(", ")[place] == "NULL" for row in rows)


def rows_there(tables) -> dict[str, int]:
    with connection.cursor() as cursor:
        return {
            table: cursor.execute(f'SELECT count(*) FROM "{table}"').fetchone()[0]
            for table in tables
        }


def ledger_says() -> str:
    out = StringIO()
    call_command("check_ledger", stdout=out)
    return out.getvalue()


def test_there_is_a_stored_database():
    assert "0001_first_tables" in [file.stem for file in FILES]


def test_a_stored_file_holds_a_row_of_every_table_and_writes_itself_again(landed, db):
    file, again, _rows = landed
    models = models_at(file)
    assert set(rows_in(file)) == {model._meta.db_table for model in dump.tables(models)}
    assert rows_and_columns(again) == rows_and_columns(file.read_text(encoding="utf-8"))


def test_an_update_loses_no_row_and_the_ledger_agrees(updated):
    stored = rows_in(updated)
    kept = {
        RENAMED.get(table, table): rows - without(updated, table) for table, rows in stored.items()
    }
    assert rows_there(kept) == kept
    assert ledger_says() == f"{stored['inventory_lot']} crates agree with the ledger\n"


def test_an_update_keeps_what_every_row_said(landed, db):
    """In every column that is still there, but for those that a migration means to change."""
    file, _again, rows = landed
    now = rows_of(apps)
    other = {
        f"{table}.{name}"
        for table, before in rows.items()
        for key, said in before.items()
        for name, after in now[RENAMED.get(table, table)].get(key, {}).items()
        if name in said and said[name] != after
    }
    later = [columns for migration, columns in TURNED.items() if migration > file.stem]
    assert other == set().union(*later)


def test_an_update_is_exported_and_comes_back_the_same(updated, settings, tmp_path):
    settings.DATA_DIR = tmp_path
    forget_losses()  # as each start does, and each import
    before = rows_and_columns("\n".join(dump.statements(apps)))
    export_all(connection, tmp_path / "all.zip")
    with connection.cursor() as cursor:
        for model in dump.tables(apps):
            cursor.execute(f'DELETE FROM "{model._meta.db_table}"')
    import_all(connection, tmp_path / "all.zip")
    assert rows_and_columns("\n".join(dump.statements(apps))) == before


# A farm goes on from one file to the next: the rows of those between stand in the last one too.
@pytest.mark.parametrize("landed", [FILES[0], FILES[-1]], ids=lambda file: file.stem, indirect=True)
def test_every_page_opens_after_an_update(updated, owner):
    pages, posts = addresses.pages(timezone.now()), addresses.posts()
    assert addresses.names() == set(pages) | set(posts) | addresses.OPEN
    # The next test opens all of these.
    pages |= {name: pages[name][:3] for name in ("crate", "place")}
    # That a form is not opened has nothing to do with the row it is about.
    posts = {name: each[:1] for name, each in posts.items()}
    open_to_all = {name: [()] for name in addresses.OPEN} | {"delivery": [("A" * 26,)]}
    every = pages | posts | open_to_all
    assert {name for name, each in every.items() if not each} == LATER.get(updated.stem, set())
    for name, each in every.items():
        expected = ELSEWHERE.get(name, 405 if name in posts else 200)
        for args in each:
            assert owner.get(reverse(name, args=args)).status_code == expected, (name, args)


def test_every_printed_code_leads_to_its_page_after_an_update(updated, owner):
    keys = keys_in(updated)
    for code in keys["inventory_lot"]:
        assert owner.get(f"/L/{code}").status_code == 200, code
    for code in keys["inventory_position"]:
        assert owner.get(f"/P/{code}").status_code == 200, code
    bound = {
        binding.tag_id: binding.lot_id for binding in TagBinding.objects.filter(taken_off_at=None)
    }
    assert bound
    for code in keys["inventory_tag"]:
        answer = owner.get(f"/L/{code}", follow=True)
        # A tag leads to the crate it hangs on; a free one has a page of its own.
        assert (answer.status_code, answer.request["PATH_INFO"]) == (
            200, f"/L/{bound.get(code, code)}",
        ), code  # fmt: skip


def test_the_log_goes_on_after_an_update(updated):
    """New rows take numbers of their own, and the ledger agrees with them too."""
    farm, owner = Farm.objects.get(), Person.objects.get(name=OWNER)
    entry = builders.act(timezone.now(), person=owner, farm=farm)
    crop, source = Crop.objects.get(reference_key="kale"), Source.objects.get(name="Bed 3")
    bring_in_harvest(entry, crop=crop, source=source, quantities=[Decimal(12)], unit="bunch")
    record_readings(Room.objects.first(), [(entry.at, 3.5)], kind="typed", at=entry.at)
    crates = rows_in(updated)["inventory_lot"] + 1
    assert ledger_says() == f"{crates} crates agree with the ledger\n"
