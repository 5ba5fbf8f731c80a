import pytest

from inventory.models import Outlet, StandingLine, StandingOrder
from tests.builders import NOW, crop, market, owner
from tests.models.constraints import unclean


@pytest.fixture
def standing(farm):
    return StandingOrder.objects.create(
        id="00000000-0000-4000-8000-000000000001", outlet=market(), starts=NOW.date(),
        said_by=owner(), said_at=NOW,
    )  # fmt: skip


def test_outlet_names_are_unique(refused):
    Outlet.objects.create(name="Bistro")
    Outlet.objects.create(name="Inn")
    assert unclean(Outlet(name="BISTRO")) == {"name-taken"}
    with refused():
        Outlet.objects.create(name="BISTRO", kind="stand")


def new_line(standing: StandingOrder, **changes) -> StandingLine:
    values = {"standing": standing, "crop": crop(), "unit": "bunch", "quantity": 4}
    return StandingLine(**values | changes)


def test_a_standing_line_wants_something(standing, refused):
    new_line(standing, quantity="0.001").save()
    with refused():
        new_line(standing, crop=crop("apple"), quantity=0).save()


def test_one_standing_line_per_crop_and_unit(standing, refused):
    new_line(standing).save()
    new_line(standing, unit="kg").save()
    new_line(standing, crop=crop("apple")).save()
    again = new_line(standing, quantity=6)
    assert unclean(again) == {"unique_together"}
    with refused():
        again.save()
