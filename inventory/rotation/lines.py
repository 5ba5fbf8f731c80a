"""A crate and an order line as the pull plan sees them."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import NamedTuple

WINDOW_DAYS = 14
_PER_UNIT = 1000  # quantities carry three decimals


class PullLot(NamedTuple):
    """A fit crate that may be pulled.

    crop: what a line asks for; crates of another crop or unit never match.
    days_left: days the crate would still keep in the fridge of each line's buyer, by line id.
    walk: its place along the shelves. tags: what a buyer may refuse ("bought-in", …).
    rank: its place in the rotation order, smaller goes first; crates of one harvest share one.
    part: already opened. life_days: whole days it would keep where it stands, by default its
    rank. harvest: which one it is of.
    """

    code: str
    crop: str
    quantity: Decimal
    days_left: Mapping[str, float]
    walk: int = 0
    tags: frozenset[str] = frozenset()
    rank: int = 0
    part: bool = False
    life_days: int | None = None
    harvest: str = ""

    @property
    def life(self) -> int:
        return self.rank if self.life_days is None else self.life_days


@dataclass(frozen=True)
class PullLine:
    """What one buyer wants of one crop, and how many days it must still keep there.

    firm: promised, not a wish of the market's or the stand's. due: in so many days, None within
    the window. said: when it was said, smaller is earlier; lines said at one time go by id.
    whole: only crates that were not opened, each all of it, never above the quantity; one_more:
    but up to one crate more than that. freshest: what keeps longest, not what goes first.
    """

    id: str
    crop: str
    quantity: Decimal
    minimum_days: float = 0
    refused: frozenset[str] = frozenset()
    firm: bool = True
    due: int | None = None
    said: int = 0
    whole: bool = False
    freshest: bool = False
    one_more: bool = False

    @property
    def rank(self) -> int:
        """0 firm and due within the window, 1 a wish, 2 firm and due later."""
        if not self.firm:
            return 1
        return 2 if (self.due or 0) > WINDOW_DAYS else 0

    @property
    def turn(self) -> tuple:
        """Sort key: the order in which lines are served."""
        return self.rank, self.due or 0, self.said, self.id


def eligible(lot: PullLot, line: PullLine) -> bool:
    """Return whether this crate may go to this line at all."""
    return (
        lot.crop == line.crop
        and not lot.tags & line.refused
        and lot.days_left[line.id] >= line.minimum_days
    )


def thousandths(quantity: Decimal) -> int:
    return round(quantity * _PER_UNIT)


def units(amount: int) -> Decimal:
    """Return thousandths as a quantity without needless zeros. Example: units(1500) → 1.5"""
    whole, rest = divmod(amount, _PER_UNIT)
    return (Decimal(amount) / _PER_UNIT).normalize() if rest else Decimal(whole)
