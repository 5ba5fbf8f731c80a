"""In which order crates came in, and what is left to put away."""

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.actions.intakes import put_away_lots
from inventory.actions.movements import bring_back, move_lots, take_out
from inventory.actions.reshape import split_lot
from inventory.actions.undo import undo
from inventory.models import Lot
from inventory.queries.crates import crates_here
from inventory.queries.intakes import Left, by_arrival, left_to_put_away
from tests.builders import NOW, act, make_lot, make_lots, place

HOUR = timedelta(hours=1)


def test_crates_stand_in_the_order_in_which_they_were_typed(farm):
    first = make_lots(12, 6, *[12] * 8, "4.5", unit="kg", position=None)
    second = make_lots(*[12] * 3, at=NOW - HOUR)  # told later, though cut earlier
    split_lot(act(), lot=first[0].pk, quantity=Decimal(5))
    made = Lot.objects.exclude(parents=None).get()
    codes = [crate.code for crate in by_arrival(crates_here(farm, NOW))]
    assert codes == [lot.pk for lot in (*first, *second, made)]


def left(*lots: Lot, at=NOW) -> Left | None:
    codes = [lot.pk for lot in lots]
    return left_to_put_away(put_away_lots(act(at), lots=codes, position=place("B2")))


def test_the_rest_of_the_harvest_is_left_and_then_the_rest_of_all(farm):
    first, *others = make_lots(12, 12, 12, position=None)
    make_lots(12, 12, key="salad-mix", unit="kg", position=None)
    assert left(first) == Left(2, first.intake_id)
    assert left(*others) == Left(2)


def test_nothing_is_left_once_all_stand(farm):
    assert left(make_lot(position=None)) == Left(0)


def test_what_only_moved_or_did_something_else_leaves_nothing_to_put_away(farm):
    waiting, here = make_lot(position=None), make_lot()
    assert left_to_put_away(move_lots(act(), lots=[here.pk], position=place("B2"))) is None
    out = take_out(act(), lot=waiting.pk, portion="all", purpose="own use")
    assert left_to_put_away(out) is None


def test_what_came_back_and_what_an_undo_left_waits_again(farm):
    lot, _other = make_lot(), make_lot(position=None)
    take_out(act(), lot=lot.pk, portion="all", purpose="own use")
    bring_back(act(), lot=lot.pk, quantity=Decimal(12))
    action = put_away_lots(act(), lots=[lot.pk], position=place("B2"))
    assert left_to_put_away(action) == Left(1)
    undo(act(), action=action)
    assert left(lot) == Left(1)


@pytest.mark.parametrize("position", [None, "A1"])
def test_the_page_of_a_harvest_lists_its_crates_as_they_were_typed(signed_in, position):
    lots = make_lots(*range(1, 13), position=position and place(position))
    shown = signed_in.get(f"/intake/{lots[0].intake_id}").context["crates"]
    assert [crate.code for crate in shown] == [lot.pk for lot in lots]
