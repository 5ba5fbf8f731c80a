"""Readings of the cold room, and the life of a crate, for tests of what the log does."""

from datetime import timedelta

from inventory.actions.temperatures import record_readings
from inventory.models import Farm, Lot, Room
from inventory.queries.crates import one_crate
from tests.builders import NOW

HOUR = timedelta(hours=1)
DAY = timedelta(days=1)


def room() -> Room:
    return Room.objects.first()


def write(*readings, kind="sensor", sensor="probe-1", at=NOW + 60 * DAY):
    """(hours from NOW, °C) pairs."""
    rows = [(NOW + hours * HOUR, celsius) for hours, celsius in readings]
    return record_readings(room(), rows, kind=kind, at=at, sensor=sensor)


def steady(celsius, hours=72, start=0):
    return [(start + hour, celsius) for hour in range(hours + 1)]


def life(lot: Lot, at):
    return one_crate(lot.pk, Farm.objects.get(), at).life
