"""An export is every table, lossless; it goes into an empty installation, whole or not at all."""

import csv
import io
import os
import subprocess
import sys
import threading
import zipfile
from contextlib import closing
from pathlib import Path

import pytest
from django.apps import apps
from django.db import connection

from inventory.models import Change, Lot, Person, Source
from inventory.upkeep import columns
from inventory.upkeep.exports import (
    BadExport,
    columns_of,
    describe_columns,
    export_all,
    exported_models,
    import_all,
    one_moment,
)
from tests import builders, stored
from tests.serving import ROOT
from tests.upkeep.conftest import lots_brought_to

# Sign-ins, and what Django keeps for itself and fills anew.
NOT_OURS = {
    "django_session", "django_content_type", "auth_permission", "auth_group",
    "auth_group_permissions",
}  # fmt: skip


def empty_all() -> None:
    """Delete every row; what points to what is looked at when the transaction ends."""
    with connection.cursor() as cursor:
        for model in exported_models():
            cursor.execute(f'DELETE FROM "{model._meta.db_table}"')


def tables_in(file) -> dict[str, list[str]]:
    """Return the rows of each table; databases sort text differently."""
    with zipfile.ZipFile(file) as packed:
        return {
            name: sorted(packed.read(name).decode().splitlines())
            for name in packed.namelist()
            if name.startswith("tables/")
        }


@pytest.fixture
def exported(farm, data, tmp_path):
    """A farm with texts of every odd kind, exported."""
    builders.make_lots(12, "11.5", unit="kg")
    for name in [r"\N", r"\\", "\\", "=1+1", 'a "b", c', "one\r\ntwo", "o\rn\re", " ñ ", "None"]:
        Source.objects.create(kind="block", name=name)
    file = tmp_path / "all.zip"
    export_all(connection, file)
    return file


def test_no_table_is_forgotten(exported):
    tables = {model._meta.db_table for model in apps.get_models(include_auto_created=True)}
    rows = list(csv.DictReader(io.StringIO(describe_columns())))
    told = {(row["table"], row["column"]) for row in rows}
    for table, lines in tables_in(exported).items():
        name = table.removeprefix("tables/").removesuffix(".csv")
        tables.remove(name)
        with connection.cursor() as cursor:
            described = connection.introspection.get_table_description(cursor, name)
        columns = {column.name for column in described}
        assert columns == {column for told_of, column in told if told_of == name}
        assert ",".join(c.column for c in columns_of(_model(name))) in lines
    assert tables == NOT_OURS
    assert all(row["what it holds"] and row["type"] and row["what it is"] for row in rows)
    assert not [row["type"] for row in rows if "Field" in row["type"]]


def test_every_column_says_more_than_its_name():
    for row in csv.DictReader(io.StringIO(describe_columns())):
        said = row["what it is"]
        assert said.replace(" ", "_") not in (row["column"], row["column"].removesuffix("_id")), row


def test_what_columns_are_is_told_of_none_that_is_not_there():
    there = {
        model.__name__: {field.name for field in columns_of(model)} for model in exported_models()
    }
    for model, words in columns.OF.items():
        assert words.keys() <= there[model], model
    assert columns.ALIKE.keys() <= set().union(*there.values())


@pytest.mark.skipif(connection.vendor != "sqlite", reason="SQLite makes a database of itself")
def test_into_a_new_data_folder_it_makes_the_tables(exported, tmp_path):
    assert lots_brought_to(tmp_path / "new machine", "import_all", exported) == 2


def _model(table):
    return next(model for model in exported_models() if model._meta.db_table == table)


def test_what_was_exported_comes_back_the_same(exported, data, tmp_path):
    odd = set(Source.objects.values_list("name", flat=True))
    assert (exported.stat().st_mode & 0o777) == 0o600
    empty_all()
    (data / "imports" / "1.csv").unlink()
    rows = import_all(connection, exported)
    assert rows["inventory_lot"] == 2
    assert set(Source.objects.values_list("name", flat=True)) == odd
    assert builders.owner().check_password(builders.PASSWORD)
    export_all(connection, tmp_path / "again.zip")
    assert tables_in(tmp_path / "again.zip") == tables_in(exported)
    assert (data / "imports" / "1.csv").read_text() == "half taken up"
    builders.make_crew("Newcomer")
    builders.make_lot(3)
    assert Lot.objects.count() == 3


def test_no_secret_of_the_installation_is_in_an_export(exported):
    with zipfile.ZipFile(exported) as packed:
        others = {name for name in packed.namelist() if not name.startswith("tables/")}
        texts = b"".join(packed.read(name) for name in packed.namelist())
    assert others == {
        "README.txt", "COLUMNS.csv", "files/imports/1.csv", "files/photos/1.jpg",
    }  # fmt: skip
    assert not [
        word for word in (b"of this farm", b"COLDROOM_PORT", b"never leaves") if word in texts
    ]


def test_an_export_goes_into_an_empty_installation_alone(exported):
    people = Person.objects.count()
    with pytest.raises(BadExport, match="a farm here already"):
        import_all(connection, exported)
    assert Person.objects.count() == people


def changed(exported, file, **parts):
    """Write the export again with some of its tables changed by a function."""
    with zipfile.ZipFile(exported) as packed, zipfile.ZipFile(file, "w") as out:
        for name in packed.namelist():
            change = parts.get(name.removeprefix("tables/inventory_").removesuffix(".csv"))
            content = packed.read(name).decode()
            if change != "none":
                out.writestr(name, change(content) if change else content)
    return file


def test_what_is_not_right_is_not_taken_up_at_all(exported, tmp_path):
    wrong = {
        "the table inventory_farm is in one": {"farm": "none"},
        "The columns of inventory_farm": {"farm": lambda text: text.replace("name", "nom", 1)},
        "A row of inventory_temperaturefile": {"temperaturefile": lambda text: text + "x\r\n"},
        "no whole export": {"intake": lambda text: text.splitlines()[0]},
        "quantity is 11": {"lot": lambda text: text.replace(",11.500,", ",11.000,")},
    }
    empty_all()
    for number, (sentence, changes) in enumerate(wrong.items()):
        file = changed(exported, tmp_path / f"{number}.zip", **changes)
        with pytest.raises(BadExport, match=sentence):
            import_all(connection, file)
        assert not Person.objects.exists()
        assert not Change.objects.exists()


def test_an_export_never_writes_over_a_file(exported, tmp_path):
    before = exported.read_bytes()
    with pytest.raises(FileExistsError, match="exists already"):
        export_all(connection, exported)
    assert exported.read_bytes() == before
    assert list(tmp_path.glob("*.part")) == []


@pytest.mark.django_db(transaction=True)
def test_an_export_is_of_one_moment_and_holds_nobody_up():
    builders.make_farm()

    def add():
        with closing(connection):
            builders.make_crew("Meanwhile")

    connection.close()  # as a command finds it
    with one_moment(connection):
        before = Person.objects.count()
        writer = threading.Thread(target=add, daemon=True)
        writer.start()
        writer.join(timeout=60)
        assert not writer.is_alive()
        assert Person.objects.count() == before
    assert Person.objects.count() == before + 1


# A farm that was stored, on SQLite, brought to today's tables and exported.
ON_SQLITE = """
import sqlite3, sys
from pathlib import Path
import django
django.setup()
from django.conf import settings as used
from django.core.management import call_command
from django.db import connection
stored = Path(sys.argv[1])
call_command("migrate", "inventory", stored.stem, verbosity=0)
connection.close()
with sqlite3.connect(used.DATA_DIR / "coldroom.sqlite3") as opened:
    opened.executescript(stored.read_text())
call_command("migrate", verbosity=0)
from inventory.ledger.weeks import forget_losses
forget_losses()  # as each start does, and each import
call_command("export_all", sys.argv[2])
"""


@pytest.mark.skipif(connection.vendor != "postgresql", reason="from SQLite to PostgreSQL")
def test_a_farm_moves_from_sqlite_to_postgresql(db, data, tmp_path):
    file = sorted(Path(stored.__file__).parent.glob("*.sql"))[-1]
    subprocess.run(
        [sys.executable, "-c", ON_SQLITE, str(file), str(tmp_path / "all.zip")],
        cwd=ROOT,
        env=os.environ
        | {
            "COLDROOM_DATA": str(tmp_path / "there"),
            "DATABASE_URL": "",
            "DJANGO_SETTINGS_MODULE": "coldroom.settings",
        },
        check=True,
    )
    empty_all()
    rows = import_all(connection, tmp_path / "all.zip")
    assert rows["inventory_lot"] > 10
    export_all(connection, tmp_path / "again.zip")
    assert tables_in(tmp_path / "again.zip") == tables_in(tmp_path / "all.zip")
    builders.make_crew("Newcomer")
