"""Before an update: what the program may change, and what it must leave alone."""

import pytest
from django.apps import apps
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from inventory.upkeep.tables import CannotUpdate, first_missing, prepare_update
from tests import builders


def prepare(folder, **options):
    return prepare_update(connection, folder / "copies", builders.NOW, **options)


def run_sql(statement: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement)


def test_nothing_is_copied_while_no_migration_waits(farm, tmp_path):
    assert prepare(tmp_path) is None
    assert not list(tmp_path.iterdir())


def test_a_farm_is_copied_before_a_migration(transactional_db, later, tmp_path):
    builders.make_farm()
    copy = prepare(tmp_path)
    assert copy.stem.endswith("-before-9999_later")
    assert list((tmp_path / "copies").iterdir()) == [copy]


def test_where_there_is_no_farm_yet_nothing_is_copied(db, later, tmp_path):
    assert prepare(tmp_path) is None
    assert not list(tmp_path.iterdir())


def test_new_tables_are_made_where_there_are_none(db, tmp_path, monkeypatch):
    monkeypatch.setattr(connection.introspection, "table_names", lambda *_: [])
    monkeypatch.setattr(MigrationRecorder, "applied_migrations", lambda _: {})
    assert prepare(tmp_path) is None
    assert not list(tmp_path.iterdir())


def test_a_farm_is_not_copied_where_that_is_not_wanted(farm, later, tmp_path):
    assert prepare(tmp_path, without_copy=True) is None
    assert not list(tmp_path.iterdir())


def test_without_a_copy_there_is_no_update(transactional_db, later, tmp_path):
    builders.make_farm()
    (tmp_path / "copies").write_text("in the way", encoding="utf-8")
    with pytest.raises(CannotUpdate, match=r"could not be copied.* --without-copy"):
        prepare(tmp_path)


def test_tables_newer_than_the_program_are_left_alone(farm, tmp_path):
    MigrationRecorder(connection).record_applied("inventory", "9998_of_the_future")
    with pytest.raises(CannotUpdate, match=r"newer than this program.* 9998_of_the_future\."):
        prepare(tmp_path)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("waiting", [False, True], ids=["up to date", "before a migration"])
@pytest.mark.parametrize(
    ("statement", "named"),
    [
        ("ALTER TABLE inventory_guess RENAME COLUMN last_at TO first_at",
         "the column last_at of inventory_guess"),
        ("ALTER TABLE inventory_guess RENAME TO inventory_guesses", "the table inventory_guess"),
    ],
    ids=["column", "table"],
)  # fmt: skip
def test_tables_of_an_unknown_state_are_left_alone(
    farm, request, tmp_path, statement, named, waiting
):
    """Rolled back with the test: both databases change tables within a transaction."""
    if waiting:
        request.getfixturevalue("later")
    run_sql(statement)
    with pytest.raises(CannotUpdate, match=f"{named} is missing"):
        prepare(tmp_path)
    assert not list(tmp_path.iterdir())


def test_the_tables_of_this_program_lack_nothing(db):
    assert first_missing(connection, apps) is None
