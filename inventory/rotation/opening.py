"""Which crates an amount is taken from, so that the fewest full ones are left part-taken.

Opened crates may be left with any rest. So of crates that may go to the same lines none is newly
opened where some of the full ones, whole, leave a rest that the opened ones cover; else just one.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import prod

from inventory.rotation.filling import route, sent
from inventory.rotation.lines import PullLot, thousandths
from inventory.rotation.whole import all_sums, smallest_between

MOST_EXACT = 12  # crates that go together, of which every choice is tried
_MOST_TRIED = 20_000

Shares = dict[int, dict[int, int]]  # by mask, by line: how much


def open_fewest(
    crates: Mapping[int, Sequence[PullLot]], shares: Shares
) -> dict[tuple[str, int], int]:
    """Return thousandths by (lot code, line) of crates of one harvest that keep as long.

    crates: in the order they go, by the mask of the lines they may go to. shares: how much each
    line gets, from crates of which mask as things stand: that may change here. Exact where all may
    go to the same of these lines, else up to MOST_EXACT crates.
    >>> from decimal import Decimal
    >>> five, six = (PullLot(c, "", Decimal(q), {}) for c, q in (("A", 5), ("B", 6)))
    >>> open_fewest({0b1: [five, six]}, {0b1: {0: 6000}})
    {('B', 0): 6000}
    """
    if sum(map(len, crates.values())) == 1:
        (only,), (of_lines,) = *crates.values(), shares.values()
        return {(only.code, line): amount for line, amount in of_lines.items()}
    lines = _mask(shares)
    by_mask: dict[int, _Kind] = {}
    for mask, lots in crates.items():
        if mask & lines:
            by_mask.setdefault(mask & lines, _Kind([], [])).add(lots)
    held: Shares = defaultdict(lambda: defaultdict(int))
    for mask, of_mask in shares.items():
        for line, amount in of_mask.items():
            held[mask & lines][line] += amount
    if len(by_mask) > 1:
        held = _spread(by_mask, held)
    amounts: dict[tuple[str, int], int] = {}
    for mask, of_kind in held.items():
        taken = by_mask[mask].taken(sum(of_kind.values()))
        amounts |= _share_out(taken, of_kind)
    return amounts


def _mask(shares: Shares) -> int:
    lines = {line for of_mask in shares.values() for line in of_mask}
    return sum(1 << line for line in lines)


Crate = tuple[str, int]  # code, thousandths


@dataclass(frozen=True)
class _Kind:
    """Crates that may go to the same lines: opened ones, and full ones."""

    parts: list[Crate]
    full: list[Crate]

    def add(self, lots: Iterable[PullLot]) -> None:
        for lot in lots:
            (self.parts if lot.part else self.full).append((lot.code, thousandths(lot.quantity)))

    @property
    def in_parts(self) -> int:
        return sum(amount for _, amount in self.parts)

    @property
    def sizes(self) -> list[int]:
        return [amount for _, amount in self.full]

    def taken(self, total: int) -> list[Crate]:
        """Return the crates that make up a total, and how much of each: no full one opened if
        that can be, opened ones used up before."""
        chosen = smallest_between(self.sizes, total - self.in_parts, total)
        if chosen is None:
            return _in_order(self.parts + self.full, total)
        whole = [self.full[place] for place in chosen]
        return whole + _in_order(self.parts, total - sum(amount for _, amount in whole))

    def opens(self, total: int) -> bool:
        return smallest_between(self.sizes, total - self.in_parts, total) is None

    def ranges(self) -> list[tuple[bool, int, int]]:
        """Return (whether a full one is opened, from, to): what can be taken in all."""
        parts = self.in_parts
        ranges = [(False, whole, whole + parts) for whole in sorted(all_sums(self.sizes))]
        return [*ranges, (True, 0, parts + sum(self.sizes))]


def _spread(by_mask: Mapping[int, _Kind], held: Shares) -> Shares:
    """Spread what the lines get over the masks so that the fewest are opened, if it is less than
    as things stand."""
    opened = sum(by_mask[mask].opens(sum(shares.values())) for mask, shares in held.items())
    if not opened or sum(len(kind.parts + kind.full) for kind in by_mask.values()) > MOST_EXACT:
        return held
    ranges = [kind.ranges() for kind in by_mask.values()]
    if prod(map(len, ranges)) > _MOST_TRIED:
        return held
    wanted: dict[int, int] = defaultdict(int)
    for shares in held.values():
        for line, amount in shares.items():
            wanted[line] += amount
    tried = sorted(product(*ranges), key=lambda choice: sum(opens for opens, _, _ in choice))
    for choice in tried:
        if sum(opens for opens, _, _ in choice) >= opened:
            break
        if found := _routed(list(by_mask), choice, wanted):
            return found
    return held


def _routed(
    masks: list[int], choice: Sequence[tuple[bool, int, int]], wanted: Mapping[int, int]
) -> Shares | None:
    """Return how the lines get what they want with as much from each mask as is chosen, None if
    that can't be."""
    least = [low for _, low, _ in choice]
    more = [high - low for _, low, high in choice]
    total = sum(wanted.values())
    if not sum(least) <= total <= sum(least) + sum(more):
        return None
    room = [wanted.get(line, 0) for line in range(max(wanted) + 1)]
    held = route(masks * 2, least + more, room)
    taken = sent(held, 2 * len(masks))
    if taken[: len(masks)] != least or sum(taken) != total:
        return None
    shares: Shares = defaultdict(lambda: defaultdict(int))
    for line, of_line in enumerate(held):
        for giver, amount in of_line.items():
            shares[masks[giver % len(masks)]][line] += amount
    return shares


def _in_order(crates: Iterable[Crate], total: int) -> list[Crate]:
    taken = []
    for code, amount in crates:
        if total:
            taken.append((code, min(total, amount)))
            total -= taken[-1][1]
    return taken


def _share_out(crates: Iterable[Crate], wanted: Mapping[int, int]) -> dict[tuple[str, int], int]:
    """Deal the crates out to the lines, each crate to one line as far as it goes: to the first
    that lacks just as much, else to the first."""
    shared: dict[tuple[str, int], int] = {}
    lacking = dict(sorted(wanted.items()))
    for code, left in crates:
        while left:
            line = next((one for one, lack in lacking.items() if lack == left), next(iter(lacking)))
            shared[code, line] = give = min(left, lacking[line])
            left -= give
            lacking[line] -= give
            if not lacking[line]:
                del lacking[line]
    return shared
