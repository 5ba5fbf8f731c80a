"""Which crates what sold at a stall was in, and which what came back is in."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_DOWN, Decimal

from inventory.measures import PLACES

_NOTHING = Decimal(0)


@dataclass(frozen=True)
class Share:
    """What became of what one crate carried; the four are all of it."""

    sold: Decimal
    given: Decimal
    lost: Decimal
    back: Decimal


def deal_out(
    loads: Sequence[Decimal],
    back: Decimal,
    given: Decimal,
    lost: Decimal,
    crates: int | None = None,
    whole: bool = True,
) -> list[Share]:
    """Return what became of each crate's load where only the sums are known.

    loads: what each carried, in the order in which they should go. The stall is taken to have
    sold the first of them, and then given away and lost: so what is back is in the last. crates:
    in how many of these, in equal parts where that is more than it fills; None, or fewer: as few
    as it fills. whole: it is counted.
    Example: deal_out([12, 12, 12], back=6, given=1, lost=0) → 12 sold, 12 sold, and of the last
    5 sold, 1 given, 6 back.
    """
    filled = _from_the_last(loads, back)
    if crates is not None and crates > sum(map(bool, filled)):
        filled = _spread(loads, back, crates, whole)
    left = [load - back for load, back in zip(loads, filled, strict=True)]
    sold = sum(left) - given - lost
    rows = deal(left, [sold, given, lost])
    return [Share(row[0], row[1], row[2], back) for row, back in zip(rows, filled, strict=True)]


def deal(loads: Sequence[Decimal], amounts: Sequence[Decimal]) -> list[list[Decimal]]:
    """Return how much of each amount each crate gets, in order, until all of it is used up.

    Example: deal([3, 3], [4, 2]) → [[3, 0], [1, 2]]
    """
    left = list(amounts)
    rows = []
    for load in loads:
        row = []
        for index, amount in enumerate(left):
            part = min(load, amount)
            left[index] -= part
            load -= part
            row.append(part)
        rows.append(row)
    return rows


def in_crates(parts: Sequence[Decimal], crates: int) -> list[list[int]]:
    """Return which parts were put together so that they are in so many crates: the smallest were.

    Returns their places in the list. Example: in_crates([9, 3, 2], 2) → [[0], [1, 2]]
    """
    order = sorted(range(len(parts)), key=lambda place: -parts[place])
    alone, together = order[: crates - 1], order[crates - 1 :]
    return sorted([[place] for place in alone] + ([sorted(together)] if together else []))


def _from_the_last(loads: Sequence[Decimal], amount: Decimal) -> list[Decimal]:
    return [row[0] for row in deal(loads[::-1], [amount])][::-1]


def _spread(loads: Sequence[Decimal], amount: Decimal, crates: int, whole: bool) -> list[Decimal]:
    """Return the same in so many of the last crates, in parts as equal as these hold."""
    step = Decimal(1) if whole else PLACES
    part = (amount / crates).quantize(step, rounding=ROUND_DOWN)
    first = len(loads) - crates
    least = [_NOTHING] * first + [min(load, part) for load in loads[first:]]
    free = [load - has for load, has in zip(loads, least, strict=True)]
    more = _from_the_last(free, amount - sum(least))
    return [has + extra for has, extra in zip(least, more, strict=True)]
