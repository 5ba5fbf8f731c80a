"""The pull plan: which crates fill which order lines.

In this order of weight: fill the most; ship the least life that still meets each line's
minimum days, so the longest-lived crates stay; fill earlier lines before later ones; take by
rotation order; break open the fewest full crates. The first two are exact for divisible
quantities, whatever the buyers refuse, by minimum-cost flow.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

_PER_UNIT = 1000  # quantities carry three decimals
_PER_DAY = 1000

_Pair = tuple[str, str]  # lot code, line id


@dataclass(frozen=True)
class PullLot:
    """A fit crate that may be pulled.

    crop: what a line asks for; crates of another crop or unit never match.
    days_left: days the crate would still keep in the fridge of each line's buyer, by line id.
    walk: its place along the shelves. tags: what a buyer may refuse ("bought-in", …).
    rank: its place in the rotation order, smaller goes first; crates of one harvest share one.
    part: already opened.
    """

    code: str
    crop: str
    quantity: Decimal
    days_left: Mapping[str, float]
    walk: int = 0
    tags: frozenset[str] = frozenset()
    rank: int = 0
    part: bool = False


@dataclass(frozen=True)
class PullLine:
    """What one buyer wants of one crop, and how many days it must still keep there."""

    id: str
    crop: str
    quantity: Decimal
    minimum_days: float = 0
    refused: frozenset[str] = frozenset()


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
    """takes in the order one walks the shelves; shorts in the order of the lines."""

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
    for line in lines:
        wanted[line.crop].append(line)

    amounts: dict[_Pair, int] = {}
    for crop, crop_lines in wanted.items():
        crop_lots = sorted(by_crop[crop], key=lambda lot: (lot.rank, not lot.part, lot.code))
        flow = _assign(crop_lots, crop_lines)
        amounts |= _open_fewest(crop_lots, crop_lines, flow)

    walk = {lot.code: (lot.walk, lot.code) for found in by_crop.values() for lot in found}
    takes = [Take(line, lot, _units(amount)) for (lot, line), amount in amounts.items() if amount]
    takes.sort(key=lambda take: walk[take.lot])
    return Plan(tuple(takes), tuple(_shorts(lines, by_crop, amounts)))


def eligible(lot: PullLot, line: PullLine) -> bool:
    """Return whether this crate may go to this line at all."""
    return (
        lot.crop == line.crop
        and not lot.tags & line.refused
        and lot.days_left[line.id] >= line.minimum_days
    )


def _units(amount: int) -> Decimal:
    exact = Decimal(amount) / _PER_UNIT
    return exact.quantize(Decimal(1)) if exact == exact.to_integral_value() else exact.normalize()


def _shorts(
    lines: Sequence[PullLine],
    by_crop: Mapping[str, list[PullLot]],
    amounts: Mapping[_Pair, int],
) -> Iterator[Short]:
    got: dict[str, int] = defaultdict(int)
    for (_, line_id), amount in amounts.items():
        got[line_id] += amount
    for line in lines:
        missing = round(line.quantity * _PER_UNIT) - got[line.id]
        if missing > 0:
            parts = _why_short(by_crop.get(line.crop, []), line, missing)
            told = tuple((reason, _units(amount)) for reason, amount in parts if amount)
            yield Short(line.id, _units(missing), told)


def _why_short(lots: list[PullLot], line: PullLine, missing: int) -> Iterator[tuple[WhyShort, int]]:
    """Yield how much is missing for each reason: what this buyer refuses, what would not keep
    long enough there, and what is not here at all."""
    if not lots:
        yield WhyShort.NONE, missing
        return
    refused = [lot for lot in lots if lot.tags & line.refused]
    too_old = [lot for lot in lots if lot not in refused and not eligible(lot, line)]
    for reason, found in ((WhyShort.REFUSED, refused), (WhyShort.TOO_OLD, too_old)):
        amount = min(missing, sum(round(lot.quantity * _PER_UNIT) for lot in found))
        missing -= amount
        yield reason, amount
    yield WhyShort.NOT_ENOUGH, missing


def _assign(lots: list[PullLot], lines: list[PullLine]) -> dict[_Pair, int]:
    """Return thousandths of a unit by (lot code, line id): minimum-cost maximum flow.

    Successive cheapest paths: each round sends as much as it can along the path whose crates
    have the least life, taking back earlier choices where that lets more through.
    """
    supply = {lot.code: round(lot.quantity * _PER_UNIT) for lot in lots}
    demand = {line.id: round(line.quantity * _PER_UNIT) for line in lines}
    cost = _costs(lots, lines, sum(demand.values()))
    flow = dict.fromkeys(cost, 0)
    while path := _cheapest_path(cost, flow, supply, demand):
        forward = path[0::2]
        back = path[1::2]
        amount = min(supply[forward[0][0]], demand[forward[-1][1]], *(flow[pair] for pair in back))
        for pair in forward:
            flow[pair] += amount
        for pair in back:
            flow[pair] -= amount
        supply[forward[0][0]] -= amount
        demand[forward[-1][1]] -= amount
    return flow


def _costs(lots: list[PullLot], lines: list[PullLine], total: int) -> dict[_Pair, int]:
    """Return one whole number per possible pair that weighs days before line before rank."""
    by_rank = len(lots) * total + 1
    by_line = len(lines) * by_rank * total + 1
    return {
        (lot.code, line.id): (
            round(lot.days_left[line.id] * _PER_DAY) * by_line + index * by_rank + rank
        )
        for index, line in enumerate(lines)
        for rank, lot in enumerate(lots)
        if eligible(lot, line)
    }


def _cheapest_path(
    cost: Mapping[_Pair, int],
    flow: Mapping[_Pair, int],
    supply: Mapping[str, int],
    demand: Mapping[str, int],
) -> list[_Pair]:
    """Return the pairs of the cheapest path from a lot with stock to a line that wants more.

    Every second pair is a take to be undone. Bellman and Ford's rounds, since undoing has a
    negative cost. Empty when nothing more can be filled.
    """
    best_lot: dict[str, int] = {code: 0 for code, left in supply.items() if left}
    best_line: dict[str, int] = {}
    via_lot: dict[str, _Pair] = {}
    via_line: dict[str, _Pair] = {}
    changed = True
    while changed:
        changed = False
        for pair, price in cost.items():
            code, line = pair
            if code in best_lot:
                reach = best_lot[code] + price
                if line not in best_line or reach < best_line[line]:
                    best_line[line], via_lot[line], changed = reach, pair, True
            if line in best_line and flow[pair]:
                reach = best_line[line] - price
                if code not in best_lot or reach < best_lot[code]:
                    best_lot[code], via_line[code], changed = reach, pair, True
    open_lines = [line for line in best_line if demand[line]]
    if not open_lines:
        return []
    path = [via_lot[min(open_lines, key=best_line.__getitem__)]]
    while path[0][0] in via_line:
        undone = via_line[path[0][0]]
        path[:0] = [via_lot[undone[1]], undone]
    return path


def _open_fewest(
    lots: list[PullLot], lines: list[PullLine], flow: Mapping[_Pair, int]
) -> dict[_Pair, int]:
    """Choose again among crates that are alike, so that fewer full ones are left broken open.

    Alike means: of one rank, as many days left for every line, and no difference in what may
    be refused. Part crates go first when equal.
    """
    groups: dict[tuple, list[PullLot]] = defaultdict(list)
    for lot in lots:
        days = tuple(lot.days_left[line.id] for line in lines)
        groups[lot.rank, days, lot.tags].append(lot)
    chosen: dict[_Pair, int] = {}
    for group in groups.values():
        wanted = {line.id: sum(flow.get((lot.code, line.id), 0) for lot in group) for line in lines}
        crates = _crates(group, sum(wanted.values()))
        chosen |= _share_out(crates, wanted)
    return chosen


def _crates(group: list[PullLot], total: int) -> list[tuple[str, int]]:
    """Return (code, thousandths) of the crates to take: in rotation order, or only full ones."""
    parts_first = sorted(group, key=lambda lot: not lot.part)
    full_first = sorted(group, key=lambda lot: lot.part)
    candidates = [_take_in_order(order, total) for order in (parts_first, full_first)]
    return min(candidates, key=lambda crates: _broken(group, crates))


def _take_in_order(order: list[PullLot], total: int) -> list[tuple[str, int]]:
    crates = []
    for lot in order:
        amount = min(total, round(lot.quantity * _PER_UNIT))
        if amount:
            crates.append((lot.code, amount))
        total -= amount
    return crates


def _broken(group: list[PullLot], crates: list[tuple[str, int]]) -> int:
    full = {lot.code: round(lot.quantity * _PER_UNIT) for lot in group if not lot.part}
    return sum(1 for code, amount in crates if code in full and amount < full[code])


def _share_out(crates: list[tuple[str, int]], wanted: dict[str, int]) -> dict[_Pair, int]:
    """Deal the crates out to the lines, each crate to one line as far as it goes."""
    shared: dict[_Pair, int] = {}
    lacking = {line: amount for line, amount in wanted.items() if amount}
    for code, left in crates:
        while left:
            line = next(iter(lacking))
            give = min(left, lacking[line])
            shared[code, line] = give
            left -= give
            lacking[line] -= give
            if not lacking[line]:
                del lacking[line]
    return shared
