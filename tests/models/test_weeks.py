from datetime import date
from decimal import Decimal

import pytest

from inventory.models import Week, WeekLoss, WeekNet, WeekSum
from tests.builders import crop


@pytest.fixture
def sort(farm):
    week = Week.objects.create(pk=date(2026, 6, 8))
    return {"week": week, "crop": crop(), "unit": "kg", "change": Decimal(2)}


def test_one_sum_a_week_and_sort(sort, refused):
    sort |= {"kind": "discarded", "reason": "wilted", "amount": Decimal(0)}
    WeekSum.objects.create(**sort)
    WeekSum.objects.create(**sort | {"reason": "froze"})
    with refused():
        WeekSum.objects.create(**sort)


def test_one_net_a_week(sort, refused):
    WeekNet.objects.create(**sort)
    WeekNet.objects.create(**sort | {"unit": "lb"})
    with refused():
        WeekNet.objects.create(**sort)


def test_one_loss_a_week_crop_and_step(sort, refused):
    loss = {"week": sort["week"], "crop": sort["crop"], "crate_days": Decimal(1)}
    WeekLoss.objects.create(**loss, step="field")
    WeekLoss.objects.create(**loss, step="room")
    with refused():
        WeekLoss.objects.create(**loss, step="field")
