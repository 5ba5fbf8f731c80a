"""What a new farm has still to do before the log helps it."""

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
    days = Intake.objects.datetimes("arrived_at", "day", tzinfo=farm.zone)
    return len(days[:ALONE_AFTER_DAYS]) == ALONE_AFTER_DAYS
