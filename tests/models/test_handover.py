import pytest

from inventory.models import CratesLeft, Credit, Empties, Handover, Order
from tests.builders import NOW, make_lot, owner
from tests.deliveries import kitchen
from tests.models.constraints import unclean
from tests.models.test_ledger import make_action


@pytest.fixture
def order(farm):
    return Order.objects.create(
        id=make_action().pk, outlet=kitchen(), due=NOW.date(), said_by=owner(), said_at=NOW
    )


def handing(order, number=1, **changes) -> Handover:
    values = {"order": order, "number": number, "to_whom": "Ana", "at": NOW, "paper": {"lines": []}}
    return Handover(**{"action": make_action(kind="hand over")} | values | changes)


def empties(**changes) -> Empties:
    return Empties(
        **{"action": make_action(kind="empties"), "number": 3, "kind": "washed"} | changes
    )


def test_handover_number_is_unique(order, refused):
    handing(order).save()
    handing(order, 2).save()
    assert unclean(handing(order)) == {"unique"}
    with refused():
        handing(order).save()


def test_handover_action_is_unique(order, refused):
    action = make_action(kind="hand over")
    handing(order, action=action).save()
    handing(order, 2).save()
    with refused():
        handing(order, 3, action=action).save()


def test_handover_page_token_is_unique(order, refused):
    handing(order).save()
    handing(order, 2).save()
    handing(order, 3, page_token="A").save()
    with refused():
        handing(order, 4, page_token="A").save()


def test_a_handover_says_to_whom(order, refused):
    with refused():
        handing(order, to_whom="").save()


def test_empties_action_is_unique(farm, refused):
    action = make_action(kind="empties")
    empties(action=action).save()
    with refused():
        empties(action=action).save()


def test_empties_are_some(farm, refused):
    empties(number=1).save()
    with refused():
        empties(number=0).save()


def test_crates_come_back_from_a_buyer_and_are_washed_here(farm, refused):
    empties(kind="back", outlet=kitchen()).save()
    with refused():
        empties(kind="back").save()


def credit(order, **changes) -> Credit:
    slip = Handover.objects.first() or handing(order)
    slip.save()
    values = {"handover": slip, "lot": make_lot(), "what": "soft", "quantity": 1}
    return Credit(**{"action": make_action(kind="credit")} | values | changes)


def test_a_credit_is_of_something(order, refused):
    credit(order, quantity="0.001").save()
    with refused():
        credit(order, quantity=0).save()


def test_credit_action_is_unique(order, refused):
    action = make_action(kind="credit")
    credit(order, action=action).save()
    credit(order).save()
    with refused():
        credit(order, action=action).save()


def test_crates_left_are_counted_once(farm, refused):
    outlet = kitchen()
    for buyer in (outlet, None):
        CratesLeft.objects.create(outlet=buyer, crates=1)
        with refused():
            CratesLeft.objects.create(outlet=buyer, crates=1)
