"""What a plan counts with: days in the buyer's own fridge, and the order by days shown."""

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.actions.orders import Wanted, say_order
from inventory.actions.quality import inspect
from inventory.models import Lot, Outlet
from inventory.queries.orders import plan_for, read_offers
from tests.builders import NOW, act, make_lot, set_target

DAY = timedelta(days=1)
HOUR = timedelta(hours=1)


def plan(farm, lot: Lot, wanted=5, at=NOW, **buyer):
    outlet = Outlet.objects.create(name=f"Kitchen {Outlet.objects.count()}", **buyer)
    line = Wanted(lot.crop, lot.unit, Decimal(wanted))
    return plan_for(say_order(act(at), outlet=outlet, lines=[line]), farm, at)


def taken(found) -> list[tuple[str, Decimal]]:
    return [(take.lot, take.quantity) for take in found.takes]


@pytest.mark.parametrize(
    ("fridge_c", "minimum", "goes"),
    [
        (4, 5, True),  # 5.6 days until the cold hurts it, AH-66 page 323, Table 1
        (4, 6, False),  # decay alone would promise 7
        (12, 7, True),
        ("2.5", 4, True),  # 4.5 days there
        ("2.5", 5, False),
    ],
)
def test_eggplant_is_promised_for_as_long_as_the_buyers_fridge_does_not_hurt_it(
    farm, fridge_c, minimum, goes
):
    lot = make_lot(key="eggplant", unit="kg")
    found = plan(farm, lot, fridge_c=Decimal(fridge_c), minimum_days=minimum)
    assert taken(found) == ([(lot.pk, 5)] if goes else [])
    assert [short.reason for short in found.shorts] == ([] if goes else ["too-old"])


def test_what_is_not_for_the_fridge_is_promised_by_its_lowest_safe_temperature(farm):
    """Mango, 14 days at 10 °C (AH-66 page 63): no days in the cold are published."""
    lot = make_lot(key="mango", unit="kg")
    assert taken(plan(farm, lot, minimum_days=14)) == [(lot.pk, 5)]
    assert taken(plan(farm, lot, minimum_days=15)) == []


def test_after_a_good_look_what_the_cold_may_have_hurt_is_planned_again(farm):
    set_target(3, NOW - HOUR)
    lot = make_lot(key="mango", unit="kg")
    assert taken(plan(farm, lot, at=NOW + DAY)) == []
    assert read_offers(farm, NOW + DAY) == []
    inspect(act(NOW + DAY), lot=lot.pk, days=1, seen="firm")
    assert taken(plan(farm, lot, at=NOW + 25 * HOUR)) == [(lot.pk, 5)]


def test_of_crates_that_do_the_one_with_fewer_days_shown_goes(farm):
    new, old = make_lot(at=NOW), make_lot(at=NOW - 3 * DAY)
    assert taken(plan(farm, new, minimum_days=3)) == [(old.pk, 5)]
    assert dict(taken(plan(farm, new, wanted=20))) == {old.pk: 12, new.pk: 8}


def test_of_crates_with_the_same_days_the_earlier_cut_goes(farm):
    """An hour apart, the same whole days everywhere."""
    new, old = make_lot(at=NOW), make_lot(at=NOW - HOUR)
    found = plan(farm, new)
    assert taken(found) == [(old.pk, 5)]
