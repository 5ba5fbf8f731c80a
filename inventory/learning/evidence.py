"""What is known of how long crates lasted, harvest by harvest."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

# A discard for decay of less of a crate than this is trimming, and ends nothing.
AN_END = 0.25


class Finding(StrEnum):
    """What somebody found of a crate: it was good until then, or it had gone by then."""

    GOOD = "good"
    GONE = "gone"


@dataclass(frozen=True)
class Lasted:
    """How long one crate lasted, as far as anybody saw. [d]

    fine_days: the oldest age at which it was known to be good, ≥ 0; 0 where nobody had looked.
    gone_days: the age at which it was found gone, ≥ fine_days; None where it left sound. Both
    equal: it went just then. Raises ValueError for ages that can't be.
    """

    fine_days: float
    gone_days: float | None = None

    def __post_init__(self) -> None:
        gone = math.inf if self.gone_days is None else self.gone_days
        if not 0 <= self.fine_days <= gone or not self.fine_days < math.inf:
            raise ValueError(f"no crate is fine at {self.fine_days} and gone at {gone} days")

    @property
    def gone(self) -> bool:
        return self.gone_days is not None

    @property
    def seen_days(self) -> float:
        """The age at which it was found gone, else the oldest at which it was good. [d]"""
        return self.fine_days if self.gone_days is None else self.gone_days


@dataclass(frozen=True)
class Harvest:
    """The crates of one harvest or delivery: they share a field, a day and a fate."""

    crates: tuple[Lasted, ...]


def lasted(seen: Iterable[tuple[float, Finding]]) -> Lasted:
    """Return how long a crate lasted, from what was seen of it, at least one thing. [d]

    seen: (age, finding), in any order, ages in days at the crop's best temperature. What was
    seen after the end tells nothing.
    Example: good at 3 and 8, gone at 11 → Lasted(8, 11); good at 3 → Lasted(3)
    """
    seen = list(seen)
    end = min((age for age, finding in seen if finding == Finding.GONE), default=None)
    good = (age for age, finding in seen if finding == Finding.GOOD and (end is None or age <= end))
    return Lasted(max(good, default=0.0), end)
