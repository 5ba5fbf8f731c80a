"""Phones of the load bench: each signed in, with a connection it keeps, and what they saw."""

import random
import re
import time
from collections import defaultdict
from collections.abc import Callable
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException
from itertools import count
from threading import Event
from urllib.parse import urlencode
from uuid import UUID

from django.test import Client

from inventory.models import Person
from tests import builders
from tests.serving import LIMIT_S

FORM = "application/x-www-form-urlencoded"
COLUMNS = b"time=0%2B0&figure=1&unit=C"
FILES_APART_S = 1
LOGGER = "bench logger"
# How long the progress page waits before it asks again.
_PAUSE = re.compile(rb"delay:(\d+)(ms|s)")
GOES_ON, LOADED = b"<progress", b'class="done"'
_WRITTEN = re.compile(rb'data-result="(?:done|mind)"')


class WrongAnswer(Exception):
    """An answer that is not what the same tap gets on a quiet farm."""


@dataclass
class Seen:
    """What all phones saw together.

    waits: by what was waited for, beginning after `since` on the clock [ms]; acknowledged: ids of
    scans that were answered as done; stands: where each crate was put by its last scan, unless
    that one had no answer; files: how long each whole file took [s].
    """

    since: float
    waits: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    wrong: list[str] = field(default_factory=list)
    acknowledged: list[UUID] = field(default_factory=list)
    stands: dict[str, str] = field(default_factory=dict)
    files: list[float] = field(default_factory=list)

    @contextmanager
    def waiting_for(self, what: str):
        """Time an answer, and note instead what went wrong with it."""
        start = time.perf_counter()
        try:
            yield
        except (OSError, HTTPException, WrongAnswer) as error:
            self.wrong.append(f"{what}: {error!r}")
        else:
            if start >= self.since:
                self.waits[what].append((time.perf_counter() - start) * 1000)


class Phone:
    """One that is signed in and keeps its cookies and its connection, as a browser does."""

    def __init__(self, port: int, person: Person):
        client = Client()
        builders.sign_in(client, person)
        self._cookies = client.cookies
        self._connection = HTTPConnection("127.0.0.1", port, timeout=LIMIT_S)

    def get(self, path: str) -> bytes:
        return self._ask("GET", path, None, {}, 200)

    def post(self, path: str, body: bytes) -> bytes:
        """Send what htmx sends, and get a part of a page."""
        return self._ask("POST", path, body, self._token() | {"HX-Request": "true"}, 200)

    def submit(self, path: str, body: bytes, kind: str = FORM) -> None:
        """Send a whole form, which leads on to another page."""
        self._ask("POST", path, body, self._token() | {"Content-Type": kind}, 302)

    def hang_up(self) -> None:
        """Let the next request connect anew: the server ends a connection that lay idle."""
        self._connection.close()

    def load(self, path: str, entry: UUID, sensor: str, data: bytes) -> None:
        """Upload a file as its page does: the form's fields, then the file."""
        part = b'--edge\r\nContent-Disposition: form-data; name="%b"%b\r\n\r\n%b\r\n'
        body = part % (b"entry", b"", str(entry).encode())
        body += part % (b"sensor", b"", sensor.encode())
        body += part % (b"file", b'; filename="log.csv"\r\nContent-Type: text/csv', data)
        self.submit(path, body + b"--edge--\r\n", "multipart/form-data; boundary=edge")

    def _token(self) -> dict[str, str]:
        return {"X-CSRFToken": self._cookies["csrftoken"].value, "Content-Type": FORM}

    def _ask(
        self, method: str, path: str, body: bytes | None, headers: dict[str, str], wanted: int
    ) -> bytes:
        cookies = "; ".join(f"{name}={one.value}" for name, one in self._cookies.items())
        try:
            self._connection.request(method, path, body, headers | {"Cookie": cookies})
            answer = self._connection.getresponse()
            said = answer.read()
        except (OSError, HTTPException):
            self._connection.close()
            raise
        for cookie in answer.headers.get_all("Set-Cookie", []):
            self._cookies.load(cookie)
        if answer.status != wanted:
            raise WrongAnswer(f"{answer.status} {path}")
        return said


class Hand:
    """Somebody with a phone who carries some crates back and forth between two places."""

    def __init__(self, phone: Phone, crates: list[str], places: tuple[str, str], number: int):
        self.phone, self.crates, self.places = phone, crates, places
        self.chance = random.Random(f"hand {number}")
        self.scans = 0

    def scan(self, seen: Seen) -> None:
        """Put the next crate where it does not stand; each time round that is the other place."""
        turn, at = divmod(self.scans, len(self.crates))
        code, place = self.crates[at], self.places[turn % 2]
        entry = UUID(int=self.chance.getrandbits(128), version=4)
        self.scans += 1
        seen.stands.pop(code, None)
        with seen.waiting_for("scan"):
            form = urlencode({"entry": entry, "text": code, "here": place}).encode()
            said = self.phone.post("/scan/put-away", form)
            if not _WRITTEN.search(said):
                raise WrongAnswer(f"{code} was not put down: {said[-300:]!r}")
            seen.acknowledged.append(entry)
            seen.stands[code] = place

    def scan_on(self, seen: Seen, stop: Event, every_s: tuple[float, float]) -> None:
        """Scan at these gaps, counted from tap to tap; at once where the answer took longer."""
        self.phone.hang_up()
        due = time.perf_counter() + self.chance.uniform(0, every_s[1])
        while not stop.wait(max(due - time.perf_counter(), 0)):
            due = time.perf_counter() + self.chance.uniform(*every_s)
            self.scan(seen)


def look_on(phone: Phone, path: str, pause_s: float, seen: Seen, stop: Event) -> None:
    """Open a page again and again."""
    while not stop.wait(pause_s):
        with seen.waiting_for(path):
            phone.get(path)


def load_on(phone: Phone, room: int, file: Callable[[int], bytes], seen: Seen, stop: Event) -> None:
    """Load file after file through the page."""
    for number in count():
        if stop.wait(FILES_APART_S):
            return
        begun = time.perf_counter()
        said = load_file(phone, room, number, file(number), seen, stop)
        if LOADED in said:
            seen.files.append(time.perf_counter() - begun)


def load_file(phone: Phone, room: int, number: int, data: bytes, seen: Seen, stop: Event) -> bytes:
    """Upload a file, confirm its columns, and ask on as its page does; return what is said."""
    entry, said = UUID(int=number + 1, version=4), b""
    with seen.waiting_for("upload"):
        phone.load(f"/rooms/{room}/file", entry, f"{LOGGER} {number}", data)
        phone.submit(f"/file/{entry}", COLUMNS)
        said = phone.get(f"/file/{entry}")
    while GOES_ON in said and not stop.wait(pause_s(said)):
        with seen.waiting_for("how far a file is"):
            said = phone.post(f"/file/{entry}/take-up", b"")
    return said


def pause_s(page: bytes) -> float:
    count, unit = _PAUSE.search(page).groups()
    return int(count) / (1000 if unit == b"ms" else 1)
