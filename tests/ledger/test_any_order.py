"""Phones send in any order: crates are what the true order gives, or it is refused whole."""

import random
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from uuid import UUID

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.actions.movements import Settling, bring_back, close_market, move_lots, take_out
from inventory.actions.quality import discard, hold, inspect, release
from inventory.actions.reshape import count_lots, split_lot
from inventory.actions.undo import undo
from inventory.errors import Refused
from inventory.ledger.book import Act
from inventory.ledger.outings import out_of
from inventory.ledger.replay import contradictions
from inventory.models import Action, Code, Lot, Movement, Outlet, Parentage, Person, Position
from inventory.queries.week import read_week
from inventory.upkeep.refold import differences
from tests import builders
from tests.builders import NOW, act, at_market, make_lot
from tests.ledger.true_order import CAME_IN, DOINGS, Did, after, market_load, told

ROWS = (Movement, Action, Lot, Code, Parentage)
# When the phones find a signal again.
SIGNAL = 300


def minute(number: int):
    return NOW + timedelta(minutes=number)


class Program:
    """The program and, beside it, everything that ought to stand."""

    def __init__(self, codes: dict[str, str]):
        self.codes = codes
        # New codes are the same in every run, so that a failing one can be run again.
        self.choose = random.Random(7).choice
        self.people = list(Person.objects.order_by("name"))
        self.places = list(Position.objects.order_by("rack", "shelf"))
        self.now = SIGNAL
        self.standing: list[Did] = []
        self.sent: list[tuple[Did, UUID]] = []

    def act(self, told_at=None, person=None) -> Act:
        who = {"person": person, "as_owner": True} if person else {}
        return act(minute(self.now), told_at=told_at, choose=self.choose, **who)

    def send(self, did: Did, phone: int) -> None:
        """Send one doing: it is taken up as the model says, or nothing is written."""
        self.now += 1
        told_at = None if did.minute is None else minute(did.minute)
        did = replace(did, number=self.now, minute=self.now if did.minute is None else did.minute)
        expected = after(self.standing, did, self.now)
        before = self.rows()
        if expected is None:
            with pytest.raises(Refused):
                self.do(self.act(told_at, self.people[phone]), did)
            assert self.rows() == before
        else:
            action = self.do(self.act(told_at, self.people[phone]), did)
            self.standing = expected
            self.sent.append((did, action.pk))
        self.agrees()

    def rows(self) -> list[list[tuple]]:
        return [list(model.objects.order_by("pk").values_list()) for model in ROWS]

    def do(self, by: Act, did: Did) -> Action:
        code, amount = self.codes[did.crate], Decimal(did.amount or 0)
        place = None if did.place is None else self.places[did.place]
        portion = "all" if did.amount is None else amount
        match did.what:
            case "move":
                return move_lots(by, lots=[code], position=place or self.places[0])
            case "take":
                return take_out(by, lot=code, portion=portion, **self.buyer(did.buyer))
            case "throw_out":
                facts = {"reason": "wilted", "destination": "compost"}
                return discard(by, lot=code, portion=portion, **facts)
            case "bring_back":
                return bring_back(by, lot=code, quantity=amount or Decimal(3), position=place)
            case "close_market":
                load, back, given_away = map(Decimal, market_load(did))
                rows = [Settling(code, load, back, given_away)]
                return close_market(by, market=at_market(), rows=rows, position=place)
            case "count":
                return count_lots(by, figures={code: amount}, reason="miscounted", position=place)
            case "look":
                return inspect(by, lot=code, days=1 + did.figures[0], seen="firm")
            case "hold":
                return hold(by, lot=code, reason="a doubt")
            case "release":
                return release(by, lot=code, reason="sound")
        return split_lot(by, lot=code, quantity=amount or Decimal(2))

    def buyer(self, name: str) -> dict:
        outlet = {"market": "Market", "order": "Inn"}.get(name)
        return {"purpose": name, "outlet": outlet and Outlet.objects.get(name=outlet)}

    def undo(self, number: int) -> None:
        """Undo one of the last that were sent; only the last of a crate can be."""
        self.now += 1
        if not self.sent:
            return
        index = -1 - number % len(self.sent)
        did, key = self.sent[index]
        last = [one.crate for one, _ in self.sent[index:]].count(did.crate) == 1
        before = self.rows()
        try:
            undo(self.act(), action=Action.objects.get(pk=key))
        except Refused:
            assert self.rows() == before
            assert not last
            return
        assert last
        del self.sent[index]
        self.standing = [one for one in self.standing if one.number != did.number]
        self.agrees()

    def agrees(self) -> None:
        crates, _ = told(self.standing)
        for name, crate in crates.items():
            lot = Lot.objects.get(pk=self.codes[name])
            entries = list(lot.movements.order_by("pk"))
            looked = crate.looked and self.kept_until(crate.looked)
            place = None if crate.place is None else self.places[crate.place].pk
            out = {outing.purpose: amount for outing, amount in out_of(lot).items()}
            assert (
                lot.quantity, lot.state, lot.position_id, lot.held, lot.kept_until, out
            ) == (
                crate.quantity, crate.state, place, crate.held, looked, crate.out
            )  # fmt: skip
            assert self.children(lot) == sorted(crate.children)
            assert list(differences(lot, entries)) == []
            assert contradictions(entries) == []

    def kept_until(self, did: Did):
        day = act().local_day(minute(did.minute))
        return day + timedelta(days=1 + did.figures[0])

    def children(self, lot: Lot) -> list[Decimal]:
        born = lot.children.exclude(state=Lot.State.VOID).values_list("quantity", flat=True)
        return sorted(born)

    def the_week_adds_up(self) -> None:
        rows = read_week(act().farm, NOW.date() - timedelta(days=NOW.weekday()))
        assert [row.difference for row in rows if row.difference] == []


AMOUNTS = st.one_of(st.none(), st.integers(1, 12))
PLACES = st.one_of(st.none(), st.integers(0, 5))
DID = st.builds(
    Did,
    what=st.sampled_from([*DOINGS, "take", "count", "close_market"]),
    crate=st.sampled_from(["early", "early", "late"]),
    amount=AMOUNTS,
    buyer=st.sampled_from(["market", "own use", "order"]),
    place=PLACES,
    figures=st.tuples(st.integers(0, 5), st.integers(0, 5)),
)


@st.composite
def sent(draw) -> list[tuple[Did | int, int]]:
    """What some phones send, in the order it comes in: doings, and now and then an undo.

    Each happened at a minute of its own; some are sent as they happen.
    """
    doings = draw(st.lists(DID, min_size=2, max_size=10))
    late = [
        replace(did, minute=None if draw(st.integers(0, 7)) == 7 else number)
        for number, did in enumerate(doings, start=1)
    ]
    mixed = draw(st.permutations(late))
    phones = draw(st.lists(st.integers(0, 2), min_size=len(mixed), max_size=len(mixed)))
    undone = draw(st.lists(st.tuples(st.integers(0, 3), st.integers(0, 8)), max_size=1))
    events = list(zip(mixed, phones, strict=True))
    for number, at in undone:
        events.insert(at, (number, 0))
    return events


@pytest.fixture
def codes(farm) -> dict[str, str]:
    """The two crates, and what else the doings speak of."""
    Outlet.objects.create(name="Inn")
    for name in ("Ben", "Cal"):
        builders.make_crew(name)
    return {
        name: make_lot(quantity, at=minute(came_in)).pk
        for name, (came_in, quantity) in CAME_IN.items()
    }


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(events=sent())
def test_any_order_folds_to_the_true_one_or_is_refused_whole(codes, events):
    with transaction.atomic():
        program = Program(codes)
        for what, phone in events:
            if isinstance(what, Did):
                program.send(what, phone)
            else:
                program.undo(what)
        program.the_week_adds_up()
        transaction.set_rollback(True)
