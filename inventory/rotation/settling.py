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
    the givers in the order they go, those that go together in one list; they are taken so that
    a line stays with one harvest where one is enough. shelf: takers that exchange too, but get
    what the lines leave them. How much each taker gets, and how much is used of each giver, stays.
    The first line gets as much of the first level as any exchange can bring it, then of the second,
    and so on; then the next line, from what is left.
    >>> held = [{1: 5}, {0: 5}]
    >>> settle(held, [0b11, 0b11], [0, 1], [[0], [1]], ["", ""])
    >>> held
    [{0: 5}, {1: 5}]
    """
    if len(lines) + len(shelf) < 2:
        return
    exchange = _Exchange(held, masks, [*lines, *shelf])
    for line in lines:
        exchange.serve(line, levels, harvests)


class _Exchange:
    """holders: by giver, the lines not yet served that hold something of it, and the one being
    served. later: the lines still to be served. open: what the line being served may still change
    for another. reach: no line beyond these can take any of that.
    """

    def __init__(self, held: Held, masks: Sequence[int], lines: Sequence[int]):
        self.held, self.masks = held, masks
        self.open: set[int] = set()
        self.reach = 0
        self.later = sum(1 << line for line in lines)
        self.holders = [0] * len(masks)
        for line in lines:
            for giver in held[line]:
                self.holders[giver] |= 1 << line

    def serve(self, line: int, levels: Sequence[Sequence[int]], harvests: Sequence[str]) -> None:
        self.later &= ~(1 << line)
        lacking = sum(self.held[line].values())
        self.open = set(self.held[line])
        self.reach = self.later
        used: set[str] = set()
        for level in levels:
            if not lacking:
                break
            there = self._harvests(line, level, harvests)
            while there and lacking:
                harvest = self._next(there, used, lacking)
                for giver in there.pop(harvest):
                    lacking -= self._raise(line, giver)
                    if giver in self.held[line]:
                        used.add(harvest)
        for giver in self.held[line]:
            self.holders[giver] &= ~(1 << line)

    def _harvests(
        self, line: int, level: Sequence[int], harvests: Sequence[str]
    ) -> dict[str, list[int]]:
        """Return the givers of one level that this line may have, by harvest."""
        there: dict[str, list[int]] = defaultdict(list)
        for giver in level:
            if self.masks[giver] >> line & 1 and self.holders[giver]:
                there[harvests[giver]].append(giver)
        return there

    def _next(self, there: dict[str, list[int]], used: Collection[str], lacking: int) -> str:
        """Return the harvest to go on with: one this line has already, else the smallest that is
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
        """Bring a line as much of a giver as can be, and return how much it then has of it."""
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
