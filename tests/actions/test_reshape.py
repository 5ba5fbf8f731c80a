"""Crates that can't be counted or sorted."""

from decimal import Decimal

import pytest

from inventory.actions.movements import take_out
from inventory.actions.reshape import count_lots, resort_lots
from inventory.errors import Conflict, Refused
from tests.builders import act, make_lot
from tests.refusing import refused

pytestmark = pytest.mark.usefixtures("farm")


def test_sorting_needs_a_crate():
    nothing = dict.fromkeys(("firsts", "seconds", "culls", "lost"), Decimal(0))
    with refused(Refused("no-crates", field="lots")):
        resort_lots(act(), lots=[], **nothing)


def test_a_crate_that_is_out_is_not_counted_and_neither_are_those_with_it():
    here, gone = make_lot(12), make_lot(12)
    take_out(act(), lot=gone.pk, portion="all", purpose="own use")
    figures = {here.pk: Decimal(10), gone.pk: Decimal(3)}
    with refused(Conflict("not-here", code=gone.pk, state="out")):
        count_lots(act(), figures=figures, reason="counted")


def test_culls_go_somewhere():
    lot = make_lot(12)
    amounts = {"firsts": 9, "seconds": 0, "culls": 3, "lost": 0}
    sorting = {name: Decimal(amount) for name, amount in amounts.items()}
    with refused(Refused("destination", field="destination")):
        resort_lots(act(), lots=[lot.pk], **sorting)
    resort_lots(act(), lots=[lot.pk], **sorting, destination="compost")
