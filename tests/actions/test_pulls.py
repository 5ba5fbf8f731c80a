"""Orders that can't be written down, promised or taken."""

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.actions.pulls import (
    Wanted,
    close_pull,
    open_pull,
    plan_pull,
    promise,
    take_promised,
)
from inventory.errors import Conflict, Refused
from inventory.models import PullTake
from tests import builders
from tests.builders import NOW, act, make_cases, make_crew, make_lot
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


def test_a_case_is_promised_up_to_its_use_by_date_and_not_taken_after_it():
    """Regulation (EU) No 1169/2011, Article 24(1)."""
    case = make_cases(18, best_before=NOW.date(), best_before_kind="use by")[0]
    wanted = [Wanted(case.crop, "kg", Decimal(5))]
    farm, tomorrow = act().farm, NOW + timedelta(days=1)
    today = open_pull(act(), lines=wanted, outlet=builders.market())
    plan_pull(today, farm, NOW)
    take = PullTake.objects.get()
    later = open_pull(act(tomorrow), lines=wanted, outlet=builders.market())
    plan_pull(later, farm, tomorrow)
    assert PullTake.objects.get() == take
    with refused(Conflict("past-use-by", code=case.pk)):
        take_promised(act(tomorrow), take=take)
    take_promised(act(), take=take)
