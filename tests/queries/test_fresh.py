"""How long what is not cut yet will keep at a buyer's: as a crate that is cut like it does."""

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.models import Outlet, Room
from inventory.queries.crates import crates_here
from inventory.queries.fresh import Way, best_room_c, fresh_days, way_to
from tests.builders import NOW, crop, make_lot, set_target

DAY = timedelta(days=1)
FRIDGE = Way(5.0, 0.0)


@pytest.mark.parametrize("key", ["kale", "lettuce-romaine", "basil", "eggplant", "spinach"])
@pytest.mark.parametrize("waits", [1, 2, 4])
def test_it_keeps_as_long_as_a_crate_of_which_nobody_says_more(farm, key, waits):
    """Cut two hours before it came in, warm from the field, into a room at its target."""
    lot = make_lot(key=key, unit="kg", cut_ago=None, pulp_c=None)
    (crate,) = crates_here(farm, NOW + waits * DAY)
    assert crate.lot == lot
    told = crate.days_on_arrival(NOW.date() + waits * DAY, 5.0)
    found = fresh_days(crop(key), 2.0, waits, FRIDGE)
    assert found.in_fridge == told.in_fridge
    assert abs(found.days - told.days) <= 1


def test_the_later_it_is_cut_the_longer_it_keeps(farm):
    kale = crop()
    days = [fresh_days(kale, 2.0, waits, FRIDGE).days for waits in range(30)]
    assert days == sorted(days, reverse=True)
    assert days[0] > days[3] > 0
    assert days[-1] == -1


def test_a_warm_way_and_a_warm_fridge_cost_days(farm):
    kale = crop()
    cold = fresh_days(kale, 2.0, 1, Way(0.0, 0.0)).days
    assert fresh_days(kale, 2.0, 1, Way(8.0, 0.0)).days < cold
    assert fresh_days(kale, 2.0, 1, Way(0.0, 12.0)).days < cold


def test_what_no_fridge_keeps_is_said_to_be_for_none(farm):
    """Mango, 14 days at 10 °C (AH-66 page 63): no days in the cold are published."""
    found = fresh_days(crop("mango"), 12.0, 0, FRIDGE)
    assert (found.in_fridge, found.celsius) == (False, 10.0)


def test_each_crop_is_reckoned_with_the_room_that_suits_it(farm):
    warm = Room.objects.create(name="Warm corner", target_c=Decimal(13))
    rooms = [Room.objects.get(name="Cold room"), warm]
    assert (best_room_c(crop(), rooms), best_room_c(crop("basil"), rooms)) == (2.0, 13.0)
    set_target(0)
    assert best_room_c(crop(), Room.objects.all()) == 0.0


def test_of_a_buyer_nobody_knows_the_fridge_is_reckoned_warm():
    """FDA Food Code 3-501.16(A)(2): the warmest a kitchen may hold is 5 °C."""
    assert way_to(None) == way_to(Outlet(name="Inn")) == Way(5.0, 0.0)
    known = Outlet(name="Inn", fridge_c=Decimal(3), way_hours=Decimal("1.5"))
    assert way_to(known) == Way(3.0, 1.5)
