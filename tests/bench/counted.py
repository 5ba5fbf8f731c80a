"""What SQLite did for a page."""

from unittest import mock

from django.db import connection
from django.db.backends.sqlite3.base import SQLiteCursorWrapper


class Counted:
    """What the database did: queries, rows read, and steps of its machine, counted by so many."""

    def __init__(self, every: int = 1000) -> None:
        self.queries = self.rows = self.steps = 0
        self._every = every

    def __enter__(self) -> "Counted":
        connection.ensure_connection()
        connection.connection.set_progress_handler(self._step, self._every)
        self._wrapped = connection.execute_wrapper(self._query)
        self._wrapped.__enter__()
        self._patches = [
            mock.patch.object(SQLiteCursorWrapper, name, self._fetching(name), create=True)
            for name in ("fetchone", "fetchmany", "fetchall", "__next__")
        ]
        for patch in self._patches:
            patch.start()
        return self

    def __exit__(self, *_error: object) -> None:
        for patch in self._patches:
            patch.stop()
        self._wrapped.__exit__(None, None, None)
        connection.connection.set_progress_handler(None, self._every)

    def _step(self) -> int:
        self.steps += 1
        return 0

    def _query(self, execute, *args):
        self.queries += 1
        return execute(*args)

    def _fetching(self, name: str):
        fetch = getattr(SQLiteCursorWrapper, name)

        def fetched(cursor, *args):
            found = fetch(cursor, *args)
            self.rows += len(found) if isinstance(found, list) else found is not None
            return found

        return fetched
