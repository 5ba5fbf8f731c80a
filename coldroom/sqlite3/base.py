"""Who waits to write goes on as soon as nobody else writes."""

import sqlite3
import time

from django.db import OperationalError
from django.db.backends.sqlite3 import base

LOOK_AGAIN_S = 0.002


class DatabaseWrapper(base.DatabaseWrapper):
    """Django's, which looks every two milliseconds whether it may begin a transaction.

    SQLite by itself looks ever more seldom, at last ten times a second: a scan that met another
    would go on long after that one was done.
    """

    def _start_transaction_under_autocommit(self) -> None:
        """Begin a transaction. Raises OperationalError if others write for the whole `timeout`."""
        wait_s = self.settings_dict["OPTIONS"]["timeout"]
        until = time.monotonic() + wait_s
        self._let_sqlite_wait(0)
        try:
            while True:
                try:
                    return super()._start_transaction_under_autocommit()
                except OperationalError as error:
                    if not _is_busy(error) or time.monotonic() >= until:
                        raise
                time.sleep(LOOK_AGAIN_S)
        finally:
            self._let_sqlite_wait(wait_s)

    def _let_sqlite_wait(self, seconds: float) -> None:
        self.ensure_connection()
        self.connection.execute(f"PRAGMA busy_timeout = {seconds * 1000:.0f}")


def _is_busy(error: OperationalError) -> bool:
    # The low byte; above it stands what one is busy with, as with a log after a crash.
    return getattr(error.__cause__, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_BUSY
