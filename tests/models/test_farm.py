from decimal import Decimal

from inventory.models import Farm
from tests.models.constraints import unclean


def test_only_one_farm(refused):
    Farm.objects.create(pk=1, name="Ours", time_zone="UTC")
    with refused():
        Farm.objects.create(pk=2, name="Another", time_zone="UTC")


def test_week_starts_on_a_weekday(refused):
    farm = Farm.objects.create(pk=1, name="Ours", time_zone="UTC", week_start=6)
    farm.week_start = 7
    assert unclean(farm) == {"Constraint “week_starts_on_a_weekday” is violated."}
    with refused():
        farm.save()


def test_week_is_mailed_on_a_weekday(refused):
    farm = Farm.objects.create(pk=1, name="Ours", time_zone="UTC", week_mail_day=6)
    farm.week_mail_day = 7
    assert unclean(farm) == {"Constraint “week_is_mailed_on_a_weekday” is violated."}
    with refused():
        farm.save()


def test_waste_aim_is_a_share(refused):
    farm = Farm.objects.create(pk=1, name="Ours", time_zone="UTC", waste_aim_percent=7)
    for wrong in ("-0.1", "100.1"):
        farm.waste_aim_percent = Decimal(wrong)
        assert unclean(farm) == {"Constraint “waste_aim_is_a_share” is violated."}
        with refused():
            farm.save()
