"""Which crates an amount is taken from, so that the fewest full ones are left part-taken.

Opened crates may be left with any rest. So of crates that may go to the same lines none is newly
opened where some of the full ones, whole, leave a rest that the opened ones cover; else just one.
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from inventory.rotation.filling import route, sent
from inventory.rotation.lines import PullLot, thousandths
from inventory.rotation.whole import all_sums, largest_within, smallest_between, smallest_reaching

MOST_EXACT = 12  # crates that go together, of which every choice is tried
_MOST_TRIED = 300

Shares = dict[int, dict[int, int]]  # by mask, by line: how much


def open_fewest(
    crates: Mapping[int, Sequence[PullLot]], shares: Shares
) -> dict[tuple[str, int], int]:
    """Return thousandths by (lot code, line) of crates of one harvest that keep as long.

    crates: by the mask of the lines they may go to. shares: how much each
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
    found: dict[int, list[PullLot]] = defaultdict(list)
    for mask, lots in crates.items():
        if mask & lines:
            found[mask & lines] += lots
    by_mask = {mask: _kind(lots) for mask, lots in found.items()}
    held: Shares = defaultdict(lambda: defaultdict(int))
    for mask, of_mask in shares.items():
        for line, amount in of_mask.items():
            held[mask & lines][line] += amount
    if len(by_mask) > 1:
        held = _spread(by_mask, held)
    amounts: dict[tuple[str, int], int] = {}
    for mask, of_kind in held.items():
        total, kind = sum(of_kind.values()), by_mask[mask]
        taken = kind.taken(total)
        # A crate more would join at the far end: it is the near ones that are split.
        amounts |= _share_out(taken[::-1] if total < kind.total else taken, of_kind)
    return amounts


def _mask(shares: Shares) -> int:
    lines = {line for of_mask in shares.values() for line in of_mask}
    return sum(1 << line for line in lines)


Crate = tuple[str, int]  # code, thousandths


class Range(NamedTuple):
    """An amount from `low` to `high` can be had by opening so many full crates."""

    opens: int
    low: int
    high: int

    def off(self, amount: int) -> int:
        return max(self.low - amount, 0, amount - self.high)


@dataclass(frozen=True)
class _Kind:
    """Crates that may go to the same lines: opened ones, and full ones."""

    parts: list[Crate]
    full: list[Crate]

    @property
    def in_parts(self) -> int:
        return sum(amount for _, amount in self.parts)

    @property
    def sizes(self) -> list[int]:
        return [amount for _, amount in self.full]

    @property
    def total(self) -> int:
        return self.in_parts + sum(self.sizes)

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

    def ranges(self, amount: int) -> list[Range]:
        """Return what can be taken in all, the fewest opened first, then the nearest to an amount.

        Of many crates only the nearest below and above: as a rule that is near enough.
        """
        parts, sizes = self.in_parts, self.sizes
        if len(sizes) <= MOST_EXACT:
            sums = all_sums(sizes)
        else:
            chosen = largest_within(sizes, amount), smallest_reaching(sizes, amount - parts)
            sums = {sum(sizes[place] for place in places) for places in chosen}
        ranges = [Range(0, whole, whole + parts) for whole in sums]
        ranges.append(Range(1, 0, self.total))
        return sorted(ranges, key=lambda one: (one.opens, one.off(amount), one.low))


def _kind(lots: Iterable[PullLot]) -> _Kind:
    kind = _Kind([], [])
    for lot in sorted(lots, key=lambda lot: (lot.walk, lot.code)):
        (kind.parts if lot.part else kind.full).append((lot.code, thousandths(lot.quantity)))
    return kind


def _spread(by_mask: Mapping[int, _Kind], held: Shares) -> Shares:
    """Spread what the lines get over the masks so that the fewest are opened, if that is fewer
    than as things stand."""
    opened = sum(by_mask[mask].opens(sum(shares.values())) for mask, shares in held.items())
    few = sum(len(kind.parts + kind.full) for kind in by_mask.values()) <= MOST_EXACT
    for most in range(opened):
        search = _Search(by_mask, held, math.inf if few else _MOST_TRIED)
        if found := search.find([], most, held):
            return found
    return held


class _Search:
    """A search for ranges, one for each mask, that the lines can be served from."""

    def __init__(self, by_mask: Mapping[int, _Kind], held: Shares, tries: float):
        self.masks, self.kinds, self.tries = list(by_mask), list(by_mask.values()), tries
        self.all = [(0, kind.total) for kind in self.kinds]
        self.room = [0] * max(self.masks).bit_length()
        for shares in held.values():
            for line, amount in shares.items():
                self.room[line] += amount

    def find(self, chosen: list[tuple[int, int]], most: int, shares: Shares) -> Shares | None:
        """Return shares where no more than `most` are opened, the first ranges being chosen.

        shares: what serves the lines with those chosen, whatever is taken of the other masks.
        """
        place = len(chosen)
        if place == len(self.kinds):
            return shares
        amount = sum(shares[self.masks[place]].values()) if self.masks[place] in shares else 0
        for opens, low, high in self.kinds[place].ranges(amount):
            if opens > most or not self.tries:
                break
            self.tries -= 1
            now = [*chosen, (low, high)]
            served = shares if low <= amount <= high else self._served(now + self.all[place + 1 :])
            if served and (found := self.find(now, most - opens, served)):
                return found
        return None

    def _served(self, ranges: list[tuple[int, int]]) -> Shares | None:
        """Return how all lines get theirs with what is taken of each mask within its range."""
        least = [low for low, _ in ranges]
        more = [high - low for low, high in ranges]
        held = route(self.masks * 2, least + more, self.room)
        taken = sent(held, 2 * len(self.masks))
        if taken[: len(self.masks)] != least or sum(taken) != sum(self.room):
            return None
        shares: Shares = defaultdict(lambda: defaultdict(int))
        for line, of_line in enumerate(held):
            for giver, amount in of_line.items():
                shares[self.masks[giver % len(self.masks)]][line] += amount
        return shares


def _in_order(crates: Iterable[Crate], total: int) -> list[Crate]:
    taken = []
    for code, amount in crates:
        if total:
            taken.append((code, min(total, amount)))
            total -= taken[-1][1]
    return taken


def _share_out(crates: Iterable[Crate], wanted: Mapping[int, int]) -> dict[tuple[str, int], int]:
    """Deal the crates out to the lines: to each in turn those it can have all of, then the rest.

    So few are split, and where one crate is gone few others go to another line than before.
    """
    left, lacking = dict(crates), dict(sorted(wanted.items()))
    shared: dict[tuple[str, int], int] = {}
    for line in lacking:
        for code, amount in list(left.items()):
            if amount <= lacking[line]:
                shared[code, line] = left.pop(code)
                lacking[line] -= amount
    for line, lack in lacking.items():
        for code, give in _in_order(left.items(), lack):
            shared[code, line] = give
            left[code] -= give
        left = {code: rest for code, rest in left.items() if rest}
    return shared
