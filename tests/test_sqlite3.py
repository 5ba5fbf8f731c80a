"""Who waits for SQLite's one writer: how it looks again, how long, and for what it never waits."""

import sqlite3
from contextlib import closing, contextmanager

import pytest
from django.db import OperationalError
from django.db.utils import ConnectionHandler

from coldroom.sqlite3 import base

WAIT_S = 20


@pytest.fixture
def file(tmp_path):
    return tmp_path / "farm.sqlite3"


@pytest.fixture
def waiter(file, django_db_blocker):
    database = {
        "ENGINE": "coldroom.sqlite3",
        "NAME": file,
        "OPTIONS": {"transaction_mode": "IMMEDIATE", "timeout": WAIT_S},
    }
    opened = closing(ConnectionHandler({"default": database})["default"])
    with django_db_blocker.unblock(), opened as connection:  # a database of its own
        yield connection


@pytest.fixture
def writer(file):
    with closing(sqlite3.connect(file, timeout=0, isolation_level=None)) as connection:
        connection.execute("BEGIN IMMEDIATE")
        yield connection


@pytest.fixture
def looks(monkeypatch):
    """Let time pass at once; give what to do after each look, and note how long each pause was."""

    class Looks(list):
        at_each = staticmethod(lambda: None)

    def pause(seconds):
        noted.append(seconds)
        noted.at_each()

    noted = Looks()
    monkeypatch.setattr(base.time, "monotonic", lambda: sum(noted))
    monkeypatch.setattr(base.time, "sleep", pause)
    return noted


def begin(connection) -> None:
    """Begin a transaction as Django's atomic does."""
    connection.set_autocommit(False, force_begin_transaction_with_broken_autocommit=True)


def sqlites_own_wait_ms(connection) -> int:
    with connection.cursor() as cursor:
        return cursor.execute("PRAGMA busy_timeout").fetchone()[0]


@contextmanager
def said(words: str):
    with pytest.raises(OperationalError, match=words):
        yield


def test_it_goes_on_at_the_first_look_after_the_writer_has_ended(waiter, writer, looks):
    looks.at_each = lambda: len(looks) == 40 and writer.execute("COMMIT")
    begin(waiter)
    assert looks == [base.LOOK_AGAIN_S] * 40
    with pytest.raises(sqlite3.OperationalError, match="locked"):
        writer.execute("BEGIN IMMEDIATE")
    waiter.rollback()


def test_sqlite_itself_does_not_wait_between_two_looks_but_does_for_the_rest(waiter, writer, looks):
    waits = []

    def look():
        waits.append(sqlites_own_wait_ms(waiter))
        writer.execute("COMMIT")

    looks.at_each = look
    begin(waiter)
    assert waits == [0]
    assert sqlites_own_wait_ms(waiter) == WAIT_S * 1000
    waiter.rollback()


def test_after_the_whole_time_it_is_said_and_nothing_is_begun(waiter, writer, looks):
    with said("database is locked"):
        begin(waiter)
    assert sum(looks) == pytest.approx(WAIT_S, abs=base.LOOK_AGAIN_S)
    assert sqlites_own_wait_ms(waiter) == WAIT_S * 1000
    writer.execute("COMMIT")
    looks.clear()
    begin(waiter)
    assert looks == []
    waiter.rollback()


def test_any_other_fault_is_said_at_once(waiter, looks):
    begin(waiter)
    waiter.autocommit = True  # what it began it does not know of
    with said("within a transaction"):
        begin(waiter)
    assert looks == []
    waiter.rollback()


@pytest.mark.parametrize(
    ("code", "waits"),
    [
        (sqlite3.SQLITE_BUSY, True),
        (sqlite3.SQLITE_BUSY_RECOVERY, True),
        (sqlite3.SQLITE_READONLY, False),
    ],
)
def test_whatever_one_is_busy_with_is_waited_for(code, waits):
    error = OperationalError()
    error.__cause__ = sqlite3.OperationalError()
    error.__cause__.sqlite_errorcode = code
    assert base._is_busy(error) == waits
