"""Any sequence of actions: the ledger refolds to the crates, and nothing falls below zero."""

import random
from copy import deepcopy
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from functools import partial
from uuid import UUID

import pytest
from django.db import connection, transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from inventory import measures
from inventory.actions.intakes import bring_in_cases, bring_in_harvest, correct_intake
from inventory.actions.movements import Settling, bring_back, close_market, move_lots, take_out
from inventory.actions.orders import close_order, take_for_order
from inventory.actions.quality import discard, hold, inspect, release
from inventory.actions.reshape import combine_lots, count_lots, resort_lots, split_lot
from inventory.actions.undo import undo
from inventory.errors import Refused
from inventory.ledger.outings import out_of, read_at_market
from inventory.ledger.replay import contradictions
from inventory.ledger.weeks import wrong_weeks
from inventory.lives.entries import forget, read_pasts
from inventory.models import Action, Code, Lot, Movement, Outlet, Position, Source, Take
from inventory.queries.book import Wanted
from inventory.queries.intakes import crates_from
from inventory.queries.week import read_week
from inventory.upkeep.refold import differences
from tests import builders
from tests.builders import NOW, act, planned, say_order

AMOUNTS = st.integers(1, 15).map(Decimal)
PORTIONS = st.one_of(AMOUNTS, st.sampled_from(["all", "half", "quarter"]))
COUNTED = (Movement, Action, Lot, Code)


@dataclass
class Model:
    """What a crate ought to be, told by what people did to it and by nothing else."""

    quantity: Decimal
    place: str | None
    state: str = ""
    held: bool = False
    kept_until: date | None = None
    out: dict[str, Decimal] = field(default_factory=dict)

    def __post_init__(self):
        self.state = self.state or ("in place" if self.place else "to put away")

    def take(self, quantity: Decimal, purpose: str) -> None:
        self.quantity -= quantity
        self.out[purpose] = self.out.get(purpose, Decimal(0)) + quantity
        if not self.quantity:
            self.state, self.place = "out", None

    def lose(self, quantity: Decimal) -> None:
        self.quantity -= quantity
        if not self.quantity:
            self.state, self.place = "empty", None

    def stand(self, quantity: Decimal, place: str | None) -> None:
        self.quantity, self.place = quantity, place
        self.state = "in place" if place else "to put away"

    def settle(self, purpose: str, quantity: Decimal) -> None:
        self.out[purpose] -= quantity
        if not self.out[purpose]:
            del self.out[purpose]


# The farm that the first run sets up is written again for every other.
first_codes = partial(random.Random(7).choice)


class LedgerMachine(RuleBasedStateMachine):
    """A farm day at random."""

    def __init__(self):
        super().__init__()
        self.savepoint = transaction.atomic()
        self.savepoint.__enter__()
        builders.make_farm(choose=first_codes)
        # Codes are the same in every run, so that a failing one can be run again.
        self.choose = random.Random(8).choice
        Outlet.objects.create(name="Inn")
        self.now = NOW
        self.crates: dict[str, Model] = {}
        self.before: dict[UUID, dict[str, Model | None]] = {}
        self.is_written, self.seen = True, dict(self.crates)
        self.written_before: dict[str, bool] = {}
        self.watch = connection.execute_wrapper(self.send)
        self.watch.__enter__()

    def send(self, execute, sql, *rest):
        """Note whether a statement may have written. What is rolled back, a refusal, was not."""
        name = sql.split()[-1]
        if sql.startswith("SAVEPOINT"):
            self.written_before[name] = self.is_written
        elif sql.startswith("ROLLBACK TO"):
            self.is_written = self.written_before[name]
        elif not sql.startswith(("SELECT", "RELEASE")):
            self.is_written = True
        return execute(sql, *rest)

    def teardown(self):
        self.watch.__exit__(None, None, None)
        transaction.set_rollback(True)
        self.savepoint.__exit__(None, None, None)

    def tick(self, told_at=None):
        """The next moment. Every other thing is told three minutes after it happened."""
        self.now += timedelta(minutes=7)
        if self.now.minute % 2:
            told_at = told_at or self.now - timedelta(minutes=3)
        return act(self.now, told_at=told_at, choose=self.choose)

    def attempt(self, do, /, told_at=None, **content) -> Action | None:
        """Do it and return it, or be refused with nothing written."""
        before = [model.objects.count() for model in COUNTED]
        try:
            action = do(self.tick(told_at), **content)
        except Refused:
            assert [model.objects.count() for model in COUNTED] == before
            return None
        self.remember(action)
        return action

    def remember(self, action: Action) -> None:
        codes = action.movements.values_list("lot_id", flat=True)
        self.before[action.pk] = {code: deepcopy(self.crates.get(code)) for code in codes}

    def made(self, action: Action) -> list[str]:
        """The codes an action gave, in the order it gave them."""
        codes = action.movements.order_by("number").values_list("lot_id", flat=True)
        return [code for code in codes if code not in self.crates]

    def some(self, data, count=1) -> list[str]:
        codes = [code for code, crate in self.crates.items() if crate]
        numbers = data.draw(st.lists(st.integers(0, 30), min_size=count, max_size=count))
        return [codes[number % len(codes)] for number in numbers] if codes else []

    def place(self, data):
        places = list(Position.objects.all())
        return data.draw(st.sampled_from([None, *range(len(places))]).map(
            lambda number: None if number is None else places[number]
        ))  # fmt: skip

    def has_few_crates(self) -> bool:
        """So that the same ones are met again."""
        return sum(crate is not None for crate in self.crates.values()) < 4

    @precondition(has_few_crates)
    @rule(quantities=st.lists(AMOUNTS, min_size=1, max_size=3), data=st.data())
    def harvest(self, quantities, data):
        place = self.place(data)
        action = self.attempt(
            bring_in_harvest, crop=builders.crop(), source=Source.objects.get(name="Bed 3"),
            quantities=quantities, unit="bunch", position=place,
        )  # fmt: skip
        for code, quantity in zip(self.made(action), quantities, strict=True):
            self.crates[code] = Model(quantity, place and place.pk)

    @precondition(has_few_crates)
    @rule(quantity=st.decimals("0.001", 20, places=3))
    def delivery(self, quantity):
        action = self.attempt(
            bring_in_cases, crop=builders.crop("apple"), source=Source.objects.get(name="Orchard"),
            quantities=[quantity], unit="kg",
        )  # fmt: skip
        self.crates[self.made(action)[0]] = Model(quantity, None)

    @rule(data=st.data())
    def correct(self, data):
        for code in self.some(data):
            intake = Lot.objects.get(pk=code).intake
            if intake is not None:
                crop = builders.crop(data.draw(st.sampled_from(["kale", "apple"])))
                facts = {"intake": intake, "crop": crop, "source": intake.source}
                self.attempt(correct_intake, **facts, reason="misread")

    @rule(data=st.data())
    def move(self, data):
        for code in self.some(data):
            place = Position.objects.first()
            if self.attempt(move_lots, lots=[code], position=place):
                self.crates[code].stand(self.crates[code].quantity, place.pk)

    @rule(data=st.data(), portion=PORTIONS, to_market=st.booleans())
    def take(self, data, portion, to_market):
        for code in self.some(data):
            where = {"purpose": "market", "outlet": builders.market()} if to_market else {
                "purpose": "own use"}  # fmt: skip
            if self.attempt(take_out, lot=code, portion=portion, **where):
                self.crates[code].take(self.amount(code, portion), where["purpose"])

    def amount(self, code, portion) -> Decimal:
        if isinstance(portion, Decimal):
            return portion
        unit = Lot.objects.get(pk=code).unit
        return measures.share_of(self.crates[code].quantity, portion, unit)

    @rule(data=st.data(), amount=AMOUNTS, minutes=st.integers(5, 60))
    def lose_late(self, data, amount, minutes):
        """What was taken or thrown out before other things were done is sent only now."""
        told_at = self.now - timedelta(minutes=minutes)
        thrown_out = data.draw(st.booleans())
        for code in self.some(data):
            crate = self.crates[code]
            later = Movement.objects.filter(lot=code, occurred_at__gt=told_at, undone_by=None)
            later = later.exclude(kind="undone")
            counted = later.filter(kind="counted").exists()
            ended = not later.exclude(change=0).exists() and crate.quantity == amount
            facts = {"lot": code, "portion": amount, "told_at": told_at}
            if thrown_out:
                done = self.attempt(discard, **facts, reason="wilted", destination="compost")
            else:
                done = self.attempt(take_out, **facts, purpose="own use")
            if not done:
                continue
            if not thrown_out:
                crate.out["own use"] = crate.out.get("own use", Decimal(0)) + amount
            if ended and not counted and not thrown_out:
                crate.quantity, crate.state, crate.place = Decimal(0), "out", None
            elif not counted:
                crate.lose(amount)

    @rule(quantity=st.integers(1, 30).map(Decimal))
    def pull(self, quantity):
        outlet = Outlet.objects.get(name="Inn")
        opened = say_order(
            self.tick(), outlet=outlet, lines=[Wanted(builders.crop(), "bunch", quantity)]
        )
        for code, amount in planned(opened, self.now):
            if self.attempt(take_for_order, order=opened.pk, lot=code, quantity=amount):
                self.crates[code].take(amount, "order")
        close_order(self.tick(), order=opened.pk)

    @rule(data=st.data(), quantity=AMOUNTS)
    def back(self, data, quantity):
        for code in self.some(data):
            place, crate = self.place(data), self.crates[code]
            purpose = next(reversed(latest_out(code)), None)
            was_there = purpose == "order" and self.was_with_the_inn(code)
            action = self.attempt(bring_back, lot=code, quantity=quantity, position=place)
            if action:
                crate.settle(purpose, quantity)
                returned = self.came_back(action, crate, quantity, place and place.pk)
                returned.held |= was_there

    def was_with_the_inn(self, code: str) -> bool:
        """Nobody undid that its last order was done."""
        take = Take.objects.standing().filter(lot=code).order_by("pk").last()
        return take is None or take.line.order.closed_at is not None

    def came_back(self, action, crate: Model, quantity: Decimal, place: str | None) -> Model:
        if crate.state == "out":
            crate.stand(quantity, place)
            return crate
        child = self.made(action)[0]
        self.crates[child] = Model(quantity, place, held=crate.held)
        return self.crates[child]

    @rule(data=st.data(), figure=st.integers(0, 15).map(Decimal))
    def count(self, data, figure):
        for code in self.some(data):
            if self.attempt(count_lots, figures={code: figure}, reason="miscounted"):
                crate = self.crates[code]
                crate.stand(figure, crate.place)
                crate.lose(Decimal(0))

    @rule(data=st.data(), quantity=AMOUNTS)
    def split(self, data, quantity):
        for code in self.some(data):
            action = self.attempt(split_lot, lot=code, quantity=quantity)
            if action:
                self.crates[code].lose(quantity)
                self.crates[self.made(action)[0]] = Model(quantity, self.crates[code].place)

    @rule(data=st.data())
    def combine(self, data):
        codes = sorted(set(self.some(data, 2)))
        action = self.attempt(combine_lots, lots=codes)
        if action:
            self.fill_anew(action, codes, sum(self.crates[code].quantity for code in codes))

    def fill_anew(self, action, codes: list[str], quantity: Decimal) -> None:
        """One crate of others: where the first of them stood, which are then empty."""
        places = [self.crates[code].place for code in codes if self.crates[code].place]
        for child in self.made(action):
            self.crates[child] = Model(quantity, places[0] if places else None)
        for code in codes:
            self.crates[code].lose(self.crates[code].quantity)

    @rule(data=st.data(), culls=st.integers(0, 4).map(Decimal), lost=st.integers(0, 1).map(Decimal))
    def sort(self, data, culls, lost):
        codes = sorted(set(self.some(data, 2)))
        total = sum((self.crates[code].quantity for code in codes), Decimal(0))
        action = self.attempt(
            resort_lots, lots=codes, firsts=total - culls - lost, seconds=Decimal(0), culls=culls,
            lost=lost, destination="compost",
        )  # fmt: skip
        if action:
            self.fill_anew(action, codes, total - culls - lost)

    @rule(data=st.data(), portion=PORTIONS)
    def throw_out(self, data, portion):
        for code in self.some(data):
            amount = self.amount(code, portion)
            if self.attempt(
                discard, lot=code, portion=portion, reason="wilted", destination="compost"
            ):
                self.crates[code].lose(amount)

    @rule(data=st.data(), days=st.integers(1, 7))
    def look(self, data, days):
        for code in self.some(data):
            if self.attempt(inspect, lot=code, days=days, seen="firm"):
                self.crates[code].kept_until = act(self.now).today + timedelta(days=days)

    @rule(data=st.data(), release_it=st.booleans())
    def hold_or_release(self, data, release_it):
        for code in self.some(data):
            if self.attempt(release if release_it else hold, lot=code, reason="a doubt"):
                self.crates[code].held = not release_it

    @rule(data=st.data())
    def hold_intake(self, data):
        for code in self.some(data):
            intake = Lot.objects.get(pk=code).intake
            action = intake and self.attempt(hold, intake=intake, reason="a doubt")
            if action:
                family = (self.crates[code] for code in crates_from(intake))
                for crate in filter(None, family):  # what an undo took away holds nothing
                    crate.held |= crate.state in ("in place", "to put away") or bool(crate.out)

    @rule(data=st.data(), share=st.sampled_from(["back", "given", "lost"]))
    def close_the_market(self, data, share):
        outs = read_at_market()
        rows = [Settling(out.lot.pk, out.amount, **{share: out.amount // 2}) for out in outs]
        action = self.attempt(close_market, market=builders.at_market(), rows=rows)
        if not action:
            return
        children = iter(self.made(action))
        for row in rows:
            crate = self.crates[row.lot]
            crate.settle("market", row.out)
            if row.back and crate.state == "out":
                crate.stand(row.back, None)
            elif row.back:
                self.crates[next(children)] = Model(row.back, None, held=crate.held)
            elif crate.state == "out" and not crate.out:
                crate.state = "empty"

    @rule(data=st.data())
    def take_back(self, data):
        actions = list(Action.objects.order_by("recorded_at", "kind"))
        if actions:
            action = actions[-1 - data.draw(st.integers(0, 40)) % len(actions)]
            if self.attempt(undo, action=action):
                self.crates |= self.before.get(action.pk, {})  # an entry of an order: no crate

    @invariant()
    def all_is_as_it_should_be(self):
        """Looked at again when anything was written, or should have been.

        What reading the week writes, its sums, is looked at there and then.
        """
        if not self.is_written and self.crates == self.seen:
            return
        self.crates_are_what_was_done_to_them()
        self.the_ledger_refolds_to_the_crates()
        self.memory_knows_every_entry()
        self.the_week_adds_up()
        self.is_written, self.seen = False, deepcopy(self.crates)

    def crates_are_what_was_done_to_them(self):
        lots = {lot.pk: lot for lot in Lot.objects.all()}
        assert lots.keys() == self.crates.keys()
        for code, crate in self.crates.items():
            lot = lots[code]
            if crate is None:
                assert (lot.state, lot.quantity) == ("void", 0)
                continue
            found = (lot.quantity, lot.position_id, lot.state, lot.held, lot.kept_until)
            assert found == (
                crate.quantity, crate.place, crate.state, crate.held, crate.kept_until
            )  # fmt: skip
            out: dict[str, Decimal] = {}
            for outing, amount in out_of(lot).items():
                out[outing.purpose] = out.get(outing.purpose, Decimal(0)) + amount
            assert out == crate.out

    def the_ledger_refolds_to_the_crates(self):
        for lot in Lot.objects.all():
            entries = list(lot.movements.order_by("pk"))
            assert list(differences(lot, entries)) == []
            assert contradictions(entries) == []
            assert lot.quantity >= 0

    def memory_knows_every_entry(self):
        """What was kept at the last look, and read anew since, is what all entries say."""
        lots = {lot.pk: lot for lot in Lot.objects.all()}
        known = read_pasts(lots)
        forget()
        assert known == read_pasts(lots)

    def the_week_adds_up(self):
        farm = act().farm
        rows = read_week(farm, NOW.date() - timedelta(days=NOW.weekday()))
        assert wrong_weeks() == []
        assert [row.difference for row in rows if row.difference] == []
        here = sum((crate.quantity for crate in self.crates.values() if crate), Decimal(0))
        assert sum(row.closing for row in rows) == here
        at_market = sum(out.amount for out in read_at_market())
        assert sum(row.at_market for row in rows) == at_market


def latest_out(code: str) -> list[str]:
    """Where a crate went and is not back from, latest last."""
    return [outing.purpose for outing in out_of(Lot.objects.get(pk=code))]


@pytest.mark.django_db
def test_any_sequence_of_actions_refolds():
    run_state_machine_as_test(
        LedgerMachine,
        settings=settings(
            max_examples=40,
            stateful_step_count=40,
            suppress_health_check=list(HealthCheck),
        ),
    )
