"""Which line gets which of the crates that are used: exchanges that leave every amount as it is."""

from collections import defaultdict
from collections.abc import Collection, Sequence
from itertools import pairwise

from inventory.rotation.filling import Chain, Held, add, bits, find_chain


def settle(
    held: Held,
    masks: Sequence[int],
    lines: Sequence[int],
    levels: Sequence[Sequence[int]],
    harvests: Sequence[str],
    shelf: Sequence[int] = (),
) -> None:
    """Give the earlier line what goes first, by exchanges among these lines, in place.

    held: by line, how much it gets of each giver. lines: in the order they are served. levels:
    the givers in the order they go, those that go together in one list. shelf: takers that
    exchange too, but get what the lines leave them. How much each taker gets, and how much is used
    of each giver, stays. The first line gets as much of the first level as any exchange can bring
    it, then of the second, and so on; then the next line, from what is left. Then, what each gets
    of a level staying as it is, line by line few harvests are made to do.
    >>> held = [{1: 5}, {0: 5}]
    >>> settle(held, [0b11, 0b11], [0, 1], [[0], [1]], ["", ""])
    >>> held
    [{0: 5}, {1: 5}]
    """
    if not lines or len(lines) + len(shelf) < 2:
        return
    exchange = _Exchange(held, masks, [*lines, *shelf])
    parts = {line: exchange.take_turn(line, levels) for line in lines}
    for line in lines:
        exchange.few_harvests(parts[line], harvests)
        for part in parts[line]:
            held[line].update(exchange.held[part])


class _Exchange:
    """What a line gets of a level is a taker of its own once it is settled, its part, which may
    still change one giver of that level for another.

    holders: by giver, the takers that hold something of it. later: the takers that may still
    exchange, but for the one being served. open: what that one may still change for another.
    reach: no taker beyond these can take any of that. may: by part, the givers it may have.
    """

    def __init__(self, held: Held, masks: Sequence[int], takers: Sequence[int]):
        self.held, self.masks = list(held), list(masks)
        self.later = sum(1 << taker for taker in takers)
        self.holders = [0] * len(masks)
        for taker in takers:
            for giver in held[taker]:
                self.holders[giver] |= 1 << taker
        self.open: set[int] = set()
        self.reach = 0
        self.may: dict[int, list[int]] = {}

    def take_turn(self, line: int, levels: Sequence[Sequence[int]]) -> list[int]:
        """Bring a line as much of each level as can be, one after another; return its parts."""
        self._serve(line)
        parts = []
        for level in levels:
            if not self.held[line]:
                break
            may = [one for one in level if self.masks[one] >> line & 1 and self.holders[one]]
            self.open.difference_update(may)
            for giver in may:
                self._raise(line, giver)
            if not self.held[line].keys().isdisjoint(may):
                parts.append(self._part(line, may))
        return parts

    def _serve(self, taker: int) -> None:
        self.later &= ~(1 << taker)
        self.open = set(self.held[taker])
        self.reach = self.later

    def _part(self, line: int, may: list[int]) -> int:
        """Make what a line has of these givers a taker of its own."""
        part = len(self.held)
        self.held.append({})
        self.may[part] = may
        if len(may) > 1:
            self.later |= 1 << part
            for giver in may:
                self.masks[giver] |= 1 << part
        for giver in self.held[line].keys() & may:
            amount = self.held[line][giver]
            self._add(line, giver, -amount)
            self._add(part, giver, amount)
        return part

    def few_harvests(self, parts: list[int], harvests: Sequence[str]) -> None:
        """Change what the parts of one line have, so that it comes from few harvests."""
        used: set[str] = set()
        for part in parts:
            self._serve(part)
            lacking = sum(self.held[part].values())
            there: dict[str, list[int]] = defaultdict(list)
            for giver in self.may[part]:
                if self.holders[giver]:
                    there[harvests[giver]].append(giver)
            while there and lacking:
                for giver in there.pop(self._next(there, used, lacking)):
                    lacking -= self._raise(part, giver)
            for giver in self.held[part]:
                used.add(harvests[giver])
                self.holders[giver] &= ~(1 << part)

    def _next(self, there: dict[str, list[int]], used: Collection[str], lacking: int) -> str:
        """Return the harvest to go on with: one the line has already, else the smallest that is
        enough, else the largest."""

        def order(harvest: str) -> tuple:
            size = self._left(there[harvest])
            enough = size >= lacking
            return harvest not in used, not enough, size if enough else -size, harvest

        return min(there, key=order) if len(there) > 1 else next(iter(there))

    def _left(self, givers: Sequence[int]) -> int:
        return sum(
            self.held[holder][giver] for giver in givers for holder in bits(self.holders[giver])
        )

    def _raise(self, line: int, giver: int) -> int:
        """Bring a taker as much of a giver as can be, and return how much it then has of it."""
        share = self.held[line]
        self.open.discard(giver)
        while self.open and (ends := self.holders[giver] & self.reach):
            chain, seen = find_chain(sorted(self.open), self.masks, self.held, self.later, ends)
            if not chain:
                # Exchanges only ever narrow what can be reached: what moves stays within it.
                self.reach &= seen
                break
            self._exchange(line, giver, chain)
        return share.get(giver, 0)

    def _exchange(self, line: int, giver: int, chain: Chain) -> None:
        """Move round the ring: along the chain, and from its end the giver to the line."""
        takers = [line, *(taker for _, taker in chain), line]
        ring = list(zip([*(moved for moved, _ in chain), giver], pairwise(takers), strict=True))
        amount = min(self.held[before][moved] for moved, (before, _) in ring)
        for moved, (before, after) in ring:
            self._add(before, moved, -amount)
            self._add(after, moved, amount)
        self.open &= self.held[line].keys()

    def _add(self, line: int, giver: int, amount: int) -> None:
        add(self.held[line], giver, amount)
        if giver in self.held[line]:
            self.holders[giver] |= 1 << line
        else:
            self.holders[giver] &= ~(1 << line)
