"""Crates that can't be moved, brought back or settled."""

from decimal import Decimal

import pytest

from inventory.actions.movements import Settling, bring_back, close_market, move_lots, take_out
from inventory.errors import Conflict, Refused
from inventory.models import Lot
from tests import builders
from tests.builders import act, make_lot, place
from tests.refusing import refused

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
