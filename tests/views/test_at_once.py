"""A form sent several times in the same moment, as a shaking thumb and a slow network do."""

import threading
from functools import partial
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from inventory.actions.quality import discard, end_discard_round
from inventory.models import (
    Action,
    Crop,
    FinalAction,
    Order,
    Outlet,
    Person,
    Position,
    Room,
    Sensor,
    Tag,
)
from inventory.views import entry
from tests import builders
from tests.actions.test_two_people import at_once
from tests.serving import LIMIT_S

pytestmark = pytest.mark.django_db(transaction=True)
TAPS = 3


def new_order() -> dict:
    today = timezone.localdate().isoformat()
    wanted = {"other_crop": builders.crop("apple").pk, "other_quantity": "2", "other_unit": "kg"}
    return {"new_outlet": "Kitchen Ilex", "due": today} | wanted


BEN = {"name": "Ben", "role": "crew", "language": "en"}
CROP = {"name": "Cavolo", "reference_key": "kale", "unit": "kg", "sell_first_days": "2"}
BUYER = {"name": "Kitchen Ash", "kind": "kitchen"}
ROOM = {"name": "Shed", "target_c": "10", "racks": "1", "shelves": "2", "capacity": "5"}
# Where it is sent, what is typed, what it makes, and how many of it.
FORMS = [
    ("/settings/people/new", BEN, Person, 1),
    ("/settings/crops/new", CROP, Crop, 1),
    ("/settings/outlets/new", BUYER, Outlet, 1),
    ("/settings/rooms/new", ROOM, Room, 1),
    ("/settings/places/new", {"rack": "Z", "shelf": "1", "capacity": "5"}, Position, 1),
    ("/settings/sensors", {"name": "P1"}, Sensor, 1),
    ("/settings/tags", {"count": "10"}, Tag, 10),
    ("/pull", {}, Order, 1),
]


@pytest.fixture
def clients():
    builders.make_farm()
    made = [Client() for _ in range(TAPS)]
    for client in made:
        builders.sign_in(client)
    return made


@pytest.fixture
def together(monkeypatch):
    """Requests that have all looked whether they were sent before, before any of them writes."""
    barrier, look, seen = threading.Barrier(TAPS), entry.answered, threading.local()

    def answered(request):
        found = look(request)
        if not getattr(seen, "once", False):
            seen.once = True
            barrier.wait(timeout=LIMIT_S)
        return found

    monkeypatch.setattr(entry, "answered", answered)


def at_once_from(clients: list[Client], path: str, *sent: dict) -> list:
    """Return what each client is answered; they send one and the same, or one each."""
    ways = zip(clients, sent * (TAPS // len(sent)), strict=True)
    return at_once(*(partial(client.post, path, typed) for client, typed in ways))


@pytest.mark.usefixtures("together")
def test_each_form_counts_once_and_answers_alike(clients):
    room = Room.objects.get().pk
    for path, typed, model, more in FORMS:
        sent = {"entry": str(uuid4()), "room": room} | (typed or new_order())
        before = model.objects.count()
        answers = at_once_from(clients, path, sent)
        told = {(a.status_code, a.headers.get("Location"), token(a)) for a in answers}
        assert len(told) == 1, (path, told)
        assert told.pop()[0] < 400, path
        assert model.objects.count() == before + more, path
        assert Action.objects.filter(pk=sent["entry"]).exists(), path


def token(answer) -> str:
    """The token of a sensor that a page shows, else nothing."""
    return (answer.context or {}).get("token", "")


@pytest.mark.usefixtures("together")
def test_a_name_several_give_in_one_moment_is_taken_for_all_but_one(clients):
    sent = (BEN | {"entry": str(uuid4())} for _ in clients)
    answers = at_once_from(clients, "/settings/people/new", *sent)
    assert sorted(answer.status_code for answer in answers) == [302, 422, 422]


def test_the_end_of_a_round_of_throwing_out():
    builders.make_farm()
    for lot in builders.make_lots(12, 12):
        discard(builders.act(), lot=lot.pk, portion="all", reason="wilted", destination="compost")
    ending = [lambda: end_discard_round(builders.act())] * TAPS
    assert all(isinstance(answer, int) for answer in at_once(*ending))
    assert FinalAction.objects.count() == 2
