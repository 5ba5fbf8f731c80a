"""What share of what was taken to markets was sold, week by week."""

from datetime import date, timedelta
from decimal import Decimal

from inventory.models import Crop, Farm, MarketDay, MarketSale
from inventory.queries.market import sold_by_week
from tests.builders import market
from tests.models.test_ledger import make_action

MONDAY = date(2026, 6, 8)
WEEK = timedelta(days=7)


def closed(day: date, stands: bool = True, **sold: tuple[int, int]) -> None:
    """A market day on which (loaded, sold) of each crop."""
    made = MarketDay.objects.create(
        outlet=market(), day=day, action=make_action(kind="settle"), stands=stands
    )
    for name, (loaded, gone) in sold.items():
        crop = Crop.objects.get(reference_key=name)
        MarketSale.objects.create(
            market_day=made, crop=crop, unit="kg" if name == "spinach" else "bunch",
            loaded=loaded, sold=gone, back=loaded - gone,
        )  # fmt: skip


def test_weights_are_added_up_in_the_farms_weeks_and_what_nobody_weighed_is_left_out(farm):
    """40 bunches of 0.25 kg and 10 kg taken, 24 bunches and 9 kg sold: 15 of 20 kg."""
    Crop.objects.filter(reference_key="kale").update(piece_weight_kg=Decimal("0.25"))
    closed(MONDAY + timedelta(days=5), kale=(40, 24), spinach=(10, 9), basil=(9, 0))
    closed(MONDAY + timedelta(days=6), stands=False, kale=(40, 40))
    closed(MONDAY - WEEK, kale=(10, 10))
    closed(MONDAY + WEEK, kale=(10, 0))
    crops = Crop.objects.in_bulk()
    weeks = sold_by_week(Farm.objects.get(), MONDAY, 3, crops)
    assert weeks == [
        (MONDAY - 2 * WEEK, None), (MONDAY - WEEK, Decimal(100)), (MONDAY, Decimal(75)),
    ]  # fmt: skip
    Farm.objects.update(week_start=6)
    assert sold_by_week(Farm.objects.get(), MONDAY - timedelta(days=1), 1, crops)[0][1] == 75
