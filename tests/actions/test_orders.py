"""Orders that can't be written down, promised or taken."""

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.actions.orders import (
    Wanted,
    close_order,
    mark_found,
    mark_missing,
    plan_pull,
    promise,
    say_order,
    take_for_order,
)
from inventory.actions.quality import discard
from inventory.actions.reshape import count_lots
from inventory.errors import Conflict, Refused
from inventory.models import Take
from inventory.queries.orders import pull_lines
from tests import builders
from tests.builders import NOW, act, make_cases, make_crew, make_lot
from tests.refusing import refused

pytestmark = pytest.mark.usefixtures("farm")


def order(made, quantity=5):
    wanted = [Wanted(builders.crop(), "bunch", Decimal(quantity))]
    return say_order(made, lines=wanted, outlet=builders.market())


def test_an_order_is_for_something():
    with refused(Refused("no-lines", field="lines")):
        say_order(act(), lines=[], new_outlet="The Heron")


def test_an_order_of_nothing_leaves_no_new_buyer_behind():
    wanted = [Wanted(builders.crop(), "bunch", Decimal(0))]
    with refused(Refused("not-positive", field="quantity")):
        say_order(act(), lines=wanted, new_outlet="The Heron")


def test_an_order_is_not_somebody_elses():
    made, crew = act(), make_crew()
    order(made)
    with refused(Conflict("sent-before")):
        order(act(id=made.id, person=crew))


def test_nothing_is_promised_to_an_order_that_was_finished():
    lot, pull = make_lot(12), order(act())
    close_order(act(), pull=pull)
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
    take_for_order(act(), take=Take.objects.get())
    with refused(Conflict("taken-already", code=lot.pk)):
        take_for_order(act(), take=Take.objects.get())


def test_a_case_is_promised_up_to_its_use_by_date_and_not_taken_after_it():
    """Regulation (EU) No 1169/2011, Article 24(1)."""
    case = make_cases(18, best_before=NOW.date(), best_before_kind="use by")[0]
    wanted = [Wanted(case.crop, "kg", Decimal(5))]
    farm, tomorrow = act().farm, NOW + timedelta(days=1)
    today = say_order(act(), lines=wanted, outlet=builders.market())
    plan_pull(today, farm, NOW)
    take = Take.objects.get()
    later = say_order(act(tomorrow), lines=wanted, outlet=builders.market())
    plan_pull(later, farm, tomorrow)
    assert Take.objects.get() == take
    with refused(Conflict("past-use-by", code=case.pk)):
        take_for_order(act(tomorrow), take=take)
    take_for_order(act(), take=take)


def test_a_crate_found_after_all_is_promised_again_as_far_as_its_line_lacks():
    """Once others fill the line in its place it is free again, as it was before."""
    looked_for, other = make_lot(10, at=NOW - timedelta(days=1)), make_lot(4)
    pull = order(act(), 14)
    plan_pull(pull, act().farm, NOW)
    take = Take.objects.get(lot=looked_for)
    mark_missing(act(NOW + timedelta(minutes=1)), take=take)
    assert Take.objects.not_found().filter(lot=looked_for).exists()
    mark_found(take=take)
    take.refresh_from_db()
    assert (take.missing, take.quantity) == (False, 10)
    assert not Take.objects.not_found().exists()

    make_lot(30)
    mark_missing(act(NOW + timedelta(minutes=2)), take=take)
    mark_found(take=take)
    assert not Take.objects.filter(pk=take.pk).exists()
    promised = dict(Take.objects.open().values_list("lot_id", "quantity"))
    assert (sum(promised.values()), promised[other.pk]) == (14, 4)


def test_nothing_is_found_again_in_an_order_that_was_finished():
    make_lot(12)
    pull = order(act())
    plan_pull(pull, act().farm, NOW)
    take = Take.objects.get()
    mark_missing(act(), take=take)
    close_order(act(), pull=pull)
    with refused(Conflict("no-longer-open")):
        mark_found(take=take)


def one_take(quantity=5):
    pull = order(act(), quantity)
    plan_pull(pull, act().farm, NOW)
    return pull, Take.objects.get(line__order=pull)


def test_a_crate_that_was_taken_can_not_be_called_missing():
    """Though the page was drawn before another phone took it."""
    make_lot(12)
    _pull, take = one_take()
    take_for_order(act(), take=Take.objects.get(pk=take.pk))
    with refused(Conflict("taken-already", code=take.lot_id)):
        mark_missing(act(), take=take)
    take.refresh_from_db()
    assert not take.missing


def test_a_crate_that_holds_less_by_now_goes_out_whole_and_its_line_lacks_the_rest():
    lot = make_lot(12)
    pull, take = one_take(12)
    count_lots(act(), figures={lot.pk: Decimal(7)}, reason="miscounted")
    take_for_order(act(), take=take)
    lot.refresh_from_db()
    assert (lot.state, lot.quantity) == ("out", 0)
    (line,) = pull_lines(pull)
    assert (line.taken, line.lacking) == (7, 5)


def test_an_empty_crate_is_not_taken_for_nothing():
    lot = make_lot(12)
    _pull, take = one_take()
    discard(act(), lot=lot.pk, portion="all", reason="wilted", destination="compost")
    with refused(Conflict("not-here", code=lot.pk, state="empty")):
        take_for_order(act(), take=take)
