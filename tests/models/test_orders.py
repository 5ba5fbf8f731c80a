from decimal import Decimal
from uuid import uuid4

import pytest

from inventory.models import Outlet, Pull, PullLine, PullTake
from tests.builders import NOW, crop, make_lot, market, owner
from tests.models.constraints import unclean
from tests.models.test_ledger import make_action


@pytest.fixture
def pull(farm):
    return make_pull()


def make_pull() -> Pull:
    return Pull.objects.create(id=uuid4(), outlet=market(), planned_by=owner(), planned_at=NOW)


def new_line(pull: Pull, **changes) -> PullLine:
    return PullLine(**{"pull": pull, "crop": crop(), "unit": "bunch", "quantity": 4} | changes)


def make_take(**changes) -> PullTake:
    """A take of 4 bunches of a crate, on a line made for it."""
    line = new_line(make_pull())
    line.save()
    return PullTake.objects.create(**{"line": line, "lot": make_lot(), "quantity": 4} | changes)


def test_outlet_names_are_unique(refused):
    Outlet.objects.create(name="Bistro")
    Outlet.objects.create(name="Inn")
    assert unclean(Outlet(name="BISTRO")) == {"name-taken"}
    with refused():
        Outlet.objects.create(name="BISTRO", kind="stand")


def test_a_line_wants_something(pull, refused):
    new_line(pull, quantity=Decimal("0.001")).save()
    with refused():
        new_line(pull, crop=crop("apple"), quantity=0).save()


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


def test_pulltake_taken_is_unique(farm, refused):
    action = make_action(kind="take out")
    make_take(taken=action)
    make_take(taken=make_action(kind="take out"))
    make_take()
    make_take()
    with refused():
        make_take(taken=action)
