"""Every address and every form, sent with something odd in it: no fault, nothing half-written.

.venv/bin/python -m tests.bench.bench_fuzz      the same with 2,000 requests
"""

import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from uuid import UUID

from django.db import connection, transaction
from django.test import Client
from django.urls import resolve, reverse
from hypothesis import Phase, given, settings

from inventory.lives import logs
from inventory.models import Action
from inventory.upkeep.refold import refold_ledger
from inventory.views.crates import DOINGS
from inventory.views.owner import LISTS
from inventory.views.scan import MODES
from inventory.views.several import TASKS
from tests import addresses
from tests.fuzz import Sent, forms_on, odd_requests

REQUESTS = int(os.environ.get("COLDROOM_FUZZ", 200))
ID = str(UUID(int=1))
# What a refusal may write: that a secret was guessed, and who is there.
OF_SIGNING_IN = {"inventory_guess", "django_session", "inventory_person", "inventory_phone"}
LEDGER = {"inventory_lot", "inventory_movement", "inventory_weeksum"}
# What stands in an address and is no row: what is done, in which way, to which list.
WORDS = {*DOINGS, *TASKS, *MODES, *LISTS, "harvest", "delivery"}
_WRITES = re.compile(r'^(?:INSERT INTO|UPDATE|DELETE FROM) "(\w+)"')


def test_every_address_and_form_bears_what_is_odd(busy, posts):
    client, pages = busy
    sound = everything_that_can_be_sent(client, pages, posts)
    for turn, one in enumerate(sound):
        more = REQUESTS * (turn + 1) // len(sound) - REQUESTS * turn // len(sound)
        _fuzz(client, one, turn, max(1, more))


def _fuzz(client: Client, sound: Sent, turn: int, requests: int) -> None:
    @settings(max_examples=requests, phases=[Phase.generate, Phase.shrink], database=None)
    @given(odd_requests(sound, turn))
    def is_borne(sent):
        with as_before() as written:
            answer = sent.by(another(client))
            answer.getvalue()
            assert answer.status_code < 500
            if answer.status_code >= 400:
                assert set(written) <= OF_SIGNING_IN, answer.status_code
            elif set(written) - OF_SIGNING_IN:
                assert set(written) != {"inventory_action"} or _told_what_stood()
                assert not LEDGER & set(written) or refold_ledger().differences == []

    is_borne()


def _told_what_stood() -> bool:
    """Return whether what was set or freed was so already; any other action has entries."""
    return Action.objects.latest("recorded_at").kind in (Action.Kind.CHANGE, Action.Kind.TAG)


def everything_that_can_be_sent(client: Client, pages: dict, posts: dict) -> list[Sent]:
    """Every address, asked for and sent to, and every form that stands on any of the pages."""
    opened = [reverse(name, args=args) for name, each in pages.items() for args in _telling(each)]
    opened += [reverse(name) for name in sorted(addresses.OPEN - {"delivery"})]
    opened.append(reverse("delivery", args=["x"]))
    found = {resolve(path).url_name: Sent("GET", path) for path in opened}
    for name, args in posts.items():
        found[name] = Sent("POST", reverse(name, args=args), (("entry", ID),))
    for path in opened:
        answer = client.get(path)
        if "html" in answer.headers.get("Content-Type", ""):
            for form in forms_on(answer.content.decode(), path):
                found.setdefault(_kind_of(form), form)
    return list(found.values())


def _telling(each: list[tuple]) -> list[tuple]:
    """Return what to fill an address with: one of each word in it, whatever row it is about."""
    words = {_words(args): args for args in reversed(each)}
    return list(words.values())


def _words(args: tuple) -> tuple:
    return tuple(arg for arg in args if arg in WORDS)


def _kind_of(form: Sent) -> tuple:
    """Return what makes two forms the same, though one is about this crate and one about that."""
    args = tuple(resolve(form.path).kwargs.values())
    return form.method, resolve(form.path).url_name, _words(args), *sorted(dict(form.fields))


def another(client: Client) -> Client:
    """Return a client that is signed in as that one, whatever becomes of it."""
    made = Client()
    made.cookies.load(client.cookies.output(header="", sep=";"))
    return made


@contextmanager
def as_before() -> Iterator[list[str]]:
    """Undo what is done inside; the list tells which tables were written for good, in order."""
    before, told = transaction.savepoint(), Told()
    try:
        with connection.execute_wrapper(told):
            yield told.written
    finally:
        transaction.savepoint_rollback(before)
        logs.forget()


class Told:
    """Hears what is asked of the database and keeps what was written and not rolled back."""

    def __init__(self) -> None:
        self.written: list[str] = []
        self._savepoints: dict[str, int] = {}

    def __call__(self, execute, sql, params, many, context):
        done = execute(sql, params, many, context)
        savepoint = sql.split()[-1]
        if sql.startswith("SAVEPOINT"):
            self._savepoints[savepoint] = len(self.written)
        elif sql.startswith("ROLLBACK TO"):
            del self.written[self._savepoints[savepoint] :]
        elif wrote := _WRITES.match(sql):
            self.written.append(wrote[1])
        return done
