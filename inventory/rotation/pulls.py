"""The pull plan: which crates fill which order lines, over the whole order book.

In this order of weight:
1. The most is filled, rank by rank: firm lines due within 14 days, then wishes, then firm lines
   due later. Inside a rank by the day due, then by when it was said: however many of the first
   lines one counts, they get the most they could get together; so each rank does, and the
   whole. A line with no day due counts as due today.
2. The least life is shipped: quantity times the whole days a crate would keep where it stands,
   with the opposite sign for a line that gets the freshest. A line's own days, and what it
   refuses, only decide whether a crate may go.
3. The line served first gets what goes first in rotation (one that gets the freshest: last), and
   of what goes together a line stays with one harvest where one has enough for it.
4. The fewest full crates are left part-taken, among crates that are alike: as many whole days
   where they stand, one rank and harvest.
5. The shortest walk: of crates that are alike the nearest first.
Which line then has which of the crates alike is dealt so that few takes change where one is gone.

The first two are exact for lines that take parts, whatever the buyers refuse (filling.py; where
those that get the freshest and the others want the same crates it is slower, freshest.py). So is
the third, each of these two kinds by itself, but for the harvests: of those the one that fits best
is taken line by line (settling.py). The fourth is exact where all crates alike are good for the
same of the lines they go to, else up to twelve of them, else nearly (opening.py).

Lines that take only whole crates go first within their rank, each by exact subset sum, in the
order they are served; they leave the crates that lines of a rank before theirs need, so what those
get is the same without them. They take no opened crate. That order is a rule, not an
optimum: tests/bench/bench_pulls.py tells what it costs.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from inventory.rotation.crop_plan import Pair, plan_crop
from inventory.rotation.lines import PullLine, PullLot, eligible, thousandths, units


@dataclass(frozen=True)
class Take:
    line: str
    lot: str
    quantity: Decimal


class WhyShort(StrEnum):
    """Why a line will not get everything: no such crop, only crates this buyer refuses, only
    crates that would not keep long enough, or simply no more."""

    NONE = "none"
    REFUSED = "refused"
    TOO_OLD = "too-old"
    NOT_ENOUGH = "not-enough"


@dataclass(frozen=True)
class Short:
    """What a line will not get. parts: how much of it for which reason; they add up to it."""

    line: str
    quantity: Decimal
    parts: tuple[tuple[WhyShort, Decimal], ...]

    @property
    def reason(self) -> WhyShort:
        """The first of the reasons, which a person can do most about."""
        return self.parts[0][0]


@dataclass(frozen=True)
class Plan:
    """takes in the order one walks the shelves; shorts in the order the lines are served."""

    takes: tuple[Take, ...]
    shorts: tuple[Short, ...]


def plan_pulls(lots: Iterable[PullLot], lines: Sequence[PullLine]) -> Plan:
    """Return which crates to take for which lines, and what will be missing.

    Example, quantities in bunches:
    >>> old = PullLot("A", "kale", Decimal(10), {"inn": 2}, walk=2)
    >>> new = PullLot("B", "kale", Decimal(20), {"inn": 7}, walk=1)
    >>> plan_pulls([old, new], [PullLine("inn", "kale", Decimal(24), minimum_days=5)])
    Plan(takes=(Take(line='inn', lot='B', quantity=Decimal('20')),), \
shorts=(Short(line='inn', quantity=Decimal('4'), \
parts=((<WhyShort.TOO_OLD: 'too-old'>, Decimal('4')),)),))
    """
    by_crop: dict[str, list[PullLot]] = defaultdict(list)
    for lot in lots:
        by_crop[lot.crop].append(lot)
    wanted: dict[str, list[PullLine]] = defaultdict(list)
    in_turn = sorted(lines, key=lambda line: line.turn)
    for line in in_turn:
        wanted[line.crop].append(line)

    amounts: dict[Pair, int] = {}
    for crop, crop_lines in wanted.items():
        amounts |= plan_crop(by_crop[crop], crop_lines)
    return Plan(_takes(by_crop, in_turn, amounts), tuple(_shorts(in_turn, by_crop, amounts)))


def _takes(
    by_crop: Mapping[str, list[PullLot]], in_turn: list[PullLine], amounts: Mapping[Pair, int]
) -> tuple[Take, ...]:
    walk = {lot.code: lot.walk for found in by_crop.values() for lot in found}
    turn = {line.id: number for number, line in enumerate(in_turn)}
    takes = [Take(line, lot, units(amount)) for (lot, line), amount in amounts.items()]
    return tuple(sorted(takes, key=lambda take: (walk[take.lot], take.lot, turn[take.line])))


def _shorts(
    lines: Sequence[PullLine],
    by_crop: Mapping[str, list[PullLot]],
    amounts: Mapping[Pair, int],
) -> Iterator[Short]:
    got: dict[str, int] = defaultdict(int)
    for (_, line_id), amount in amounts.items():
        got[line_id] += amount
    for line in lines:
        missing = thousandths(line.quantity) - got[line.id]
        if missing > 0:
            parts = _why_short(by_crop.get(line.crop, []), line, missing)
            told = tuple((reason, units(amount)) for reason, amount in parts if amount)
            yield Short(line.id, units(missing), told)


def _why_short(lots: list[PullLot], line: PullLine, missing: int) -> Iterator[tuple[WhyShort, int]]:
    """Yield how much is missing for each reason: what this buyer refuses, what would not keep
    long enough there, and what is not here at all."""
    if not lots:
        yield WhyShort.NONE, missing
        return
    refused = [lot for lot in lots if lot.tags & line.refused]
    too_old = [lot for lot in lots if not (lot.tags & line.refused or eligible(lot, line))]
    for reason, found in ((WhyShort.REFUSED, refused), (WhyShort.TOO_OLD, too_old)):
        amount = min(missing, sum(thousandths(lot.quantity) for lot in found))
        missing -= amount
        yield reason, amount
    yield WhyShort.NOT_ENOUGH, missing
