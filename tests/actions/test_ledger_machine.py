"""Any sequence of actions: the ledger refolds to the crates, and nothing falls below zero."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test

from inventory.actions.crates import combine_lots, count_lots, resort_lots, split_lot
from inventory.actions.movements import Settling, bring_back, close_market, move_lots, take_out
from inventory.actions.quality import discard, hold, inspect, release
from inventory.actions.undo import undo
from inventory.errors import Refused
from inventory.management.commands.check_ledger import differences
from inventory.models import Action, Lot, Movement, Position
from inventory.queries.rotation import read_at_market
from inventory.queries.week import read_week
from tests import builders
from tests.builders import NOW, entry, make_lots

AMOUNTS = st.integers(1, 15).map(Decimal)
PORTIONS = st.one_of(AMOUNTS, st.sampled_from(["all", "half", "quarter"]))


class LedgerMachine(RuleBasedStateMachine):
    """A farm day at random."""

    def __init__(self):
        super().__init__()
        self.savepoint = transaction.atomic()
        self.savepoint.__enter__()
        builders.make_farm()
        self.now = NOW

    def teardown(self):
        transaction.set_rollback(True)
        self.savepoint.__exit__(None, None, None)

    def tick(self):
        self.now += timedelta(minutes=7)
        return entry(self.now)

    def attempt(self, do, /, **content):
        """Do it, or be refused with nothing written."""
        before = Movement.objects.count()
        try:
            do(self.tick(), **content)
        except Refused:
            assert Movement.objects.count() == before

    def some(self, data, count=1) -> list[str]:
        codes = sorted(Lot.objects.values_list("pk", flat=True))
        # Chosen by number, since codes are drawn anew in every run.
        numbers = data.draw(st.lists(st.integers(0, 30), min_size=count, max_size=count))
        return [codes[number % len(codes)] for number in numbers] if codes else []

    def place(self, data):
        places = list(Position.objects.all())
        return data.draw(st.sampled_from([None, *range(len(places))]).map(
            lambda number: None if number is None else places[number]
        ))  # fmt: skip

    @rule(quantities=st.lists(AMOUNTS, min_size=1, max_size=3), data=st.data())
    def harvest(self, quantities, data):
        make_lots(*quantities, at=self.tick().at, position=self.place(data))

    @rule(data=st.data())
    def move(self, data):
        for code in self.some(data):
            self.attempt(move_lots, lots=[code], position=Position.objects.first())

    @rule(data=st.data(), portion=PORTIONS, to_market=st.booleans())
    def take(self, data, portion, to_market):
        for code in self.some(data):
            where = {"purpose": "market", "outlet": builders.market()} if to_market else {
                "purpose": "own use"}  # fmt: skip
            self.attempt(take_out, lot=code, portion=portion, **where)

    @rule(data=st.data(), quantity=AMOUNTS)
    def back(self, data, quantity):
        for code in self.some(data):
            self.attempt(bring_back, lot=code, quantity=quantity, position=self.place(data))

    @rule(data=st.data(), figure=st.integers(0, 15).map(Decimal))
    def count(self, data, figure):
        for code in self.some(data):
            self.attempt(count_lots, figures={code: figure}, reason="miscounted")

    @rule(data=st.data(), quantity=AMOUNTS)
    def split(self, data, quantity):
        for code in self.some(data):
            self.attempt(split_lot, lot=code, quantity=quantity)

    @rule(data=st.data())
    def combine(self, data):
        self.attempt(combine_lots, lots=self.some(data, 2))

    @rule(data=st.data(), culls=st.integers(0, 4).map(Decimal))
    def sort(self, data, culls):
        codes = self.some(data, 2)
        total = sum(lot.quantity for lot in Lot.objects.filter(pk__in=codes))
        self.attempt(
            resort_lots, lots=codes, firsts=total - culls, seconds=Decimal(0), culls=culls,
            lost=Decimal(0), destination="compost",
        )  # fmt: skip

    @rule(data=st.data(), portion=PORTIONS)
    def throw_out(self, data, portion):
        for code in self.some(data):
            self.attempt(discard, lot=code, portion=portion, reason="wilted", destination="compost")

    @rule(data=st.data(), days=st.integers(1, 7))
    def look(self, data, days):
        for code in self.some(data):
            self.attempt(inspect, lot=code, days=days, seen="firm")

    @rule(data=st.data(), release_it=st.booleans())
    def hold_or_release(self, data, release_it):
        for code in self.some(data):
            self.attempt(release if release_it else hold, lot=code, reason="a doubt")

    @rule(data=st.data())
    def close_the_market(self, data):
        rows = [Settling(out.lot.pk, out.amount, back=out.amount // 2) for out in read_at_market()]
        self.attempt(close_market, market="Market", rows=rows)

    @rule(data=st.data())
    def take_back(self, data):
        actions = list(Action.objects.order_by("recorded_at", "kind"))
        if actions:
            number = data.draw(st.integers(0, 40))
            self.attempt(undo, action=actions[-1 - number % len(actions)])

    @invariant()
    def the_ledger_refolds_to_the_crates(self):
        for lot in Lot.objects.all():
            assert list(differences(lot, lot.movements.order_by("pk"))) == []
            assert lot.quantity >= 0

    @invariant()
    def the_week_adds_up(self):
        farm = entry().farm
        rows = read_week(farm, NOW.date() - timedelta(days=NOW.weekday()))
        assert [row.difference for row in rows if row.difference] == []
        here = sum(lot.quantity for lot in Lot.objects.all())
        assert sum(row.closing for row in rows) == here
        at_market = sum(out.amount for out in read_at_market())
        assert sum(row.at_market for row in rows) == at_market


@pytest.mark.django_db
def test_any_sequence_of_actions_refolds():
    run_state_machine_as_test(
        LedgerMachine,
        settings=settings(
            max_examples=25,
            stateful_step_count=25,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
