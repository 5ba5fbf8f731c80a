"""What a new farm has still to do before the log helps it."""

from datetime import UTC, datetime, timedelta
from enum import StrEnum

from inventory.models import Crop, Farm, Intake, Person

ALONE_AFTER_DAYS = 3


class Step(StrEnum):
    CROPS = "crops"
    PEOPLE = "people"
    LABELS = "labels"


def steps_to_do(farm: Farm) -> list[Step]:
    """Return the steps that are not done: crops picked, people added, the labels' address set."""
    done = {
        Step.CROPS: Crop.objects.filter(grown=True).exists(),
        Step.PEOPLE: Person.objects.count() > 1 or _works_alone(farm),
        Step.LABELS: bool(farm.label_address),
    }
    return [step for step in Step if not done[step]]


def _works_alone(farm: Farm) -> bool:
    """Whether one person has brought in on three days: then nobody else is missing."""
    arrivals = Intake.objects.order_by("arrived_at").values_list("arrived_at", flat=True)
    since = datetime.fromtimestamp(0, UTC)
    # From day to day: to tell the days of all there ever were apart, all would be read.
    for _day in range(ALONE_AFTER_DAYS):
        first = arrivals.filter(arrived_at__gte=since).first()
        if first is None:
            return False
        since = farm.day_start(first.astimezone(farm.zone).date() + timedelta(days=1))
    return True
