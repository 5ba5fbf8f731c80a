"""Looks, discards, holds and releases; those that say too little are refused."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from inventory.actions.movements import bring_back
from inventory.actions.quality import discard, discard_lots, hold, inspect, judge_crate, release
from inventory.actions.reshape import split_lot
from inventory.actions.undo import undo
from inventory.errors import Conflict, Refused
from inventory.models import Lot, Movement
from inventory.queries.crates import one_crate
from tests import builders
from tests.builders import NOW, act, fresh, make_cases, make_lot, make_lots, take
from tests.refusing import refusal, refused

pytestmark = pytest.mark.usefixtures("farm")
HOUR = timedelta(hours=1)


def throw_out(lot):
    return discard(act(), lot=lot.pk, portion="all", reason="wilted", destination="compost")


def test_an_empty_crate_is_not_thrown_out_again():
    lot = make_lot(12)
    throw_out(lot)
    with refused(Conflict("not-here", code=lot.pk, state="empty")):
        throw_out(lot)


def test_several_are_thrown_out_whole_for_one_reason_and_back_by_one_undo():
    lots = make_lots(12, 7, 4)
    why = {"reason": "wilted", "destination": "compost", "judgement": "gone", "note": "A1 warm"}
    action = discard_lots(act(), lots=[lot.pk for lot in lots], **why)
    entries = action.movements.order_by("number").values_list("lot_id", "change", *why)
    assert list(entries) == [(lot.pk, -lot.quantity, *why.values()) for lot in lots]
    assert set(Lot.objects.values_list("state", flat=True)) == {"empty"}
    undo(act(), action=action)
    assert set(Lot.objects.values_list("state", "quantity")) == {
        ("in place", 12), ("in place", 7), ("in place", 4),
    }  # fmt: skip


def test_of_several_one_that_is_empty_is_named_and_none_is_thrown_out():
    here, gone = make_lots(12, 12)
    throw_out(gone)
    with refused(Conflict("not-here", code=gone.pk, state="empty")):
        discard_lots(act(), lots=[here.pk, gone.pk], reason="wilted", destination="compost")
    with refused(Refused("no-crates", field="lots")):
        discard_lots(act(), lots=[], reason="wilted", destination="compost")


def test_several_are_held_at_once_with_what_came_back_of_them_and_freed_by_one_undo():
    """Told late: a part of one came back meanwhile."""
    lots = make_lots(12, 12, 12)
    take(lots[0], Decimal(5))
    bring_back(act(NOW + 3 * HOUR), lot=lots[0].pk, quantity=Decimal(2))
    child = Lot.objects.get(parents=lots[0])
    hold(act(), lot=lots[2].pk, reason="a doubt")
    told = act(NOW + 5 * HOUR, told_at=NOW + HOUR)
    action = hold(told, lots=[lot.pk for lot in lots], reason="glass or metal")
    assert Lot.objects.filter(held=True).count() == 4
    assert action.movements.filter(lot=child).exists()
    assert not action.movements.filter(lot=lots[2]).exists()  # it was held
    undo(act(NOW + 6 * HOUR), action=action)
    assert Lot.objects.get(held=True) == lots[2]
    later = NOW + 7 * HOUR
    hold(act(later), lots=[lot.pk for lot in lots[:2]], reason="a doubt")
    with refused(Conflict("held-already")):
        hold(act(later), lots=[lot.pk for lot in lots], reason="a doubt")


def test_keeping_a_crate_says_what_was_seen():
    lot = make_lot(12)
    with refused(Refused("what-seen", field="seen")):
        inspect(act(), lot=lot.pk, days=3, seen="")


def test_a_hold_says_why():
    lot = make_lot(12)
    with refused(Refused("hold-reason", field="reason")):
        hold(act(), lot=lot.pk, reason="")


def test_what_is_on_hold_is_not_held_again():
    one, other = make_lots(12, 12)
    hold(act(), lot=one.pk, reason="a doubt")
    with refused(Conflict("held-already")):
        hold(act(), lot=one.pk, reason="glass or metal")
    hold(act(), lot=other.pk, reason="a doubt")
    with refused(Conflict("held-already")):
        hold(act(), intake=one.intake, reason="glass or metal")


def test_a_crate_of_which_nothing_is_left_is_not_held():
    lot = make_lot(12)
    throw_out(lot)
    with refused(Conflict("nothing-to-hold")):
        hold(act(), lot=lot.pk, reason="a doubt")
    with refused(Conflict("nothing-to-hold")):
        hold(act(), intake=lot.intake, reason="a doubt")


def test_a_release_says_why():
    lot = make_lot(12)
    hold(act(), lot=lot.pk, reason="a doubt")
    with refused(Refused("release-reason", field="reason")):
        release(act(), lot=lot.pk, reason="")


def test_a_crate_that_is_not_held_is_not_released():
    lot = make_lot(12)
    with refused(Conflict("not-held", code=lot.pk)):
        release(act(), lot=lot.pk, reason="washed, checked")


def test_discarding_says_why_and_where_to():
    lot = make_lot(12)
    discard(act(), lot=lot.pk, portion="half", reason="wilted", destination="compost")
    discard(act(), lot=lot.pk, portion="all", reason="spoiled", destination="landfill")
    assert fresh(lot).state == "empty"
    assert list(Movement.objects.filter(kind="discarded").values_list("change", "destination")) == [
        (-6, "compost"), (-6, "landfill"),
    ]  # fmt: skip


def test_a_crate_is_kept_to_the_end_of_a_farm_day():
    late = NOW.replace(hour=3)  # the evening before in New York
    lot = make_lot(12, at=late)
    inspect(act(late), lot=lot.pk, days=3, seen="firm")
    assert fresh(lot).kept_until == date(2026, 6, 12)
    for days in (0, 8):
        with refusal("keep-days"):
            inspect(act(late), lot=lot.pk, days=days, seen="firm")


def test_only_the_owner_releases_what_anybody_held():
    lot, other = make_lots(12, 12)
    crew = builders.make_crew()
    hold(act(person=crew), lot=lot.pk, reason="a doubt")
    with pytest.raises(Conflict, match="held"):
        take(lot, "all")
    with refusal("owner-only"):
        release(act(person=crew), lot=lot.pk, reason="looks fine")
    release(act(), lot=lot.pk, reason="washed, checked")
    assert not fresh(lot).held
    assert not fresh(other).held


def test_holding_an_intake_holds_what_was_made_of_it():
    lot, other = make_lots(12, 12)
    split_lot(act(), lot=lot.pk, quantity=Decimal(5))
    gone = make_lot(12)
    discard(act(), lot=gone.pk, portion="all", reason="wilted", destination="compost")
    take(other, "all")
    hold(act(), intake=lot.intake, reason="droppings")
    held = set(Lot.objects.filter(held=True).values_list("pk", flat=True))
    assert held == {lot.pk, Lot.objects.get(parents=lot).pk, other.pk}


@pytest.fixture
def past() -> Lot:
    """A case the day after its use-by date."""
    return make_cases(18, best_before=NOW.date() - timedelta(days=1), best_before_kind="use by")[0]


def test_past_its_use_by_date_nobody_keeps_a_case_or_calls_it_good(past):
    with refused(Conflict("past-use-by", code=past.pk)):
        inspect(act(), lot=past.pk, days=3, seen="looks fine")
    with refused(Conflict("past-use-by", code=past.pk)):
        judge_crate(act(), lot=past.pk, answer="fine")


def test_past_its_use_by_date_the_owner_does_not_release_it_either(past):
    with refused(Conflict("not-held", code=past.pk)):
        release(act(), lot=past.pk, reason="all right")
    hold(act(), lot=past.pk, reason="a doubt")
    with refused(Conflict("past-use-by", code=past.pk)):
        release(act(), lot=past.pk, reason="all right")
    throw_out(past)
    assert fresh(past).state == "empty"


def test_past_a_best_before_date_it_is_looked_at_and_kept():
    day = NOW.date() - timedelta(days=1)
    case = make_cases(18, best_before=day, best_before_kind="best before")[0]
    assert one_crate(case.pk, act().farm, NOW).verdict.why == "past-date"
    inspect(act(), lot=case.pk, days=3, seen="firm")
    assert one_crate(case.pk, act().farm, NOW).verdict.worklist == "kept"
