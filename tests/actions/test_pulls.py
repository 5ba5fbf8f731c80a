"""Orders that can't be written down, promised or taken."""

from decimal import Decimal

import pytest

from inventory.actions.pulls import Wanted, close_pull, open_pull, promise, take_promised
from inventory.errors import Conflict, Refused
from inventory.models import PullTake
from tests import builders
from tests.builders import act, make_crew, make_lot
from tests.refusing import refused

pytestmark = pytest.mark.usefixtures("farm")


def order(made, quantity=5):
    wanted = [Wanted(builders.crop(), "bunch", Decimal(quantity))]
    return open_pull(made, lines=wanted, outlet=builders.market())


def test_an_order_is_for_something():
    with refused(Refused("no-lines", field="lines")):
        open_pull(act(), lines=[], new_outlet="The Heron")


def test_an_order_of_nothing_leaves_no_new_buyer_behind():
    wanted = [Wanted(builders.crop(), "bunch", Decimal(0))]
    with refused(Refused("not-positive", field="quantity")):
        open_pull(act(), lines=wanted, new_outlet="The Heron")


def test_an_order_is_not_somebody_elses():
    made, crew = act(), make_crew()
    order(made)
    with refused(Conflict("sent-before")):
        order(act(id=made.id, person=crew))


def test_nothing_is_promised_to_an_order_that_was_finished():
    lot, pull = make_lot(12), order(act())
    close_pull(act(), pull=pull)
    with refused(Conflict("no-longer-open")):
        promise(pull, [(pull.lines.get(), lot.pk, Decimal(5))])


def test_a_crate_is_promised_once():
    lot, first, second = make_lot(6), order(act()), order(act())
    promise(first, [(first.lines.get(), lot.pk, Decimal(5))])
    with refused(Conflict("promised-meanwhile", code=lot.pk)):
        promise(second, [(second.lines.get(), lot.pk, Decimal(5))])


def test_a_promised_crate_is_taken_once():
    lot, pull = make_lot(12), order(act())
    promise(pull, [(pull.lines.get(), lot.pk, Decimal(5))])
    take_promised(act(), take=PullTake.objects.get())
    with refused(Conflict("taken-already", code=lot.pk)):
        take_promised(act(), take=PullTake.objects.get())
