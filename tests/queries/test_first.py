"""Which crate should have gone first, written down with each taking out."""

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.actions.movements import move_lots, take_out
from inventory.actions.orders import mark_missing, take_for_order
from inventory.actions.quality import hold
from inventory.actions.temperatures import record_readings
from inventory.models import FirstInLine, Lot, Order, Outlet, Room
from inventory.queries.book import Wanted
from inventory.queries.crates import one_crate
from inventory.queries.first import read_taking_out
from tests import builders
from tests.builders import NOW, act, keep_for, make_cases, make_lot, place, planned, say_order

HOUR = timedelta(hours=1)
DAY = timedelta(days=1)

pytestmark = pytest.mark.usefixtures("farm")


def take(lot: Lot, outlet=None, **changes) -> tuple:
    """Take half a crate and return what was written: first, days apart, why not, reachable."""
    outlet = outlet or builders.market()
    what = {"portion": "half", "purpose": outlet.purpose, "outlet": outlet}
    return told(take_out(act(), lot=lot.pk, **what | changes))


def told(action) -> tuple:
    row = FirstInLine.objects.get(movement__action=action)
    return row.first_id, row.days_apart, row.why_not, row.reachable


NOBODY = (None, 0, "", True)


def kitchen(**changes) -> Outlet:
    return Outlet.objects.create(name="The Heron", **changes)


def order(*takes, outlet=None) -> Order:
    """An order for these (crate, quantity), which somebody is on the way to."""
    wanted = sum(quantity for _lot, quantity in takes)
    lines = [Wanted(builders.crop(), "bunch", Decimal(wanted))]
    pull = say_order(act(), lines=lines, outlet=outlet or kitchen())
    keep_for(pull, *takes)
    return pull


def missing(said: Order, lot: Lot) -> None:
    mark_missing(act(NOW + HOUR), order=said.pk, lot=lot.pk, quantity=Decimal(12))


def test_each_taking_out_writes_one_and_the_first_itself_passes_nobody():
    old, new = make_lot(at=NOW - 3 * DAY), make_lot(at=NOW)
    assert take(old) == NOBODY
    assert take(new)[0] == old.pk
    assert take(new, outlet=None, purpose="own use")[0] == old.pk
    assert FirstInLine.objects.count() == 3


def test_days_apart_are_those_of_the_figures_shown():
    """Whole days left, one crate against the other: cut seven days apart, kept at one place."""
    old, new = make_lot(at=NOW - 7 * DAY), make_lot(at=NOW)
    assert take(new) == (old.pk, 7, "", True)


def test_of_crates_a_few_hours_apart_the_earlier_goes_first_and_no_day_lies_between():
    old, new = make_lot(at=NOW - 2 * HOUR), make_lot(at=NOW)
    first, apart, _why, _reachable = take(new)
    left = [int(one_crate(lot.pk, act().farm, NOW).life.days_left) for lot in (old, new)]
    assert (first, apart) == (old.pk, left[1] - left[0])
    assert apart <= 1


def test_what_was_read_before_counts_at_its_very_moment_and_is_no_part_of_what_is_said():
    lot = make_lot(at=NOW)
    read = read_taking_out(lot.pk, act().farm, NOW)
    old = make_lot(at=NOW - 3 * DAY)
    what = {"lot": lot.pk, "portion": "half", "purpose": "market", "outlet": builders.market()}
    said = act()
    action = take_out(said, taking=read, **what)
    assert told(action) == NOBODY
    assert take_out(said, **what) == action
    assert told(take_out(act(NOW + HOUR), taking=read, **what))[0] == old.pk


def test_another_crop_or_unit_never_goes_first():
    make_lot(at=NOW - 7 * DAY, key="basil")
    make_lot(at=NOW - 7 * DAY, unit="kg")
    assert take(make_lot(at=NOW)) == NOBODY


def test_a_crate_the_buyer_refuses_would_not_have_done():
    """Bought kale at a market that takes only what the farm grew."""
    outlet = builders.market()
    outlet.own_grown_only = True
    outlet.save()
    bought = make_cases(12, crop=builders.crop(), unit="bunch", packed_on=NOW.date() - 6 * DAY)[0]
    lot = make_lot()
    assert take(lot, outlet)[::2] == (bought.pk, "refused")
    outlet.own_grown_only = False
    outlet.save()
    assert take(lot, outlet)[::2] == (bought.pk, "")


def test_a_crate_that_would_not_keep_long_enough_there_would_not_have_done():
    old, new = make_lot(at=NOW - 6 * DAY), make_lot(at=NOW)
    keeps = one_crate(old.pk, act().farm, NOW).fridge_days(5.0).days
    assert take(new, kitchen(minimum_days=keeps + 1))[::2] == (old.pk, "too old")
    Outlet.objects.update(minimum_days=keeps)
    assert take(new, Outlet.objects.get(name="The Heron"))[::2] == (old.pk, "")


def test_a_crate_promised_whole_to_another_order_would_not_have_done():
    old, new = make_lot(at=NOW - 3 * DAY), make_lot(at=NOW)
    order((old, 12))
    assert take(new)[::2] == (old.pk, "promised")


def test_a_crate_of_which_some_is_free_would_have_done():
    old, new = make_lot(at=NOW - 3 * DAY), make_lot(at=NOW)
    order((old, 11))
    assert take(new)[::2] == (old.pk, "")


def test_a_later_one_that_would_have_done_is_named_before_an_earlier_that_would_not():
    oldest, old, new = (make_lot(at=NOW - days * DAY) for days in (5, 3, 0))
    order((oldest, 12))
    assert take(new) == (old.pk, 3, "", True)


def test_of_several_that_would_have_done_the_first_is_named():
    oldest, _old, new = (make_lot(at=NOW - days * DAY) for days in (5, 3, 0))
    assert take(new) == (oldest.pk, 5, "", True)


def test_a_crate_said_to_be_out_of_reach_is_named_only_where_no_other_would_have_done():
    oldest, old, new = (make_lot(at=NOW - days * DAY) for days in (5, 3, 0))
    assert take(new, out_of_reach=oldest.pk) == (old.pk, 3, "", True)
    assert take(old, out_of_reach=oldest.pk) == (oldest.pk, 2, "", False)
    assert take(old) == (oldest.pk, 2, "", True)


def test_one_out_of_reach_that_would_have_done_is_named_before_one_that_would_not():
    oldest, old, new = (make_lot(at=NOW - days * DAY) for days in (5, 3, 0))
    order((oldest, 12))
    assert take(new, out_of_reach=old.pk) == (old.pk, 3, "", False)


def test_a_crate_an_order_looked_for_in_vain_is_out_of_reach_until_it_is_seen():
    old, new = make_lot(at=NOW - 3 * DAY), make_lot(at=NOW)
    missing(order((old, 12)), old)
    assert take(new)[::3] == (old.pk, False)
    move_lots(act(NOW + 2 * HOUR), lots=[old.pk], position=place("A2"))
    assert take(new)[::3] == (old.pk, True)


def test_a_crate_promised_to_the_same_order_is_not_passed_it_goes_too():
    """Crates of an order are fetched in the order of the walk."""
    old, new = make_lot(at=NOW - 3 * DAY), make_lot(at=NOW)
    said = order((old, 12), (new, 5))
    for lot in (new, old):
        assert told(take_for_order(act(), order=said.pk, lot=lot.pk)) == NOBODY


def test_an_order_that_takes_a_newer_crate_passes_the_older_that_is_free():
    old, new = make_lot(at=NOW - 3 * DAY), make_lot(at=NOW)
    said = order((new, 5))
    assert told(take_for_order(act(), order=said.pk, lot=new.pk)) == (old.pk, 3, "", True)


def test_after_not_there_the_order_says_the_older_could_not_be_reached():
    old, new = make_lot(at=NOW - 3 * DAY), make_lot(at=NOW)
    said = order((old, 12))
    missing(said, old)
    assert planned(said, NOW + HOUR) == [(new.pk, 12)]
    done = take_for_order(act(NOW + HOUR), order=said.pk, lot=new.pk)
    assert told(done) == (old.pk, 3, "", False)


def test_crates_on_hold_past_their_time_or_to_be_looked_at_are_never_named():
    held, past, new = make_lot(at=NOW - 3 * DAY), make_lot(at=NOW - 40 * DAY), make_lot(at=NOW)
    hold(act(), lot=held.pk, reason="a doubt")
    assert one_crate(past.pk, act().farm, NOW).verdict.worklist == "discard"
    assert take(new) == NOBODY


def test_a_crate_that_froze_is_not_named_before_somebody_looked():
    old = make_lot(at=NOW - 3 * DAY)
    cold = [(NOW - 3 * DAY + hour * HOUR, -6) for hour in range(6)]
    record_readings(Room.objects.get(), cold, kind="sensor", at=NOW, sensor="fan")
    assert one_crate(old.pk, act().farm, NOW).verdict.why == "froze"
    assert take(make_lot(at=NOW)) == NOBODY


def test_crates_that_are_out_or_wait_to_be_put_away_are_never_named():
    gone, waiting = make_lot(at=NOW - 3 * DAY), make_lot(at=NOW - 2 * DAY, position=None)
    take(gone, portion="all")
    assert one_crate(waiting.pk, act().farm, NOW).is_fit is False
    assert take(make_lot(at=NOW)) == NOBODY
