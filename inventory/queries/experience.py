"""The farm's own record of how long a crop kept, beside the published figure."""

from dataclasses import dataclass
from statistics import median

from inventory.lives.reader import read_clocks
from inventory.models import Crop, Farm, Movement

ENOUGH = 5


@dataclass(frozen=True)
class Experience:
    """What people found when they looked. Ages are in days at the crop's best temperature.

    fine, early: ages at which crates were "still fine" and "gone early". offer: the keeping
    days the record speaks for, once there is enough of it; it is never adopted by itself.
    """

    fine: list[float]
    early: list[float]

    @property
    def count(self) -> int:
        return len(self.fine) + len(self.early)

    @property
    def missing(self) -> int:
        """How many more judgements it takes before anything is offered."""
        return max(ENOUGH - self.count, 0)

    @property
    def offer(self) -> float | None:
        """The middle age at which crates had gone early, else the oldest that was still fine."""
        if self.missing:
            return None
        return round(median(self.early) if self.early else max(self.fine), 1)


def read_experience(crop: Crop, farm: Farm) -> Experience:
    """Return the judgements people gave at inspections and discards of this crop."""
    entries = list(
        Movement.objects.filter(lot__crop=crop, undone_by__isnull=True)
        .exclude(judgement="")
        .select_related("lot__crop", "lot__intake__source", "lot__position", "lot__container")
    )
    clocks = read_clocks([entry.lot for entry in entries], farm)
    ages: dict[str, list[float]] = {"fine": [], "early": []}
    for entry in entries:
        ages[entry.judgement].append(clocks.aged_days(entry.lot_id, entry.occurred_at))
    return Experience(sorted(ages["fine"]), sorted(ages["early"]))
