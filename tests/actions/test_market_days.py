"""What a market day was is kept with its closing, and no longer than that stands."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from inventory.actions.market import CropClosing, close_market_by_crop
from inventory.actions.movements import Settling, bring_back, close_market, take_out
from inventory.actions.undo import undo
from inventory.errors import Conflict
from inventory.ledger.fold import Outing
from inventory.models import Lot, MarketDay, Outlet
from tests import builders
from tests.builders import NOW, act, crop, make_lot, make_lots, place, take
from tests.refusing import refused

pytestmark = pytest.mark.usefixtures("farm")
HOUR = timedelta(hours=1)


def close(*rows: Settling, at=NOW):
    return close_market(act(at), market=builders.at_market(), rows=list(rows))


def settling(lot: Lot, out: int, **changes: int) -> Settling:
    return Settling(lot.pk, Decimal(out), **{name: Decimal(n) for name, n in changes.items()})


def days() -> list[tuple]:
    """What counts: day, crop, loaded, back, given, lost, sold."""
    figures = ("loaded", "back", "given", "lost", "sold")
    return [
        (day.day, sale.crop.reference_key, *(int(getattr(sale, name)) for name in figures))
        for day in MarketDay.objects.standing()
        for sale in day.sales.order_by("crop__reference_key")
    ]


def test_closed_crate_by_crate_the_day_is_kept_by_crop():
    kale, more, apples = make_lot(12), make_lot(12), make_lot(8, key="apple")
    for lot in (kale, more, apples):
        take(lot, "all")
    close(settling(kale, 12, back=3, given=1), settling(more, 12, lost=2), settling(apples, 8))
    assert days() == [
        (NOW.date(), "apple", 8, 0, 0, 0, 8), (NOW.date(), "kale", 24, 3, 1, 2, 18),
    ]  # fmt: skip
    assert MarketDay.objects.get().weather == "usual"


def test_undone_it_counts_no_more_and_closed_again_it_does():
    lot = make_lot(12)
    take(lot, "all")
    undo(act(NOW + HOUR), action=close(settling(lot, 12)))
    assert days() == []
    close(settling(lot, 12, back=2), at=NOW + 2 * HOUR)
    assert days() == [(NOW.date(), "kale", 12, 2, 0, 0, 10)]


def test_what_came_back_before_is_in_it_but_not_what_did_of_a_market_before():
    first, second = make_lots(12, 12)
    late = NOW + timedelta(days=1)
    for start in (NOW, late):
        take(first, "all", at=start)
        take(second, "all", at=start)
        bring_back(act(start + HOUR), lot=second.pk, quantity=Decimal(12), position=place())
        if start == NOW:
            bring_back(act(start + HOUR), lot=first.pk, quantity=Decimal(12), position=place())
    close(settling(first, 12), at=late + 2 * HOUR)
    assert days() == [(late.date(), "kale", 24, 12, 0, 0, 12)]


def test_what_came_back_before_the_first_of_two_closings_is_counted_once():
    lots = make_lots(12, 12, 12)
    for lot in lots:
        take(lot, "all")
    bring_back(act(NOW + HOUR), lot=lots[0].pk, quantity=Decimal(12))
    for lot, hours in zip(lots[1:], (2, 3), strict=True):
        close(settling(lot, 12), at=NOW + hours * HOUR)
    assert days() == [(NOW.date(), "kale", 36, 12, 0, 0, 24)]


def test_what_came_back_before_an_earlier_day_was_closed_is_not_of_a_crate_left_open():
    lots, later = make_lots(12, 12, 12), NOW + timedelta(days=7)
    for lot in lots:
        take(lot, "all")
    bring_back(act(NOW + HOUR), lot=lots[0].pk, quantity=Decimal(12))
    close(settling(lots[1], 12), at=NOW + 2 * HOUR)
    more = make_lot(12, at=later)
    take(more, "all", at=later)
    close(settling(lots[2], 12), settling(more, 12), at=later + HOUR)
    assert days() == [
        (NOW.date(), "kale", 24, 12, 0, 0, 12), (later.date(), "kale", 24, 0, 0, 0, 24),
    ]  # fmt: skip


def test_what_came_back_before_is_taken_back_after_the_closing_it_is_in():
    first, second = make_lots(12, 12)
    for lot in (first, second):
        take(lot, "all")
    back = bring_back(act(NOW + HOUR), lot=first.pk, quantity=Decimal(12))
    closed = close(settling(second, 12), at=NOW + 2 * HOUR)
    with refused(Conflict("undo-blocked", blocker=closed)):
        undo(act(NOW + 3 * HOUR), action=back)
    undo(act(NOW + 3 * HOUR), action=closed)
    undo(act(NOW + 3 * HOUR), action=back)
    close(settling(first, 12), settling(second, 12), at=NOW + 4 * HOUR)
    assert days() == [(NOW.date(), "kale", 24, 0, 0, 0, 24)]


def test_of_a_market_day_that_came_later_it_is_no_part_and_is_taken_back():
    lot, week = make_lot(12), timedelta(days=7)
    take(lot, "all")
    back = bring_back(act(NOW + HOUR), lot=lot.pk, quantity=Decimal(12))
    other = make_lot(12, at=NOW + week)
    take(other, "all", at=NOW + week)
    close(settling(other, 12), at=NOW + week + HOUR)
    undo(act(NOW + week + 2 * HOUR), action=back)
    assert Lot.objects.get(pk=lot.pk).at_market


def test_closed_twice_on_a_day_it_is_one_day_whose_later_closing_is_undone_first():
    first, second = make_lots(12, 12)
    take(first, "all")
    take(second, "all")
    earlier = close(settling(first, 12))
    later = close(settling(second, 12, back=2), at=NOW + HOUR)
    assert days() == [(NOW.date(), "kale", 24, 2, 0, 0, 22)]
    with refused(Conflict("undo-blocked", blocker=later)):
        undo(act(NOW + 2 * HOUR), action=earlier)
    undo(act(NOW + 2 * HOUR), action=later)
    assert days() == [(NOW.date(), "kale", 12, 0, 0, 0, 12)]
    undo(act(NOW + 2 * HOUR), action=earlier)
    assert days() == []


def test_what_was_said_of_a_crop_stays_said_when_the_rest_of_the_day_is_closed():
    kale, apples = make_lot(12), make_lot(8, key="apple")
    for lot, amount, sold_out in ((kale, 12, "early"), (apples, 8, "end")):
        take(lot, "all")
        said = CropClosing({lot.pk: Decimal(amount)}, sold_out=sold_out)
        close_market_by_crop(act(), market=builders.at_market(), crops=[said])
    sales = MarketDay.objects.standing().get().sales
    assert dict(sales.values_list("crop__reference_key", "sold_out")) == {
        "kale": "early", "apple": "end",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("weekdays", "loaded", "closed", "held"),
    [
        ("5", 12, 13, 13),  # loaded on Friday evening for Saturday
        ("5", 13, 14, 13),  # closed on Sunday
        ("5", 13, 21, 13),  # forgotten for a week
        ("5", 9, 10, 9),  # no day of this market is over: the day it was loaded
        ("", 12, 13, 12),
    ],
)
def test_a_market_is_held_on_its_first_day_after_it_was_loaded(weekdays, loaded, closed, held):
    """June 2026: the 13th is a Saturday."""
    Outlet.objects.filter(name="Market").update(delivery_days=weekdays)
    lot = make_lot(12, at=NOW - timedelta(days=5))
    take(lot, "all", at=NOW.replace(day=loaded))
    close(settling(lot, 12), at=NOW.replace(day=closed))
    assert MarketDay.objects.get().day == date(2026, 6, held)


def test_a_market_known_by_name_only_has_no_day():
    lot = make_lot(12)
    take_out(act(), lot=lot.pk, portion="all", purpose="market", to="the fair")
    out = Lot.objects.get(pk=lot.pk).movements.get(kind="out")
    close_market(act(), market=Outing.of(out), rows=[settling(lot, 12)])
    assert (crop().pk, MarketDay.objects.count()) == (lot.crop_id, 0)
