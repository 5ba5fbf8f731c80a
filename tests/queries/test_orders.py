"""Orders as their pages show them."""

from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest

from inventory.actions.orders import cancel_order, close_order, mark_missing, take_for_order
from inventory.models import Farm, Outlet
from inventory.queries.book import Wanted, find_order, read_book
from inventory.queries.orders import (
    buyers_to_ask,
    last_order,
    lines_of,
    read_days,
    read_order,
    read_steps,
    still_out_for,
    usual_case,
)
from tests import builders
from tests.builders import NOW, act, keep_for, make_cases, make_crew, make_lot, make_lots, say_order

pytestmark = pytest.mark.usefixtures("farm")

DAY = timedelta(days=1)
TODAY = date(2026, 6, 10)


def kale(quantity=12) -> Wanted:
    return Wanted(builders.crop(), "bunch", Decimal(quantity))


def order(*lines, outlet="Inn", days=0, **changes):
    buyer, _ = Outlet.objects.get_or_create(name=outlet)
    due = TODAY + days * DAY
    return say_order(act(), outlet=buyer, lines=lines or [kale()], due=due, **changes)


def now_of(said, person=None):
    return read_order(said.pk, Farm.objects.get(), NOW, person)


def test_an_order_says_what_is_got_what_is_to_fetch_and_what_lacks():
    lots = make_lots(12, 12)
    said = order(kale(30))
    take_for_order(act(), order=said.pk, lot=lots[0].pk)
    now = now_of(said)
    (line,) = now.lines
    assert (line.line.taken, line.to_fetch, line.lacks, line.untold) == (12, 12, 6, 6)
    assert (now.share_taken, now.share_covered) == (40, 80)
    assert now.is_begun
    assert (now.got, len(now.lacking), len(now.untold)) == (0, 1, 1)


def test_of_an_order_that_went_out_short_what_lacked_can_still_be_read():
    lot, said = make_lot(12), order(kale(30))
    take_for_order(act(), order=said.pk, lot=lot.pk)
    close_order(act(), order=said.pk)
    (line,) = now_of(said).lacking
    assert (line.lacks, line.untold, line.short) == (18, 18, None)
    other = order(kale(30))
    cancel_order(act(), order=other.pk)
    assert now_of(other).lacking == []


def test_a_line_nobody_wants_any_more_is_not_shown():
    said = order()
    said.lines.update(quantity=0)
    assert now_of(said).lines == ()
    assert now_of(said).share_taken == 0


def test_what_another_person_is_on_the_way_to_is_theirs():
    lots = make_lots(12, 12)
    said, ben = order(kale(24)), make_crew()
    keep_for(said, (lots[0], 12), person=ben)
    mine, his = now_of(said, act().person.pk), now_of(said, ben.pk)
    assert [take.crate.code for take in mine.others] == [lots[0].pk]
    assert [take.crate.code for take in mine.fetch] == [lots[1].pk]
    assert {take.crate.code for take in his.fetch} == {lot.pk for lot in lots}


def test_crates_taken_or_not_found_keep_their_place_on_the_walk():
    lots = make_lots(12, 12, 12)
    said = order(kale(36))
    before = [step.lot.pk for step in read_steps(now_of(said))]
    take_for_order(act(), order=said.pk, lot=lots[1].pk)
    later = act(NOW + timedelta(minutes=1))
    mark_missing(later, order=said.pk, lot=lots[0].pk, quantity=Decimal(12))
    after = read_steps(now_of(said))
    assert [step.lot.pk for step in after] == before == sorted(lot.pk for lot in lots)
    states = {
        step.lot.pk: (bool(step.planned), bool(step.taken), bool(step.missing)) for step in after
    }
    assert states == {
        lots[0].pk: (False, False, True), lots[1].pk: (False, True, False),
        lots[2].pk: (True, False, False),
    }  # fmt: skip


def test_a_day_lists_half_got_orders_first_then_by_when_they_must_be_there():
    lot = make_lots(12, 12, 12)[0]
    Outlet.objects.create(name="Early", by_time="07:30")
    Outlet.objects.create(name="Late", by_time="11:00")
    late, never, early = order(outlet="Late"), order(outlet="Never"), order(outlet="Early")
    tomorrow = order(days=1)
    (today, next_day) = read_days(Farm.objects.get(), NOW)
    assert [now.order.id for now in today.orders] == [early.pk, late.pk, never.pk]
    assert [now.order.id for now in next_day.orders] == [tomorrow.pk]
    take_for_order(act(), order=never.pk, lot=lot.pk, quantity=Decimal(5))
    (today, _) = read_days(Farm.objects.get(), NOW)
    assert today.orders[0].order.id == never.pk
    assert [found.id for found in read_book(act().farm, NOW) if found.is_begun] == [never.pk]
    assert [day.late for day in read_days(Farm.objects.get(), NOW + DAY)] == [True, False]


def test_what_was_taken_for_a_cancelled_order_and_is_still_out_is_asked_about():
    lots = make_lots(12, 12)
    said = order(kale(24))
    take_for_order(act(), order=said.pk, lot=lots[0].pk)
    cancel_order(act(), order=said.pk)
    assert [take.lot_id for take in still_out_for(said)] == [lots[0].pk]


def test_the_next_order_of_a_buyer_starts_from_their_last():
    inn = Outlet.objects.create(name="Inn")
    assert last_order(inn) is None
    order(kale(5))
    said = say_order(act(NOW + DAY), outlet=inn, lines=[kale(7)])
    assert last_order(inn) == said
    assert [line.quantity for line in lines_of(said)] == [7]


def test_buyers_are_offered_by_who_ordered_last():
    for name in ("Alder", "Inn", "Off"):
        Outlet.objects.create(name=name, in_use=name != "Off")
    order(outlet="Inn")
    assert [outlet.name for outlet in buyers_to_ask()] == ["Inn", "Alder", "Market"]


def test_a_case_holds_what_the_latest_one_held():
    apple = builders.crop("apple")
    assert usual_case(apple, "kg") is None
    make_cases(18, at=NOW - DAY)
    make_cases(20)
    assert usual_case(apple, "kg") in (18, 20)


def test_an_order_nobody_said_is_not_found():
    assert find_order(order().pk, Farm.objects.get(), NOW)
    assert read_order(uuid4(), Farm.objects.get(), NOW) is None
