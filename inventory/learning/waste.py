"""What was wasted, as the food loss and waste standard has it, and what it is a share of.

The standard: Food Loss and Waste Accounting and Reporting Standard 1.0, World Resources Institute,
2016. Food given to people stays food: it is told beside what was wasted, never in it.
"""

from collections.abc import Callable
from dataclasses import dataclass, fields
from decimal import Decimal
from operator import add, attrgetter

ZERO = Decimal(0)

# The standard's ten destinations, by their numbers in its scope template of 2017.
DESTINATIONS = {
    "animal feed": 1,
    "biomaterial": 2,
    "digestion": 3,
    "compost": 4,
    "burnt": 5,
    "land": 6,
    "landfill": 7,
    "not harvested": 8,
    "refuse": 9,
    "sewer": 10,
}
# Where they stand on the Wasted Food Scale of the US EPA, October 2023: to waste none is the best
# (1), to give it to people next (2). Of a digester nobody says here whether its digestate is used:
# it has the lower of its two steps. Land: from memory. The scale names no refuse and no material.
SCALE = {
    "animal feed": 3,
    "not harvested": 3,
    "compost": 4,
    "digestion": 5,
    "land": 5,
    "landfill": 6,
    "burnt": 6,
    "sewer": 6,
}
_OFF_THE_SCALE = max(SCALE.values()) + 1


def standing(destination: str) -> tuple[int, int]:
    """Return what puts destinations in order, the best use first; the unknown stand last."""
    return SCALE.get(destination, _OFF_THE_SCALE), DESTINATIONS.get(destination, len(DESTINATIONS))


def share(part: Decimal, whole: Decimal) -> Decimal | None:
    """Return a part in % of a whole, None where there is no whole.

    Example: 60 of 622 → 9.646…
    """
    return part * 100 / whole if whole > 0 else None


@dataclass(frozen=True)
class Flow:
    """What came to a store, left it and stayed in a span of time, all in one unit.

    sold, given, own_use: less what came back of it. thrown: what was discarded, and lost at a
    market. missing: what a count did not find. otherwise: what is gone but neither used nor wasted
    (back to its supplier, dried off, at a market that is not closed yet), less what a count found
    beyond the book.
    """

    opening: Decimal = ZERO
    came_in: Decimal = ZERO
    sold: Decimal = ZERO
    given: Decimal = ZERO
    own_use: Decimal = ZERO
    thrown: Decimal = ZERO
    missing: Decimal = ZERO
    otherwise: Decimal = ZERO
    closing: Decimal = ZERO

    def __add__(self, other: "Flow") -> "Flow":
        return Flow(*map(add, _figures(self), _figures(other)))

    def times(self, factor: Decimal) -> "Flow":
        """Return the same in another unit, of which one of this is `factor`."""
        return Flow(*(figure * factor for figure in _figures(self)))

    @property
    def wasted(self) -> Decimal:
        return self.thrown + self.missing

    @property
    def left(self) -> Decimal:
        """What left for good: sold, given, own use and wasted."""
        return self.sold + self.given + self.own_use + self.wasted

    @property
    def error(self) -> Decimal:
        """What does not add up: closing less everything that should lead to it."""
        return self.closing - (self.opening + self.came_in - self.left - self.otherwise)

    @property
    def waste_of_left(self) -> Decimal | None:
        """The waste rate: wasted in % of what left; None where nothing left.

        Example: opening 140, in 612, closing 130, wasted 60 → 9.646…
        """
        return share(self.wasted, self.left)

    @property
    def waste_of_came_in(self) -> Decimal | None:
        """Wasted in % of what came in. It differs from the rate wherever the stock changes."""
        return share(self.wasted, self.came_in)


_figures: Callable[[Flow], tuple[Decimal, ...]] = attrgetter(*(one.name for one in fields(Flow)))
