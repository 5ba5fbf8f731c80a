"""From each figure of the week to its entries, and from what it begins with to its crates."""

import random
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

from inventory.actions.movements import Settling, bring_back, close_market, take_out
from inventory.actions.quality import discard
from inventory.actions.reshape import count_lots
from inventory.actions.undo import undo
from inventory.errors import Refused
from inventory.ledger.outings import read_at_market
from inventory.ledger.weeks import forget_weeks
from inventory.models import Crop, Farm
from inventory.queries.figures import ENTRIES, crates_at
from inventory.queries.ledger import LedgerSearch, find_movements
from inventory.queries.week import WeekRow, read_week, read_weeks
from inventory.words.week import FIGURES
from tests.builders import NOW, act, at_market, fresh, make_lot, make_lots, market

WEEK = timedelta(days=7)
THEN = datetime(2026, 11, 16, 5, tzinfo=UTC)  # midnight in New York; its clocks changed meanwhile


def throw_at(lot, at, quantity=1, destination="compost"):
    facts = {"reason": "wilted", "destination": destination}
    return discard(act(THEN, told_at=at), lot=lot.pk, portion=Decimal(quantity), **facts)


def random_entry(lot, chance):
    at = THEN - timedelta(hours=6 * chance.randrange(4 * 28 - 2))
    portion = Decimal(chance.choice([1, 2, 3]))
    told = act(THEN, told_at=at)
    what = chance.choice(["count", "discard", "order", "given", "own use", "market"])
    if what == "count":
        figures = {lot.pk: fresh(lot).quantity + portion - 2}
        count_lots(told, figures=figures, reason="seen")
    elif what == "discard":
        throw_at(lot, at, portion, chance.choice(["compost", "landfill"]))
    elif what == "market":
        take_out(told, lot=lot.pk, portion=portion, purpose=what, outlet=market())
    else:
        to = {"to": "pantry"} if what == "given" else {}
        take_out(told, lot=lot.pk, portion=portion, purpose=what, **to)


def test_four_weeks_add_up_to_their_entries_and_crates(farm):
    """Every figure is what the entries it leads to add up to, over a month as over its weeks; each
    week begins and ends with what its crates held. Twenty entries at random, always the same."""
    chance = random.Random(11)
    Crop.objects.update(piece_weight_kg=Decimal("0.25"))
    lots = make_lots(40, 30, at=THEN - timedelta(days=28))
    earlier = THEN - WEEK * 3
    take_out(act(earlier), lot=lots[1].pk, portion=Decimal(2), purpose="own use")
    bring_back(act(earlier), lot=lots[1].pk, quantity=Decimal(1))
    for _ in range(20):
        with suppress(Refused):
            random_entry(chance.choice(lots), chance)
    loaded = read_at_market()
    rows = [Settling(out.lot.pk, out.amount, lost=Decimal(1)) for out in loaded]
    close_market(act(THEN), market=at_market(), rows=rows)
    for week_start in (0, 6):
        Farm.objects.update(week_start=week_start)
        forget_weeks()
        month_is_its_weeks(Farm.objects.get(), lots[0].crop)


def month_is_its_weeks(farm, crop):
    last = farm.week_of(THEN)
    days = [last - WEEK * back for back in reversed(range(5))]
    rows = [row for day in days for row in read_week(farm, day)]
    assert [row.difference for row in rows] == [0] * 5
    drawn = read_weeks(farm, last).trend
    for day in days:  # what is drawn of a week is what its own page says
        here = read_weeks(farm, day).flow
        assert here.left
        assert (drawn[day].wasted, drawn[day].left) == (here.wasted, here.left)
    search = LedgerSearch(from_day=days[0], to_day=last + timedelta(days=6))
    for name in ENTRIES:
        entries = list(find_movements(replace(search, figure=name), farm))
        of_entries = sum(SIZES.get(name, size)(entry) for entry in entries)
        assert sum(getattr(row, name) for row in rows) == of_entries, name
        assert entries or name in ("bought", "sent_back", "weight_lost"), name
    for day, row in zip(days, rows, strict=True):
        for at, held in ((day, row.opening), (day + WEEK, row.closing)):
            crates = crates_at(farm, at, crop, "bunch")
            assert sum(amount for _lot, amount in crates) == held


def size(entry):
    """What an entry counts in its figure."""
    if entry.kind in ("out", "back"):
        return entry.amount if entry.kind == "out" else -entry.amount
    if entry.kind == "settled":
        return entry.amount
    return -entry.change if entry.kind in ("discarded", "weight lost") else entry.change


# What was settled is at no market any longer; what is told as brought back is told as such.
SIZES = {
    "at_market": lambda entry: -entry.amount if entry.kind == "settled" else size(entry),
    "returned": lambda entry: entry.amount,
}


def test_every_figure_has_a_column_and_words():
    assert set(ENTRIES) == set(FIGURES)
    assert all(hasattr(WeekRow(None, ""), name) for name in set(ENTRIES) - {"discarded"})


def test_a_figure_leads_to_what_stands_by_reason_destination_and_unit(farm):
    lot = make_lot(12, at=NOW)
    facts = {"lot": lot.pk, "portion": Decimal(2), "reason": "wilted"}
    discard(act(), **facts, destination="compost")
    discard(act(), **facts, destination="landfill")
    undo(act(), action=discard(act(), **facts, destination="compost"))
    asked = LedgerSearch(figure="discarded", destination="compost", reason="wilted", unit="bunch")
    assert [-entry.change for entry in find_movements(asked, farm)] == [2]
    assert not find_movements(replace(asked, unit="kg"), farm)
    assert not find_movements(replace(asked, reason="pests"), farm)
