"""Handing an order over, and what a buyer says of it."""

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.actions.handing import drive_earlier, give_credit, hand_over
from inventory.actions.movements import bring_back
from inventory.actions.orders import cancel_order, close_order, reopen_order
from inventory.actions.undo import undo
from inventory.errors import Conflict, Refused
from inventory.models import Action, Handover, Order, OrderEntry, Outlet, Take
from inventory.queries.ledger import blocking_action
from inventory.queries.run import in_run_order
from tests.builders import NOW, act, crop, fresh, make_cases, make_lot, make_lots, market
from tests.deliveries import got, handed, kitchen
from tests.refusing import refused

pytestmark = pytest.mark.usefixtures("farm")
LATER = NOW + timedelta(hours=2)


def test_handing_over_numbers_the_slip_and_closes_the_order():
    outlet = kitchen()
    first, second = make_lots(12, 12)
    one = handed(got(outlet, (first, 12)))
    two = handed(got(outlet, (second, 12)), crates_back=1)
    assert (one.number, two.number) == (1, 2)
    assert (two.crates_out, two.crates_back, two.to_whom) == (1, 1, "Chef Ana")
    order = two.order
    assert (order.is_open, order.closed_at) == (False, NOW)
    assert two.action.order_entry.kind == OrderEntry.Kind.HANDED


def test_an_order_that_was_done_already_is_handed_over_and_keeps_when_it_was_done():
    order = got(kitchen(), (make_lot(12), 12))
    close_order(act(NOW), order=order)
    made = handed(order, at=LATER)
    assert (made.at, made.order.closed_at) == (LATER, NOW)
    undo(act(LATER), action=made.action)
    assert Order.objects.get(pk=order).closed_at == NOW


def test_a_slip_taken_back_keeps_its_number_and_the_order_is_open_again():
    order = got(kitchen(), (make_lot(12), 12))
    first = handed(order)
    undo(act(LATER), action=first.action)
    assert Order.objects.get(pk=order).is_open
    assert Handover.objects.get(number=1).is_withdrawn
    again = handed(order, at=LATER)
    assert (again.number, again.is_withdrawn) == (2, False)


def test_what_was_handed_over_is_not_taken_back_before_it():
    lot = make_lot(12)
    order = got(kitchen(), (lot, 12))
    taken = Take.objects.get().taken
    assert blocking_action(taken) is None
    made = handed(order)
    assert blocking_action(taken) == made.action
    with refused(Conflict("undo-blocked", blocker=made.action)):
        undo(act(LATER), action=taken)
    undo(act(LATER), action=made.action)
    undo(act(LATER), action=taken)
    assert fresh(lot).quantity == 12


def test_an_order_is_handed_over_once():
    order = got(kitchen(), (make_lot(12), 12))
    handed(order)
    with refused(Conflict("handed-already", number=1)):
        hand_over(act(LATER), order=order, to_whom="Chef Ana")
    with refused(Conflict("handed-already", number=1)):
        reopen_order(act(LATER), order=order)


def test_the_same_tap_sent_twice_is_one_slip():
    order, made = got(kitchen(), (make_lot(12), 12)), act(LATER)
    first = hand_over(made, order=order, to_whom="Chef Ana")
    assert hand_over(made, order=order, to_whom="Chef Ana") == first
    assert Handover.objects.count() == 1


def test_somebody_took_it():
    order = got(kitchen(), (make_lot(12), 12))
    with refused(Refused("who-took", field="to_whom")):
        hand_over(act(), order=order, to_whom="")


def test_an_order_of_which_nothing_went_is_not_handed_over():
    lot = make_lot(12)
    order = got(kitchen(), (lot, 12))
    bring_back(act(LATER), lot=lot.pk, quantity=Decimal(12))
    with refused(Conflict("nothing-taken")):
        hand_over(act(LATER), order=order, to_whom="Chef Ana")


def test_a_cancelled_order_is_not_handed_over():
    order = got(kitchen(), (make_lot(12), 12))
    cancel_order(act(), order=order)
    with refused(Conflict("no-longer-open")):
        hand_over(act(), order=order, to_whom="Chef Ana")


def test_crates_of_ours_that_go_out_are_whole_ones_and_one_a_crop_for_parts():
    """Common practice, no source: bought cases go in their supplier's own."""
    whole, part, another = make_lots(12, 12, 12)
    case = make_cases(18)[0]
    order = got(kitchen(), (whole, 12), (part, 3), (another, 4), (case, 18))
    assert handed(order).crates_out == 2


def test_somebody_counts_other_crates_than_reckoned():
    assert handed(got(kitchen(), (make_lot(12), 12)), crates_out=0).crates_out == 0


def test_a_stop_is_driven_before_another_from_then_on():
    first, second = kitchen("Heron"), kitchen("Inn")
    assert [stop.name for stop in in_run_order(Outlet.objects.all())][:2] == ["Heron", "Inn"]
    drive_earlier(outlet=second, before=first)
    stops = [stop.name for stop in in_run_order(Outlet.objects.all())]
    assert stops == ["Inn", "Heron", "Market"]


def test_a_handing_over_of_a_phone_without_signal_is_of_when_it_was_tapped():
    lot = make_lot(12)
    order = got(kitchen(), (lot, 12))
    made = hand_over(act(LATER, told_at=NOW), order=order, to_whom="Chef Ana")
    assert (made.kind, made.handover.at) == (Action.Kind.HANDOVER, NOW)
    assert made.handover.order.outlet != market()
    assert made.handover.paper["lines"][0]["crop"] == crop().pk


def slip_of_two(*quantities: int):
    lots = make_lots(*quantities)
    return lots, handed(got(kitchen(), *zip(lots, quantities, strict=True)))


def test_a_credit_names_the_slip_the_crate_and_how_much_of_it():
    (lot, _other), slip = slip_of_two(12, 12)
    credit = give_credit(act(), slip=1, lot=lot.pk, what="soft", quantity=Decimal(5)).credit
    assert (credit.handover, credit.lot, credit.quantity) == (slip, lot, 5)
    rest = give_credit(act(), slip=1, lot=lot.pk, what="refused").credit
    assert rest.quantity == 7


def test_no_more_is_credited_than_went():
    (lot, _other), _slip = slip_of_two(12, 12)
    with refused(
        Conflict("more-than-slip", field="quantity", code=lot.pk, left=Decimal(12), unit="bunch")
    ):
        give_credit(act(), slip=1, lot=lot.pk, what="soft", quantity=Decimal(13))
    all_of_it = give_credit(act(), slip=1, lot=lot.pk, what="soft")
    with refused(
        Conflict("more-than-slip", field="quantity", code=lot.pk, left=Decimal(0), unit="bunch")
    ):
        give_credit(act(), slip=1, lot=lot.pk, what="soft")
    undo(act(LATER), action=all_of_it)
    give_credit(act(LATER), slip=1, lot=lot.pk, what="wrong")


def test_a_credit_is_of_a_sensible_amount():
    (lot,), _slip = slip_of_two(12)
    with refused(Refused("not-positive", field="quantity")):
        give_credit(act(), slip=1, lot=lot.pk, what="soft", quantity=Decimal(0))
    with refused(Refused("not-whole", field="quantity", unit="bunch")):
        give_credit(act(), slip=1, lot=lot.pk, what="soft", quantity=Decimal("1.5"))


def test_only_what_is_on_a_slip_is_credited():
    slip_of_two(12)
    other = make_lot(12)
    with refused(Refused("not-on-slip", field="lot", code=other.pk)):
        give_credit(act(), slip=1, lot=other.pk, what="soft")


def test_nothing_is_credited_of_a_slip_that_is_withdrawn():
    (lot,), slip = slip_of_two(12)
    undo(act(LATER), action=slip.action)
    with refused(Conflict("slip-withdrawn")):
        give_credit(act(LATER), slip=1, lot=lot.pk, what="soft")


def test_a_slip_is_not_withdrawn_while_it_is_credited():
    (lot,), slip = slip_of_two(12)
    credit = give_credit(act(), slip=1, lot=lot.pk, what="soft")
    with refused(Conflict("undo-blocked", blocker=credit)):
        undo(act(LATER), action=slip.action)
    undo(act(LATER), action=credit)
    undo(act(LATER), action=slip.action)
