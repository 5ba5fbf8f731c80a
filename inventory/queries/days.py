"""The farm's local days and weeks as moments in time."""

from datetime import date, datetime, timedelta

from inventory.models import Farm


def day_start(farm: Farm, day: date) -> datetime:
    return farm.day_start(day)


def day_bounds(farm: Farm, at: datetime) -> tuple[datetime, datetime]:
    day = at.astimezone(farm.zone).date()
    return day_start(farm, day), day_start(farm, day + timedelta(days=1))


def week_start(farm: Farm, day: date) -> date:
    return farm.week_start_of(day)
