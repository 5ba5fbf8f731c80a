"""First in, first out kept: of a week's takes, by what each of them wrote down."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.actions.movements import move_lots, send_back, take_out
from inventory.actions.undo import undo
from inventory.models import FirstInLine
from inventory.queries.kept_order import KeptOrder, read_kept_order
from tests import builders
from tests.builders import NOW, act, make_cases, make_lot, make_lots, place, sign_in

MONDAY = date(2026, 6, 8)
WEEK = timedelta(days=7)
DAY = timedelta(days=1)
HOUR = timedelta(hours=1)


def take(lot, at=NOW, **changes):
    return builders.take(lot, "half", at, **changes)


def figures(farm, day=MONDAY) -> tuple:
    found = read_kept_order(farm, day)
    passed = [(one.taken.pk, one.left.pk, one.days_apart) for one in found.passed]
    return found.takes, found.percent, passed


def test_a_week_by_hand(farm):
    """Of five takes two passed an older crate that would have done: three of five, 60 %."""
    old, new = make_lot(at=NOW - 3 * DAY), make_lot(at=NOW)
    older_apple, apple = (make_lot(at=NOW - days * DAY, key="apple") for days in (9, 0))
    take(old)
    take(new)
    take(new, NOW + HOUR, purpose="own use")
    take(new, NOW + HOUR, out_of_reach=old.pk)
    take(apple, NOW + HOUR, out_of_reach=older_apple.pk)
    assert figures(farm) == (5, 60, [(new.pk, old.pk, 3), (new.pk, old.pk, 3)])


def test_what_counts_in_neither_figure(farm):
    """What was undone, what went back to its supplier, and takes from before it was written."""
    old, new = make_lot(at=NOW - 3 * DAY), make_lot(at=NOW)
    undo(act(), action=take(new))
    send_back(act(), lot=make_cases(12)[0].pk, portion=Decimal(2))
    FirstInLine.objects.filter(movement__action=take(new)).delete()
    assert figures(farm) == (0, None, [])
    assert old.is_here


def test_one_that_would_not_have_done_breaks_nothing(farm):
    old, new = make_lot(at=NOW - 3 * DAY), make_lot(at=NOW)
    take(new)
    FirstInLine.objects.update(why_not="refused")
    assert figures(farm) == (1, 100, [])
    assert old.is_here


def test_crates_of_one_harvest_are_of_one_age_unless_one_stood_warm(farm):
    """The one named by its code alone, or as a part crate, is no older than the one taken."""
    one, other = sorted(make_lots(12, 12), key=lambda lot: lot.pk)
    take(other)
    assert FirstInLine.objects.get().first_id == one.pk
    assert figures(farm) == (1, 100, [])
    FirstInLine.objects.update(days_apart=1)
    assert figures(farm) == (1, 0, [(other.pk, one.pk, 1)])


def test_a_few_hours_older_is_older(farm):
    old, new = make_lot(at=NOW - 2 * HOUR), make_lot(at=NOW)
    take(new)
    row = FirstInLine.objects.get()
    assert figures(farm) == (1, 0, [(new.pk, old.pk, row.days_apart)])


def test_a_take_belongs_to_the_week_it_happened_in(farm):
    """Monday's first moment is of this week, the moment before it of the last."""
    make_lot(at=NOW - 20 * DAY)
    new = make_lot(at=NOW - 10 * DAY)
    start = farm.day_start(MONDAY)
    take_out(
        act(NOW, told_at=start - timedelta(microseconds=1)),
        lot=new.pk, portion=Decimal(1), purpose="own use",
    )  # fmt: skip
    assert [read_kept_order(farm, day).takes for day in (MONDAY - WEEK, MONDAY)] == [1, 0]
    take_out(act(NOW, told_at=start), lot=new.pk, portion=Decimal(1), purpose="own use")
    assert [read_kept_order(farm, day).takes for day in (MONDAY - WEEK, MONDAY)] == [1, 1]


def test_places_are_those_of_that_moment(farm):
    old, new = make_lot(at=NOW - 3 * DAY), make_lot(at=NOW)
    move_lots(act(NOW), lots=[new.pk], position=place("B1"))
    builders.take(new, "all", NOW + HOUR)
    move_lots(act(NOW + DAY), lots=[old.pk], position=place("A3"))
    (one,) = read_kept_order(farm, MONDAY).passed
    assert (one.place.name, one.left_place.name) == ("B1", "A1")


@pytest.mark.parametrize(("takes", "broken", "percent"), [(25, 2, 92), (300, 1, 99), (1, 0, 100)])
def test_the_share_is_rounded_down_so_that_100_means_all(takes, broken, percent):
    assert KeptOrder(takes, [None] * broken).percent == percent


def test_ten_broken_takes_cost_as_many_queries_as_one(farm):
    make_lot(at=NOW - 3 * DAY)
    news = make_lots(*[12] * 10)
    costs = []
    for few in (news[:1], news[1:]):
        for lot in few:
            take(lot)
        with CaptureQueriesContext(connection) as queries:
            read_kept_order(farm, MONDAY)
        costs.append(len(queries))
    assert costs == [3, 3]  # one where none was broken, as of most weeks


def test_the_week_says_it_and_leads_to_the_crates_by_no_name(client, farm):
    ben = builders.make_crew()
    sign_in(client)
    old, new = make_lot(at=NOW - 3 * DAY), make_lot(at=NOW)
    market = builders.market()
    for lot in (old, new):
        facts = {"purpose": market.purpose, "outlet": market, "portion": "half"}
        take_out(act(person=ben), lot=lot.pk, **facts)
    page = client.get(f"/week/{MONDAY}").content.decode()
    assert "First in, first out kept 50 % of 2 takes" in page
    assert all(f'href="/L/{lot.pk}"' in page for lot in (old, new))
    assert "3 days apart" in page
    assert "Ben" not in page
    assert "First in, first out" not in client.get(f"/week/{MONDAY - WEEK}").content.decode()


def test_a_week_that_kept_it_says_so_without_a_list(signed_in, farm):
    take(make_lot())
    page = signed_in.get(f"/week/{MONDAY}").content.decode()
    assert "First in, first out kept: 1 take" in page
    assert "3 days apart" not in page
