from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest

from inventory.models import Lease, Order, OrderEntry, OrderLine, StandingOrder, Take
from tests.builders import NOW, crop, make_crew, make_lot, market, owner
from tests.models.constraints import unclean
from tests.models.test_ledger import make_action


@pytest.fixture
def pull(farm):
    return make_pull()


def make_pull() -> Order:
    return Order.objects.create(
        id=uuid4(), outlet=market(), due=NOW.date(), said_by=owner(), said_at=NOW
    )


def new_line(pull: Order, **changes) -> OrderLine:
    return OrderLine(**{"order": pull, "crop": crop(), "unit": "bunch", "quantity": 4} | changes)


def make_take(**changes) -> Take:
    """A take of 4 bunches of a crate, on a line made for it."""
    line = new_line(make_pull())
    line.save()
    values = {"line": line, "lot": make_lot(), "quantity": 4, "taken": make_action(kind="take out")}
    return Take.objects.create(**values | changes)


def test_a_line_wants_no_less_than_0(pull, refused):
    new_line(pull, quantity=0).save()
    with refused():
        new_line(pull, crop=crop("apple"), quantity=Decimal("-0.001")).save()


def test_one_line_per_crop_and_unit(pull, refused):
    new_line(pull).save()
    new_line(pull, unit="kg").save()
    new_line(pull, crop=crop("apple")).save()
    new_line(make_pull()).save()
    again = new_line(pull, quantity=6)
    assert unclean(again) == {"unique_together"}
    with refused():
        again.save()


def test_a_take_takes_something(farm, refused):
    make_take(quantity=Decimal("0.001"))
    with refused():
        make_take(quantity=0)


def test_take_taken_is_unique(farm, refused):
    action = make_action(kind="take out")
    make_take(taken=action)
    make_take()
    with refused():
        make_take(taken=action)


def test_an_order_is_closed_or_cancelled_not_both(pull, refused):
    pull.closed_at = NOW
    pull.save()
    pull.closed_at, pull.cancelled_at = None, NOW
    pull.save()
    pull.closed_at = NOW
    with refused():
        pull.save()


def new_lease(line: OrderLine, **changes) -> Lease:
    values = {"line": line, "lot": make_lot(), "person": owner(), "quantity": 4, "until": NOW}
    return Lease(**values | changes)


def test_a_lease_is_of_something(pull, refused):
    line = new_line(pull)
    line.save()
    new_lease(line, quantity=Decimal("0.001")).save()
    with refused():
        new_lease(line, quantity=0).save()


def test_one_lease_a_line_crate_and_person(pull, refused):
    line, other = new_line(pull), new_line(pull, unit="kg")
    line.save(), other.save()
    lease = new_lease(line)
    lease.save()
    new_lease(line).save()
    new_lease(other, lot=lease.lot).save()
    new_lease(line, lot=lease.lot, person=make_crew()).save()
    again = new_lease(line, lot=lease.lot)
    assert unclean(again) == {"unique_together"}
    with refused():
        again.save()


def new_entry(pull: Order, **changes) -> OrderEntry:
    return OrderEntry(**{"order": pull, "action": make_action(), "kind": "said"} | changes)


def test_orderentry_action_is_unique(pull, refused):
    entry = new_entry(pull)
    entry.save()
    new_entry(pull).save()
    with refused():
        new_entry(pull, action=entry.action).save()


@pytest.mark.parametrize("day", [-3, 0, 3, 6])
def test_an_order_that_repeats_has_a_day_a_week(day):
    """The days of a calendar, counted by hand: from Wednesday 10 June 2026 on."""
    starts = date(2026, 6, 10)
    standing = StandingOrder(starts=starts)
    first = starts + timedelta(days=day)
    found = standing.days(first, first + timedelta(days=13))
    expected = {-3: ["10", "17"], 0: ["10", "17"], 3: ["17", "24"], 6: ["17", "24"]}[day]
    assert [f"{found_day:%d}" for found_day in found] == expected
    standing.ends = date(2026, 6, 17)
    assert [f"{d:%d}" for d in standing.days(first, first + timedelta(days=13))] == [
        number for number in expected if number == "10"
    ]
