"""A farm that cuts more kale on Wednesdays than it sells: what the week's advice is drawn from."""

from datetime import datetime, timedelta
from decimal import Decimal

from inventory.actions.quality import discard
from inventory.models import Crop, Lot
from tests.builders import NOW, act, crop, make_lots

WEEK = timedelta(days=7)
LAST_DAY = NOW + timedelta(days=4)  # Sunday, 14 June


def throw(lot: Lot, part: int, at: datetime, reason: str = "wilted") -> None:
    portion = Decimal(part)
    discard(act(at), lot=lot.pk, portion=portion, reason=reason, destination="compost")


def cut_kale(at: datetime = NOW, crates: int = 3, wasted: int = 12, reason: str = "wilted") -> None:
    """A harvest in crates of 12 bunches; some of the first is thrown away the day after."""
    first = make_lots(*[12] * crates, at=at)[0]
    if wasted:
        throw(first, wasted, at + timedelta(days=1), reason)


def cut_too_much(weeks: int = 3) -> Crop:
    """So many Wednesdays up to this week's, a crate too much each time."""
    for ago in range(weeks):
        cut_kale(NOW - ago * WEEK)
    return crop()
