"""The plan for one crop: who gets how much, then from which crates; see pulls.py for the rules."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from itertools import groupby
from typing import NamedTuple

from inventory.rotation.filling import Held, route, sent, turned
from inventory.rotation.freshest import route_both_ways
from inventory.rotation.lines import PullLine, PullLot, eligible, thousandths
from inventory.rotation.opening import open_fewest
from inventory.rotation.settling import settle
from inventory.rotation.whole import largest_within, smallest_reaching

Pair = tuple[str, str]  # lot code, line id


def plan_crop(lots: Iterable[PullLot], lines: list[PullLine]) -> dict[Pair, int]:
    """Return thousandths by (lot code, line id) for one crop. lines: in the order of their turn."""
    left = sorted((lot for lot in lots if lot.quantity > 0), key=_goes)
    in_parts = [line for line in lines if not line.whole]
    amounts: dict[Pair, int] = {}
    for rank, ranked in groupby((line for line in lines if line.whole), lambda line: line.rank):
        of_rank = list(ranked)
        before = [line for line in in_parts if line.rank < rank]
        needed = _needed(left, before, of_rank)
        free = [lot for lot in left if lot.code not in needed and not lot.part]
        for line in of_rank:
            chosen = _whole_crates([lot for lot in free if eligible(lot, line)], line)
            amounts |= {(lot.code, line.id): thousandths(lot.quantity) for lot in chosen}
            gone = {code for code, _ in amounts}
            free = [lot for lot in free if lot.code not in gone]
        left = [lot for lot in left if lot.code not in gone]
    return amounts | _plan_parts(left, in_parts)


def _goes(lot: PullLot) -> tuple:
    """Sort key: least life first, of crates that are alike the opened and the nearest."""
    return lot.life, lot.rank, not lot.part, lot.walk, lot.code


def _needed(lots: list[PullLot], before: list[PullLine], whole: list[PullLine]) -> set[str]:
    """Return the crates to leave to lines of an earlier rank so that they get as much as ever:
    such as these whole lines could take only where nothing else will do."""
    longest = 1 + max((lot.life for lot in lots), default=0)
    spared = [
        lot._replace(life_days=lot.life + longest)
        if not lot.part and any(eligible(lot, line) for line in whole)
        else lot
        for lot in lots
    ]
    lines = [replace(line, freshest=False) for line in before]
    return {code for code, _ in _plan_parts(spared, lines)}


def _whole_crates(lots: list[PullLot], line: PullLine) -> list[PullLot]:
    order = lots[::-1] if line.freshest else lots
    sizes = [thousandths(lot.quantity) for lot in order]
    choose = smallest_reaching if line.one_more else largest_within
    return [order[place] for place in choose(sizes, _wanted(line))]


def _wanted(line: PullLine) -> int:
    return max(0, thousandths(line.quantity))


def _plan_parts(lots: list[PullLot], lines: list[PullLine]) -> dict[Pair, int]:
    """Return what lines that take parts get of these crates: who gets how much, then from which
    crates, then which of them goes to whom; see filling.py."""
    groups = _alike(lots, lines)
    masks = [group.mask for group in groups]
    stock = [group.amount for group in groups]
    wanted = [_wanted(line) for line in lines]
    filled = sent(route(turned(masks, len(lines)), wanted, stock), len(lines))
    return _crates(groups, lines, _choose(groups, lines, filled))


class _Alike(NamedTuple):
    """Crates that are alike. mask: the lines they may go to, by place in the list of lines."""

    life: int
    rank: int
    harvest: str
    mask: int
    lots: tuple[PullLot, ...]
    amount: int


def _alike(lots: Iterable[PullLot], lines: list[PullLine]) -> list[_Alike]:
    """Return the crates in groups, in the order they go."""
    found: dict[tuple[int, int, str, int], list[PullLot]] = defaultdict(list)
    for lot in lots:
        mask = sum(1 << number for number, line in enumerate(lines) if eligible(lot, line))
        if mask:
            found[lot.life, lot.rank, lot.harvest, mask].append(lot)
    groups = [
        _Alike(*key, tuple(of_key), sum(thousandths(lot.quantity) for lot in of_key))
        for key, of_key in found.items()
    ]
    return sorted(groups, key=lambda group: (group.life, group.rank, group.harvest, group.mask))


def _choose(groups: list[_Alike], lines: list[PullLine], filled: list[int]) -> Held:
    """Return how much of each group goes to each line, which gets what is filled."""
    masks = [group.mask for group in groups]
    stock = [group.amount for group in groups]
    fresh = [number for number, line in enumerate(lines) if line.freshest]
    others = [number for number, line in enumerate(lines) if not line.freshest]
    if fresh:
        fresh_ones = sum(1 << number for number in fresh)
        held = route_both_ways(masks, stock, filled, _prices(groups, sum(filled)), fresh_ones)
    else:
        held = route(masks, stock, filled)
    masks, shelf = _with_shelf(groups, masks, held)
    harvests = [group.harvest for group in groups]
    levels = _levels(groups)
    settle(held, masks, others, levels, harvests, shelf)
    settle(held, masks, fresh, levels[::-1], harvests, shelf)
    return held[: len(lines)]


def _with_shelf(groups: list[_Alike], masks: list[int], held: Held) -> tuple[list[int], range]:
    """Let what stays of groups that go together be held by a taker more, so that it can be
    exchanged for what is used of them. Adds these takers to `held`; returns masks and takers."""
    together: dict[tuple, dict[int, int]] = defaultdict(dict)
    used = sent(held, len(groups))
    for number, group in enumerate(groups):
        together[group.life, group.rank][number] = group.amount - used[number]
    first = len(held)
    for left in together.values():
        if len(left) > 1 and any(left.values()):
            held.append({number: amount for number, amount in left.items() if amount})
            for number in left:
                masks[number] |= 1 << len(held) - 1
    return masks, range(first, len(held))


def _prices(groups: list[_Alike], total: int) -> list[int]:
    """Return one whole number for each group that weighs its days before its rank."""
    ranks = sorted({group.rank for group in groups})
    place = {rank: number for number, rank in enumerate(ranks)}
    by_day = 2 * len(ranks) * total + 1
    return [group.life * by_day + place[group.rank] for group in groups]


def _levels(groups: list[_Alike]) -> list[list[int]]:
    """Return the places of the groups of each rank, in rotation order."""
    by_rank: dict[int, list[int]] = defaultdict(list)
    for number, group in enumerate(groups):
        by_rank[group.rank].append(number)
    return [by_rank[rank] for rank in sorted(by_rank)]


def _crates(groups: list[_Alike], lines: list[PullLine], held: Held) -> dict[Pair, int]:
    """Return amounts by crate and line, where each harvest leaves the fewest crates opened."""
    shares: list[dict[int, int]] = [{} for _ in groups]
    for line, of_line in enumerate(held):
        for number, amount in of_line.items():
            shares[number][line] = amount
    together: dict[tuple, list[int]] = defaultdict(list)
    for number, group in enumerate(groups):
        together[group.life, group.rank, group.harvest].append(number)
    amounts: dict[Pair, int] = {}
    for numbers in together.values():
        used = {groups[number].mask: shares[number] for number in numbers if shares[number]}
        if not used:
            continue
        crates = {groups[number].mask: groups[number].lots for number in numbers}
        for (code, line), amount in open_fewest(crates, used).items():
            amounts[code, lines[line].id] = amount
    return amounts
