"""How much goes from whom to whom, where not everybody may have everything.

Plain numbers only: givers and takers are counted from 0, a mask is a whole number whose bit t
says that taker t may have it, amounts are whole thousandths. What a taker holds of each giver
stands in `held[taker][giver]`.
"""

from collections import deque
from collections.abc import Collection, Iterator, Sequence
from itertools import pairwise

Held = list[dict[int, int]]
# (giver, taker) moves: the first giver goes to its taker, each next one leaves the taker before
# it for its own.
Chain = list[tuple[int, int]]


def bits(mask: int) -> Iterator[int]:
    """Yield the numbers of the bits that are set. Example: list(bits(0b1010)) → [1, 3]"""
    while mask:
        lowest = mask & -mask
        yield lowest.bit_length() - 1
        mask ^= lowest


def turned(masks: Sequence[int], takers: int) -> list[int]:
    """Return who may be had by each taker. Example: turned([0b10, 0b11], 2) → [0b10, 0b11]"""
    other_way = [0] * takers
    for giver, mask in enumerate(masks):
        for taker in bits(mask):
            other_way[taker] |= 1 << giver
    return other_way


def sent(held: Held, givers: int) -> list[int]:
    """Return how much is held of each giver in all. Example: sent([{1: 5}, {1: 2}], 2) → [0, 7]"""
    amounts = [0] * givers
    for shares in held:
        for giver, amount in shares.items():
            amounts[giver] += amount
    return amounts


def route(masks: Sequence[int], amounts: Sequence[int], room: Sequence[int]) -> Held:
    """Send as much of each giver as can still be taken, one after another.

    masks, amounts: of each giver, who may have it and how much there is. room: how much each
    taker has room for. A giver never sends less because of one that comes later: what it sends is
    the most there is room for beside those before it, as takers change what they hold for
    another giver's where they can. So the first givers, however many one counts, always send
    the most they could together; and with a price for each giver, the cheapest first, the whole
    costs the least that the most can cost. (The amounts that can be sent form a polymatroid.)
    >>> route([0b11, 0b01], [5, 5], [5, 5])
    [{1: 5}, {0: 5}]
    """
    held: Held = [{} for _ in room]
    left = list(room)
    alive = (1 << len(room)) - 1  # takers from whom a way leads to one that has room
    has_room = sum(1 << taker for taker, amount in enumerate(room) if amount)
    for giver, amount in enumerate(amounts):
        while amount and has_room:
            if direct := masks[giver] & has_room:
                chain = [(giver, next(bits(direct)))]
            else:
                chain, seen = find_chain([giver], masks, held, alive, has_room)
            if not chain:
                alive &= ~seen
                break
            end = chain[-1][1]
            moved = min(amount, left[end], *loose(held, chain))
            shift(held, chain, moved)
            amount -= moved
            left[end] -= moved
            if not left[end]:
                has_room &= ~(1 << end)
    return held


def find_chain(
    starts: Collection[int], masks: Sequence[int], held: Held, allowed: int, ends: int
) -> tuple[Chain, int]:
    """Return the shortest chain from one of these givers to one of the takers in `ends`.

    allowed: the takers a chain may lead over. Without a chain: all takers that can be reached.
    """
    seen = 0
    came: dict[int, tuple[int, int] | None] = dict.fromkeys(starts)
    queue = deque(starts)
    while queue:
        giver = queue.popleft()
        fresh = masks[giver] & allowed & ~seen
        if fresh & ends:
            return _chain(came, giver, next(bits(fresh & ends))), seen
        seen |= fresh
        for taker in bits(fresh):
            for other in held[taker]:
                if other not in came:
                    came[other] = giver, taker
                    queue.append(other)
    return [], seen


def _chain(came: dict[int, tuple[int, int] | None], giver: int, end: int) -> Chain:
    chain = [(giver, end)]
    while before := came[chain[-1][0]]:
        chain.append(before)
    return chain[::-1]


def loose(held: Held, chain: Chain) -> Iterator[int]:
    """Yield how much each giver of a chain but the first can leave where it is."""
    for (_, taker), (giver, _) in pairwise(chain):
        yield held[taker][giver]


def shift(held: Held, chain: Chain, amount: int) -> None:
    """Move as much along a chain."""
    for (_, taker), (giver, _) in pairwise(chain):
        add(held[taker], giver, -amount)
    for giver, taker in chain:
        add(held[taker], giver, amount)


def add(share: dict[int, int], giver: int, amount: int) -> None:
    """Add to what is held of a giver; of what is gone nothing is kept."""
    share[giver] = share.get(giver, 0) + amount
    if not share[giver]:
        del share[giver]
