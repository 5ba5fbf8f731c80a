"""Crates are moved, go out, come back and are settled; what is impossible is refused."""

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.actions.movements import (
    Settling,
    bring_back,
    close_market,
    move_lots,
    send_back,
    take_out,
    take_out_lots,
)
from inventory.actions.quality import hold
from inventory.actions.reshape import combine_lots
from inventory.actions.undo import undo
from inventory.errors import Conflict, Refused
from inventory.ledger.fold import Outing
from inventory.ledger.outings import out_of
from inventory.models import FirstInLine, Lot, Movement, Outlet, Source
from tests import builders
from tests.builders import NOW, act, fresh, make_cases, make_lot, make_lots, place, take
from tests.refusing import refusal, refused

pytestmark = pytest.mark.usefixtures("farm")


def to_market(lot: Lot, portion="all"):
    return take_out(act(), lot=lot.pk, portion=portion, purpose="market", outlet=builders.market())


def test_moving_needs_a_crate():
    with refused(Refused("no-crates", field="lots")):
        move_lots(act(), lots=[], position=place("B2"))


def test_a_crate_that_is_out_is_not_moved_and_neither_are_those_with_it():
    here, gone = make_lot(12), make_lot(12)
    to_market(gone)
    with refused(Conflict("not-here", code=gone.pk, state="out")):
        move_lots(act(), lots=[here.pk, gone.pk], position=place("B2"))


def test_crates_are_moved_in_the_order_in_which_they_are_named():
    lots = make_lots(12, 12, 12, 12)
    named = [lots[index].pk for index in (2, 0, 3, 1)]
    action = move_lots(act(), lots=named, position=place("B2"))
    assert list(action.movements.order_by("number").values_list("lot_id", flat=True)) == named


def out(*lots: Lot, **changes):
    for_whom = {"purpose": "own use"} | changes
    return take_out_lots(act(), lots=[lot.pk for lot in lots], **for_whom)


def test_several_go_out_whole_at_once_and_come_back_by_one_undo():
    whole, part = make_lot(12), make_lot(4, unit="kg")
    action = out(whole, part, purpose="market", outlet=builders.market())
    assert {fresh(lot).state for lot in (whole, part)} == {"out"}
    assert set(action.movements.values_list("lot_id", "amount", "outlet")) == {
        (whole.pk, 12, builders.market().pk), (part.pk, 4, builders.market().pk),
    }  # fmt: skip
    undo(act(), action=action)
    assert [(fresh(lot).state, fresh(lot).quantity) for lot in (whole, part)] == [
        ("in place", 12), ("in place", 4),
    ]  # fmt: skip


def test_of_several_none_is_passed_by_those_that_go_with_it():
    """Named youngest first, taken oldest first; an older one that stays is named for each."""
    young, old = make_lot(at=NOW), make_lot(at=NOW - timedelta(days=2))
    assert not FirstInLine.objects.filter(movement__action=out(young, old)).exclude(first=None)
    stays = make_lot(at=NOW - timedelta(days=3))
    action = out(make_lot(at=NOW), make_lot(at=NOW - timedelta(days=1)))
    passed = FirstInLine.objects.filter(movement__action=action)
    assert list(passed.values_list("first", flat=True)) == [stays.pk, stays.pk]


def test_one_of_several_that_cannot_go_is_named_and_all_stay():
    here, held, gone = make_lots(12, 12, 12)
    hold(act(), lot=held.pk, reason="a doubt")
    to_market(gone)
    with refused(Conflict("held", code=held.pk)):
        out(here, held)
    with refused(Conflict("not-here", code=gone.pk, state="out")):
        out(here, gone)
    with refused(Refused("no-crates", field="lots")):
        out()
    with refused(Refused("to-whom", field="to")):
        out(here, purpose="given")


def test_one_of_several_that_a_buyer_does_not_take_is_named():
    own, (bought,) = make_lot(12), make_cases(18)
    picky = Outlet.objects.create(name="Own-grown market", own_grown_only=True)
    no = Refused(
        "outlet-refuses-one", field="outlet", code=bought.pk, outlet=picky.name, tag="bought-in"
    )
    with refused(no):
        out(own, bought, purpose="market", outlet=picky)


def test_nothing_comes_back_of_a_crate_of_which_nothing_is_out():
    lot = make_lot(12)
    with refused(Conflict("nothing-out", code=lot.pk)):
        bring_back(act(), lot=lot.pk, quantity=Decimal(2))


def test_a_market_day_without_crates_is_not_closed():
    with refused(Conflict("nothing-out", code="Market")):
        close_market(act(), market=builders.at_market(), rows=[])


def test_a_crate_settled_meanwhile_is_named_and_none_is_settled():
    out, settled = make_lot(12), make_lot(12)
    to_market(out)
    to_market(settled)
    close_market(act(), market=builders.at_market(), rows=[Settling(settled.pk, Decimal(12))])
    rows = [Settling(out.pk, Decimal(12)), Settling(settled.pk, Decimal(12))]
    with refused(Conflict("nothing-out", code=settled.pk)):
        close_market(act(), market=builders.at_market(), rows=rows)


def test_more_than_was_taken_to_market_is_not_settled():
    lot = make_lot(12)
    to_market(lot, Decimal(5))
    left = {"code": lot.pk, "left": Decimal(5), "unit": "bunch"}
    for row in (Settling(lot.pk, Decimal(5), back=Decimal(6)), Settling(lot.pk, Decimal(6))):
        with refused(Conflict("more-than-out", field=f"back-{lot.pk}", **left)):
            close_market(act(), market=builders.at_market(), rows=[row])


@pytest.mark.parametrize("hours", ["-1", "72.1"])
def test_no_crate_stands_warm_for_less_than_nothing_or_more_than_three_days(hours):
    lot = make_lot(12)
    to_market(lot)
    with refused(Refused("warm-hours", field="warm_hours")):
        bring_back(act(), lot=lot.pk, quantity=Decimal(2), warm_hours=Decimal(hours))
    bring_back(act(), lot=lot.pk, quantity=Decimal(2), warm_hours=Decimal(72))


def test_taking_all_makes_the_lot_out_and_it_comes_back_under_its_own_code():
    lot = make_lot(12)
    take(lot, "all")
    assert (fresh(lot).state, fresh(lot).quantity, fresh(lot).position) == ("out", 0, None)
    bring_back(act(NOW + timedelta(hours=5)), lot=lot.pk, quantity=Decimal(4), position=place())
    assert (fresh(lot).state, fresh(lot).quantity) == ("in place", 4)
    assert Lot.objects.count() == 1


def test_what_comes_back_of_a_part_is_a_crate_of_its_own():
    lot = make_lot(12)
    take(lot, Decimal(5))
    assert (fresh(lot).state, fresh(lot).quantity) == ("in place", 7)
    bring_back(act(NOW + timedelta(hours=5)), lot=lot.pk, quantity=Decimal(2))
    child = Lot.objects.get(parents=lot)
    assert (child.quantity, child.state, child.intake) == (2, "to put away", lot.intake)
    assert fresh(lot).quantity == 7
    assert list(out_of(fresh(lot)).values()) == [3]


@pytest.mark.parametrize("share", ["quarter", "half", "three-quarters"])
def test_a_share_is_resolved_by_what_is_in_the_crate(share):
    lot = make_lot(18)
    take(lot, share)
    assert fresh(lot).quantity == {"quarter": 13, "half": 9, "three-quarters": 4}[share]


def test_more_than_there_is_can_not_go_out_nor_come_back():
    lot = make_lot(12)
    with pytest.raises(Conflict, match="more-than-there"):
        take(lot, Decimal(13))
    take(lot, Decimal(5))
    with pytest.raises(Conflict, match="more-than-out"):
        bring_back(act(), lot=lot.pk, quantity=Decimal(6))


def test_a_gift_says_to_whom():
    lot = make_lot(12)
    with refusal("to-whom"):
        take(lot, "all", purpose="given")
    take(lot, "all", purpose="given", to="pantry")
    assert Movement.objects.get(kind="out").other_party == "pantry"


def test_a_market_that_takes_only_our_own_refuses_bought_apples():
    outlet = builders.market()
    outlet.own_grown_only = True
    outlet.save()
    case = make_cases("18.1")[0]
    with refusal("outlet-refuses") as refused:
        take(case, "all")
    assert refused.value.facts["tag"] == "bought-in"
    assert fresh(case).quantity == Decimal("18.1")


def test_the_market_day_is_closed_crate_by_crate():
    """The trade's own story in small: most sold, some back, a few lost."""
    whole, part = make_lots(18, 18)
    take(whole, "all")
    take(part, Decimal(10))
    close_market(
        act(NOW + timedelta(hours=6)), market=builders.at_market(), warm_hours=Decimal(5),
        rows=[
            Settling(whole.pk, Decimal(18), lost=Decimal(2)),
            Settling(part.pk, Decimal(10), back=Decimal(4), given=Decimal(1)),
        ],
    )  # fmt: skip
    assert fresh(whole).state == "empty"
    assert Lot.objects.get(parents=part).quantity == 4
    settled = Movement.objects.filter(kind="settled").values_list("lot_id", "outcome", "amount")
    assert set(settled) == {
        (whole.pk, "sold", 16), (whole.pk, "lost", 2), (part.pk, "sold", 5), (part.pk, "given", 1),
    }  # fmt: skip
    assert out_of(fresh(whole)) == out_of(fresh(part)) == {}


def test_what_comes_back_of_a_held_crate_is_held(farm):
    whole, part = make_lots(12, 12)
    take(whole, "all")
    take(part, Decimal(5))
    hold(act(), intake=whole.intake, reason="glass or metal")
    for lot in (whole, part):
        bring_back(act(NOW + timedelta(hours=5)), lot=lot.pk, quantity=Decimal(2))
    assert Lot.objects.filter(held=True).count() == 3
    assert Lot.objects.get(parents=part).held


def test_a_crate_that_went_two_ways_comes_back_from_either():
    lot = make_lot(12)
    take(lot, Decimal(6))
    take(lot, Decimal(2), purpose="order")
    bring_back(act(), lot=lot.pk, quantity=Decimal(4), outing=builders.at_market())
    assert out_of(fresh(lot)) == {builders.at_market(): 2, Outing("order", ""): 2}


def test_closing_the_market_leaves_what_is_out_for_an_order():
    lot = make_lot(12)
    take(lot, Decimal(4))
    take(lot, "all", purpose="order")
    close_market(act(), market=builders.at_market(), rows=[Settling(lot.pk, Decimal(4))])
    assert fresh(lot).state == "out"
    bring_back(act(), lot=lot.pk, quantity=Decimal(8))
    assert (fresh(lot).state, fresh(lot).quantity) == ("to put away", 8)


@pytest.fixture
def past() -> Lot:
    """A case the day after its use-by date."""
    return make_cases(18, best_before=NOW.date() - timedelta(days=1), best_before_kind="use by")[0]


@pytest.mark.parametrize("purpose", ["order", "market", "given", "own use"])
def test_past_its_use_by_date_a_case_goes_out_for_nothing(past, purpose):
    """Regulation (EU) No 1169/2011, Article 24(1)."""
    outlet = builders.market() if purpose == "market" else None
    with refused(Conflict("past-use-by", code=past.pk)):
        take_out(act(), lot=past.pk, portion="half", purpose=purpose, outlet=outlet, to="Ben")


def test_a_hold_does_not_hide_that_it_is_past_its_use_by_date(past):
    hold(act(), lot=past.pk, reason="a doubt")
    with refused(Conflict("past-use-by", code=past.pk)):
        take(past, "all")


def test_on_the_day_of_its_use_by_date_it_still_goes_out_also_when_that_is_told_later():
    day, tomorrow = NOW.date(), NOW + timedelta(days=1)
    case = make_cases(18, best_before=day, best_before_kind="use by")[0]
    taking = {"lot": case.pk, "portion": Decimal(2), "purpose": "own use"}
    take_out(act(NOW), **taking)
    with refused(Conflict("past-use-by", code=case.pk)):
        take_out(act(tomorrow), **taking)
    take_out(act(tomorrow, told_at=NOW + timedelta(minutes=5)), **taking)
    assert fresh(case).quantity == 14


def test_past_a_best_before_date_it_may_go_when_a_person_says_so():
    case = make_cases(18, best_before=NOW.date() - timedelta(days=1), best_before_kind="sell by")[0]
    take(case, "all")
    assert fresh(case).state == "out"


@pytest.mark.parametrize("held", [False, True])
def test_a_case_goes_back_to_its_supplier_past_its_date_and_on_hold(past, held):
    if held:
        hold(act(), lot=past.pk, reason="a doubt")
    action = send_back(act(), lot=past.pk, portion="all", note="past its date")
    (entry,) = action.movements.all()
    assert (entry.kind, entry.purpose, entry.other_party, entry.note) == (
        "out", "sent back", "Orchard", "past its date",
    )  # fmt: skip
    assert (entry.change, entry.amount, fresh(past).state) == (-18, 18, "out")
    assert not hasattr(entry, "first_in_line")
    undo(act(), action=action)
    assert (fresh(past).quantity, fresh(past).held) == (18, held)


def test_a_part_goes_back_and_the_rest_stays(past):
    send_back(act(), lot=past.pk, portion=Decimal(5))
    assert (fresh(past).quantity, fresh(past).state) == (13, "in place")
    with refused(
        Conflict("more-than-there", field="quantity", code=past.pk, left=Decimal(13), unit="kg")
    ):
        send_back(act(), lot=past.pk, portion=Decimal(14))


def test_our_own_harvest_and_what_is_gone_can_not_be_sent_back(past):
    lot = make_lot(12)
    with refused(Conflict("not-bought", code=lot.pk)):
        send_back(act(), lot=lot.pk, portion="all")
    send_back(act(), lot=past.pk, portion="all")
    with refused(Conflict("not-here", code=past.pk, state="out")):
        send_back(act(), lot=past.pk, portion="all")


def test_a_crate_of_several_suppliers_has_nobody_to_go_back_to(past):
    other = Source.objects.create(kind="supplier", name="Mill")
    one, two = make_cases(18)[0], make_cases(18, source=other)[0]
    combine_lots(act(), lots=[one.pk, two.pk])
    mixed = Lot.objects.get(parents=one)
    with refused(Conflict("not-bought", code=mixed.pk)):
        send_back(act(), lot=mixed.pk, portion="all")
