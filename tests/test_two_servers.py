"""Two server processes on one database: one of two wins, and each sees what the other wrote."""

import multiprocessing
import os
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection

from inventory.actions.temperatures import record_readings
from inventory.lives import logs
from inventory.models import Action, Movement, Room
from inventory.upkeep.refold import refold_ledger
from tests import builders
from tests.second_server import Server, serve
from tests.serving import LIMIT_S, database_address

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(connection.vendor != "postgresql", reason="several servers: PostgreSQL"),
]
ROUNDS = 6


class Other:
    """The other server process: asked at once, answered later."""

    def __init__(self, pipe) -> None:
        self._pipe = pipe

    def ask(self, name: str, *given) -> None:
        self._pipe.send((name, *given))

    def answer(self):
        assert self._pipe.poll(timeout=LIMIT_S)
        return self._pipe.recv()

    def __call__(self, name: str, *given):
        self.ask(name, *given)
        return self.answer()


@pytest.fixture(scope="module")
def second(django_db_setup):
    """The other process, on the tests' database; it is signed in nowhere yet."""
    ours, theirs = multiprocessing.Pipe()
    process = multiprocessing.get_context("spawn").Process(target=serve, args=(theirs,))
    with pytest.MonkeyPatch.context() as environment:
        environment.setenv("DATABASE_URL", database_address())
        # The folder of its settings, with the key that signs the cookies.
        environment.setenv("COLDROOM_BENCH", os.environ["COLDROOM_DATA"])
        process.start()
    theirs.close()  # so that its end is heard
    yield Other(ours)
    ours.send(None)
    process.join(timeout=LIMIT_S)
    ours.close()
    assert process.exitcode == 0


@pytest.fixture
def cookies(client):
    builders.make_farm()
    builders.sign_in(client)
    return client.cookies.output(header="", sep=";")


@pytest.fixture
def here(cookies):
    server = Server()
    server.sign_in(cookies)
    return server


@pytest.fixture
def other(second, cookies):
    second("sign_in", cookies)
    return second


def test_of_two_who_take_a_crate_at_both_servers_one_wins(here, other):
    other("get", "/")  # it is awake
    for lot in builders.make_lots(*[12] * ROUNDS, at=builders.timezone_now()):
        path, typed = f"/L/{lot.pk}/take-out", {"share": "all", "purpose": "own use"}
        other.ask("post", path, typed | {"entry": str(uuid4())})
        mine = here.post(path, typed | {"entry": str(uuid4())})
        won, lost = sorted([mine, other.answer()])
        assert (won, lost) in {(302, 409), (302, 422)}
        assert lot.movements.filter(kind=Movement.Kind.OUT).count() == 1
    assert refold_ledger().differences == []


def test_one_form_at_both_servers_counts_once(here, other):
    lot = builders.make_lot(at=builders.timezone_now())
    other("get", "/")
    for number in range(ROUNDS):
        path, key = f"/L/{lot.pk}/count", str(uuid4())
        typed = {"entry": key, "quantity": str(20 + number), "reason": "miscounted"}
        other.ask("post", path, typed)
        assert (here.post(path, typed), other.answer()) == (302, 302)
        assert Action.objects.get(pk=key).movements.count() == 1
        assert builders.fresh(lot).quantity == 20 + number
    assert refold_ledger().differences == []


def test_crates_age_at_once_by_what_the_other_server_heard_of_a_room(here, other):
    now, room = builders.timezone_now(), Room.objects.get()
    lot = builders.make_lot(at=now - timedelta(days=4))
    assert here.used(lot.pk, now) == other("used", lot.pk, now)  # both have the room's log now
    warm = [(now - timedelta(hours=hours), 9.5) for hours in range(1, 60)]
    record_readings(room, warm, kind="sensor", at=now, sensor="P1")
    aged = here.used(lot.pk, now)
    assert other("used", lot.pk, now) == aged
    assert "9.5" in other("get", f"/rooms/{room.pk}")
    typed = {"temperature": "21.5", "entry": str(uuid4())}
    assert other("post", f"/rooms/{room.pk}", typed) == 302
    later = builders.timezone_now() + timedelta(hours=3)
    seen = here.used(lot.pk, later)
    assert "21.5" in here.get(f"/rooms/{room.pk}")
    logs.forget()
    assert (other("used", lot.pk, later), here.used(lot.pk, later)) == (seen, seen)
    assert seen > aged
