"""What was seen of a crate, turned into what is known of its keeping life."""

from collections.abc import Iterable
from enum import StrEnum

# A discard for decay of less of a crate than this is trimming, and ends nothing.
AN_END = 0.25


class Finding(StrEnum):
    """What somebody found of a crate: it was good until then, or it had gone by then."""

    GOOD = "good"
    GONE = "gone"


def lifespan(seen: Iterable[tuple[float, Finding]]) -> tuple[float, float | None] | None:
    """Return between which ages a crate's life ended, from what was seen of it. [d]

    seen: (age, finding), in any order, ages in days at the crop's best temperature.
    Returns (low, high): still good at low, gone by high; low 0 where nobody saw it good; high
    None where nobody saw it gone; None where nothing was seen. What was seen after the end
    tells nothing.
    Example: good at 3 and 8, gone at 11 → (8, 11); good at 3 → (3, None)
    """
    seen = list(seen)
    if not seen:
        return None
    end = min((age for age, finding in seen if finding == Finding.GONE), default=None)
    good = (
        age for age, finding in seen if finding == Finding.GOOD and (end is None or age <= end)
    )
    return max(good, default=0.0), end
