"""What was out of our hands: on hold from a kitchen, not for kitchens from the market stall."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import translation

from inventory.actions.movements import bring_back, move_lots, take_out, take_out_lots
from inventory.actions.quality import release
from inventory.actions.reshape import split_lot
from inventory.actions.undo import undo
from inventory.errors import Conflict, Refused
from inventory.ledger.replay import contradictions
from inventory.models import Farm, Lot, Movement
from inventory.queries.book import Wanted, find_order, plan_book
from inventory.queries.crates import one_crate
from inventory.queries.scans import read_scan
from inventory.queries.slips import read_slip
from inventory.queries.was_out import read_was_out
from inventory.rotation.scans import Mode
from inventory.words.scans import scan_words
from tests.builders import NOW, act, crop, fresh, make_lot, market, place, say_order, take
from tests.deliveries import got, handed, kitchen
from tests.refusing import refused

pytestmark = pytest.mark.usefixtures("farm")
HOUR = timedelta(hours=1)


def back_from(lot: Lot, quantity=12, at=NOW + HOUR):
    return bring_back(
        act(at), lot=lot.pk, quantity=Decimal(quantity), warm_hours=Decimal(1), position=place()
    )


def from_market(quantity=12) -> Lot:
    lot = make_lot(quantity)
    take(lot, "all")
    back_from(lot, quantity)
    return fresh(lot)


def test_what_was_with_a_kitchen_is_on_hold_until_the_owner_releases_it():
    lot = make_lot(12)
    handed(got(kitchen(), (lot, 12)))
    back = back_from(lot)
    assert fresh(lot).held
    assert back.movements.get(kind=Movement.Kind.HELD).note == "was with a buyer"
    with refused(Conflict("held", code=lot.pk)):
        take(lot, "all", at=NOW + 2 * HOUR)
    release(act(NOW + 2 * HOUR), lot=lot.pk, reason="never opened")
    assert read_was_out([lot.pk]) == {lot.pk: False}
    handed(got(kitchen("Inn"), (lot, 12), at=NOW + 3 * HOUR), at=NOW + 3 * HOUR)
    slip = read_slip(2)
    assert slip is not None
    assert slip.lines[0].was_out


def test_a_part_that_was_with_a_kitchen_is_on_hold_and_not_what_stayed_here():
    lot = make_lot(12)
    handed(got(kitchen(), (lot, 5)))
    back_from(lot, 5)
    (part,) = lot.children.all()
    assert (part.held, fresh(lot).held) == (True, False)
    assert read_was_out([part.pk, lot.pk]) == {part.pk: True}


def test_what_was_taken_for_an_order_and_never_left_is_as_before():
    lot = make_lot(12)
    got(kitchen(), (lot, 12))
    back_from(lot)
    assert not fresh(lot).held
    assert read_was_out([lot.pk]) == {}


def test_what_was_given_and_comes_back_was_not_sold_by_us():
    lot = make_lot(12)
    take_out(act(), lot=lot.pk, portion="all", purpose="own use")
    back_from(lot)
    assert read_was_out([lot.pk]) == {}


def test_from_the_market_stall_it_is_for_the_market_giving_and_own_use():
    lot, heron = from_market(), kitchen()
    assert not lot.held
    refusal = {"field": "outlet", "outlet": "Lantern House", "tag": "was-out"}
    late = NOW + 2 * HOUR
    with refused(Refused("outlet-refuses", **refusal)):
        take_out(act(late), lot=lot.pk, portion="all", purpose="order", outlet=heron)
    with refused(Refused("outlet-refuses-one", code=lot.pk, **refusal)):
        take_out_lots(act(late), lots=[lot.pk], purpose="order", outlet=heron)
    take_out(act(late), lot=lot.pk, portion=Decimal(3), purpose="own use")
    take_out(act(late), lot=lot.pk, portion=Decimal(3), purpose="given", to="the pantry")
    take(lot, Decimal(3), at=late)
    release(act(late), lot=lot.pk, reason="it stood in the cold box")
    assert contradictions(lot.movements.all()) == []
    take_out(act(late), lot=lot.pk, portion="all", purpose="order", outlet=heron)


def test_only_what_was_out_or_is_held_is_released():
    lot = make_lot(12)
    with refused(Conflict("not-held", code=lot.pk)):
        release(act(), lot=lot.pk, reason="why not")


def planned(outlet) -> list[str]:
    line = Wanted(crop(), "bunch", Decimal(5))
    late = NOW + 2 * HOUR
    order = say_order(act(late), outlet=outlet, lines=[line])
    return [take.crate.code for take in plan_book(Farm.objects.get(), late).of(order.pk)]


def test_the_plan_sends_it_to_the_market_and_to_no_kitchen():
    lot = from_market()
    assert planned(kitchen()) == []
    assert planned(market()) == [lot.pk]


def test_a_crate_filled_from_it_was_out_too_but_not_one_filled_before():
    lot = make_lot(12)
    split_lot(act(), lot=lot.pk, quantity=Decimal(4))
    before = Lot.objects.get(parents=lot)
    take(lot, "all", at=NOW + HOUR)
    back_from(lot, 8, at=NOW + 2 * HOUR)
    split_lot(act(NOW + 3 * HOUR), lot=lot.pk, quantity=Decimal(4))
    after = Lot.objects.filter(parents=lot).exclude(pk=before.pk).get()
    assert read_was_out([before.pk, after.pk]) == {after.pk: True}
    release(act(NOW + 4 * HOUR), lot=after.pk, reason="cold all day")
    assert read_was_out([after.pk, lot.pk]) == {after.pk: False, lot.pk: True}


def test_a_return_taken_back_counts_for_nothing():
    lot = make_lot(12)
    take(lot, "all")
    undo(act(NOW + 2 * HOUR), action=back_from(lot))
    assert read_was_out([lot.pk]) == {}


def test_its_row_says_that_it_was_out(farm):
    lot = from_market()
    move_lots(act(NOW + 2 * HOUR), lots=[lot.pk], position=place("A2"))
    crate = one_crate(lot.pk, farm, NOW + 3 * HOUR)
    assert crate is not None
    assert (crate.was_out, crate.barred, crate.is_fit) == (True, True, True)


def test_a_scan_for_a_kitchen_says_what_is_refused(farm):
    lot, heron = from_market(), kitchen()
    late = NOW + 2 * HOUR
    line = Wanted(crop(), "bunch", Decimal(5))
    order = say_order(act(late), outlet=heron, lines=[line])
    scan = read_scan(Mode.ORDER, lot.pk, farm, late, order=find_order(order.pk, farm, late))
    with translation.override("en"):
        assert "it was out of our hands" in scan_words(scan)
