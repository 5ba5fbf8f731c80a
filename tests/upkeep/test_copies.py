"""A copy is the whole database, opens by itself, and is nobody else's to read."""

import os
import sqlite3
import subprocess
from contextlib import closing

import pytest
from django.db import connection, transaction

from inventory.models import Lot
from inventory.upkeep import copies
from inventory.upkeep.copies import NoCopy, copy_database
from tests import builders

on_sqlite = pytest.mark.skipif(connection.vendor != "sqlite", reason="on SQLite")
on_postgresql = pytest.mark.skipif(connection.vendor != "postgresql", reason="on PostgreSQL")


@pytest.fixture
def crates(transactional_db):
    builders.make_farm()
    return sorted((lot.pk, lot.quantity) for lot in builders.make_lots(12, "11.5", unit="kg"))


def mode(file) -> int:
    return file.stat().st_mode & 0o777


def test_a_copy_is_named_and_kept_for_its_owner_alone(crates, tmp_path):
    copy = copy_database(connection, tmp_path / "copies", builders.NOW, "before-it")
    assert copy.parent == tmp_path / "copies"
    assert copy.stem == "coldroom-20260610T140000Z-before-it"
    assert (mode(copy), mode(copy.parent)) == (0o600, 0o700)


@on_sqlite
def test_a_copy_of_sqlite_opens_and_holds_the_rows(crates, tmp_path):
    copy = copy_database(connection, tmp_path, builders.NOW, "x")
    Lot.objects.update(grade="seconds")
    with closing(sqlite3.connect(copy)) as opened:
        assert opened.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        rows = opened.execute("SELECT code_id, quantity, grade FROM inventory_lot").fetchall()
    assert sorted(rows) == [(code, float(quantity), "") for code, quantity in crates]


@on_postgresql
def test_a_copy_of_postgresql_can_be_read_in_again(crates, tmp_path):
    copy = copy_database(connection, tmp_path, builders.NOW, "x")
    Lot.objects.update(grade="seconds")
    name = f"{connection.settings_dict['NAME']}_again"
    there = connection.settings_dict | {"NAME": name}
    with connection.cursor() as cursor:
        cursor.execute(f'CREATE DATABASE "{name}" TEMPLATE template0')
    try:
        psql(there, "-f", str(copy))
        rows = psql(there, "-c", "SELECT code_id, quantity, grade FROM inventory_lot ORDER BY 1")
    finally:
        with connection.cursor() as cursor:
            cursor.execute(f'DROP DATABASE "{name}"')
    assert sorted(rows.splitlines()) == [f"{code}|{quantity:.3f}|" for code, quantity in crates]


def psql(settings: dict, *arguments: str) -> str:
    command, secrets = connection.client.settings_to_cmd_args_env(settings, [])
    options = ["--no-psqlrc", "--quiet", "--tuples-only", "--no-align", "-v", "ON_ERROR_STOP=1"]
    done = subprocess.run(
        [*command, *options, *arguments], env=os.environ | (secrets or {}), check=True,
        capture_output=True, text=True,
    )  # fmt: skip
    return done.stdout


@on_sqlite
def test_a_copy_that_fails_leaves_nothing_behind(crates, tmp_path):
    with transaction.atomic(), pytest.raises(NoCopy, match="VACUUM"):
        copy_database(connection, tmp_path, builders.NOW, "x")
    assert not list(tmp_path.iterdir())


@on_postgresql
def test_without_pg_dump_there_is_no_copy(crates, tmp_path, monkeypatch):
    monkeypatch.setattr(copies.shutil, "which", lambda program: None)
    with pytest.raises(NoCopy, match="pg_dump is not on this machine"):
        copy_database(connection, tmp_path, builders.NOW, "x")
    assert not list(tmp_path.iterdir())


@on_postgresql
def test_what_pg_dump_complains_of_is_told(crates, tmp_path, monkeypatch):
    refusing = tmp_path / "refusing"
    refusing.write_text("#!/bin/sh\necho no such luck >&2\nexit 1\n", encoding="utf-8")
    refusing.chmod(0o700)
    monkeypatch.setattr(copies.shutil, "which", lambda program: str(refusing))
    with pytest.raises(NoCopy, match="no such luck"):
        copy_database(connection, tmp_path / "copies", builders.NOW, "x")
    assert not list((tmp_path / "copies").iterdir())


def test_an_earlier_copy_is_never_written_over(crates, tmp_path):
    first = copy_database(connection, tmp_path, builders.NOW, "x")
    before = first.read_bytes()
    with pytest.raises(NoCopy, match="exists"):
        copy_database(connection, tmp_path, builders.NOW, "x")
    assert first.read_bytes() == before


def test_a_folder_that_cannot_be_made_is_no_copy(crates, tmp_path):
    (tmp_path / "copies").write_text("in the way", encoding="utf-8")
    with pytest.raises(NoCopy, match="copies"):
        copy_database(connection, tmp_path / "copies", builders.NOW, "x")
