from datetime import timedelta

import pytest

from inventory.models import Action, MarketDay, MarketHabit, MarketSale, Outlet
from tests.builders import NOW, crop, market
from tests.models.test_ledger import make_action

TODAY = NOW.date()


def new_day(**changes) -> MarketDay:
    values = {"outlet": market(), "day": TODAY, "action": make_action(kind=Action.Kind.SETTLE)}
    return MarketDay(**values | changes)


def new_sale(day: MarketDay, **changes) -> MarketSale:
    values = {"market_day": day, "crop": crop(), "unit": "bunch", "loaded": 12, "sold": 12}
    return MarketSale(**values | changes)


@pytest.fixture
def day(farm):
    made = new_day()
    made.save()
    return made


def test_a_market_has_one_of_a_day(day, refused):
    """But for those taken back, and those another stands for."""
    new_day(day=TODAY + timedelta(days=7)).save()
    new_day(outlet=Outlet.objects.create(name="Sunday market", kind="market")).save()
    new_day(stands=False).save()
    with refused():
        new_day().save()
    assert MarketDay.objects.standing().filter(outlet=market(), day=TODAY).get() == day


def test_marketday_action_is_unique(day, refused):
    with refused():
        new_day(day=TODAY + timedelta(days=7), action=day.action).save()


def test_a_market_day_has_a_crop_once(day, refused):
    new_sale(day).save()
    new_sale(day, unit="kg").save()
    new_sale(day, crop=crop("apple")).save()
    with refused():
        new_sale(day).save()


def test_nothing_at_market_is_less_than_0(day, refused):
    new_sale(day, loaded=0, sold=0).save()
    for name in ("loaded", "back", "given", "lost", "sold"):
        with refused():
            new_sale(day, crop=crop("apple"), **{name: -1}).save()


def new_habit(**changes) -> MarketHabit:
    return MarketHabit(**{"outlet": market(), "crop": crop(), "unit": "bunch"} | changes)


def test_a_market_has_one_habit_per_crop_and_unit(farm, refused):
    new_habit(usually_sells=30).save()
    new_habit(unit="kg", least_on_table=2).save()
    new_habit(crop=crop("apple")).save()
    with refused():
        new_habit(usually_sells=40).save()


def test_a_habit_is_of_something(farm, refused):
    for name in ("usually_sells", "least_on_table"):
        with refused():
            new_habit(**{name: 0}).save()
