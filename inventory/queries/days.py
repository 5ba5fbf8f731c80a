"""The farm's local days and weeks as moments in time."""

from datetime import date, datetime, time, timedelta

from inventory.models import Farm


def day_start(farm: Farm, day: date) -> datetime:
    """Return the moment a farm day begins. Days are 23 or 25 hours on clock-change nights."""
    return datetime.combine(day, time(0), farm.zone)


def day_bounds(farm: Farm, at: datetime) -> tuple[datetime, datetime]:
    day = at.astimezone(farm.zone).date()
    return day_start(farm, day), day_start(farm, day + timedelta(days=1))


def week_start(farm: Farm, day: date) -> date:
    """Return the first day of the farm's week that holds this day."""
    return day - timedelta(days=(day.weekday() - farm.week_start) % 7)
