"""Looks, holds and releases that say too little, or are about nothing."""

import pytest

from inventory.actions.quality import discard, hold, inspect, release
from inventory.errors import Conflict, Refused
from tests.builders import act, make_lot, make_lots
from tests.refusing import refused

pytestmark = pytest.mark.usefixtures("farm")


def throw_out(lot):
    return discard(act(), lot=lot.pk, portion="all", reason="wilted", destination="compost")


def test_an_empty_crate_is_not_thrown_out_again():
    lot = make_lot(12)
    throw_out(lot)
    with refused(Conflict("not-here", code=lot.pk, state="empty")):
        throw_out(lot)


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
