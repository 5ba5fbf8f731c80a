"""A server killed while five people write: what was acknowledged is there, and once.

.venv/bin/python -m tests.bench.bench_kills      the same with 20 kills
"""

import http.client
import os
import random
import shutil
import signal
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager
from decimal import Decimal
from pathlib import Path
from urllib.parse import urlencode
from uuid import uuid4

import pytest
from django.conf import settings
from django.db import connection
from django.test import Client

from inventory.actions.setup import Shelving
from inventory.models import Action, Movement, Position
from inventory.upkeep.refold import refold_ledger
from tests import builders
from tests.serving import LIMIT_S, database_address, started

KILLS = int(os.environ.get("COLDROOM_KILLS", 3))
WRITERS = 5
# How many doings come between two kills.
BETWEEN = (10, 40)
TOKEN = "t" * 32

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="workers are found in /proc"),
]


@pytest.fixture
def cookies(tmp_path):
    """A data folder for a farm of one crate a writer; the cookies of a phone signed in there."""
    builders.make_farm(rooms=[Shelving("Cold room", Decimal(2), racks=2, shelves=3, capacity=50)])
    client = Client()
    builders.sign_in(client)
    builders.make_lots(*[12] * WRITERS, at=builders.timezone_now())
    (tmp_path / "data").mkdir(mode=0o700)
    shutil.copy(settings.DATA_DIR / "secret-key", tmp_path / "data")
    if connection.vendor == "sqlite":
        with closing(sqlite3.connect(tmp_path / "data" / "coldroom.sqlite3")) as there:
            connection.connection.backup(there)
    signed_in = {name: morsel.value for name, morsel in client.cookies.items()}
    return signed_in | {"csrftoken": TOKEN}


class Writers:
    """Five people who go on writing, and send again what got no answer, as the pages do.

    port: where the server answers now. told: (the doing's id, the status it was answered with).
    """

    def __init__(self, cookies: dict[str, str]) -> None:
        self.port = 0
        self.told: list[tuple[str, int]] = []
        self._cookies = "; ".join(f"{name}={value}" for name, value in cookies.items())
        self._places = list(Position.objects.values_list("pk", flat=True))
        self._changed = threading.Condition()
        self._stopped = threading.Event()

    @contextmanager
    def writing(self, codes: list[str]) -> Iterator[None]:
        threads = [threading.Thread(target=self._write, args=[code]) for code in codes]
        for thread in threads:
            thread.start()
        try:
            yield
        finally:
            self._stopped.set()
            for thread in threads:
                thread.join(timeout=LIMIT_S)

    def wait_for(self, more: int) -> None:
        """Return when so many more doings were answered."""
        with self._changed:
            enough = len(self.told) + more
            assert self._changed.wait_for(lambda: len(self.told) >= enough, timeout=LIMIT_S)

    def _write(self, code: str) -> None:
        step = 1  # in the place of step 0 it stands already
        while not self._stopped.is_set():
            path, typed = self._doing(code, step)
            key = str(uuid4())
            status = self._answer(path, typed | {"entry": key})
            with self._changed:
                self.told.append((key, status))
                self._changed.notify_all()
            step += 1

    def _doing(self, code: str, step: int) -> tuple[str, dict[str, str]]:
        """A scan, a move, a count, in turn; each changes something."""
        place = self._places[step % len(self._places)]
        return (
            ("/scan/put-away", {"text": code, "here": place}),
            (f"/L/{code}/move", {"position": place}),
            (f"/L/{code}/count", {"quantity": str(20 + step), "reason": "miscounted"}),
        )[step % 3]

    def _answer(self, path: str, typed: dict[str, str]) -> int:
        """Return the status of a form that is sent until there is an answer; 0 if none came."""
        body = urlencode(typed | {"csrfmiddlewaretoken": TOKEN})
        headers = {"Cookie": self._cookies, "Content-Type": "application/x-www-form-urlencoded"}
        for _try in range(10 * LIMIT_S):
            with closing(http.client.HTTPConnection("127.0.0.1", self.port, LIMIT_S)) as phone:
                try:
                    phone.request("POST", path, body, headers)
                    answer = phone.getresponse()
                    answer.read()
                    return answer.status
                except (OSError, http.client.HTTPException):
                    self._stopped.wait(0.1)
        return 0


def _children(pid: int) -> list[int]:
    tasks = Path(f"/proc/{pid}/task").glob("*/children")
    return [int(child) for task in tasks for child in task.read_text().split()]


def _command(pid: int) -> bytes:
    return Path(f"/proc/{pid}/cmdline").read_bytes()


def kill_worker(pid: int) -> None:
    """Kill what answers: the child that was forked from the server itself."""
    for child in _children(pid):
        if _command(child) == _command(pid):
            os.kill(child, signal.SIGKILL)


def kill_all(pid: int) -> None:
    below = _children(pid)
    os.kill(pid, signal.SIGKILL)
    for child in below:
        kill_all(child)


def test_what_was_acknowledged_before_a_kill_is_there_once(cookies, tmp_path):
    writers, chance = Writers(cookies), random.Random()
    # A worker that dies twice in a few seconds ends the server: that is for whoever started it.
    kills: list[Callable[[int], None]] = [kill_worker, kill_all] * KILLS
    codes = list(builders.Lot.objects.values_list("pk", flat=True))
    # On PostgreSQL the tests' own database is served, on SQLite a copy of it.
    database = "" if connection.vendor == "sqlite" else database_address()
    with ExitStack() as servers:
        served = servers.enter_context(started(tmp_path, database=database))
        writers.port = served.port
        with writers.writing(codes):
            for kill in kills[:KILLS]:
                writers.wait_for(chance.randint(*BETWEEN))
                kill(served.process.pid)
                if kill is kill_all:
                    served = servers.enter_context(started(tmp_path, database=database))
                    writers.port = served.port
            writers.wait_for(BETWEEN[0])
    assert {status for _key, status in writers.told} <= {200, 302}
    if connection.vendor == "sqlite":
        take_over(tmp_path / "data" / "coldroom.sqlite3")
    keys = [key for key, _status in writers.told]
    entries = Movement.objects.filter(action__in=keys).values_list("action", flat=True)
    assert sorted(map(str, entries)) == sorted(keys)
    assert Action.objects.count() == len(keys) + 1  # and that they were brought in
    assert refold_ledger().differences == []
    print(f"{KILLS} kills, {len(keys)} doings acknowledged, none lost")


def take_over(file: Path) -> None:
    """Put what a server left in the place of the test's own database, to be looked at."""
    connection.ensure_connection()
    with closing(sqlite3.connect(file)) as there:
        assert there.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        there.backup(connection.connection)
