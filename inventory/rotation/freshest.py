"""The least life shipped where some lines are to get the freshest: minimum-cost flow.

What one line gets the cheapest by, another gets the dearest by, so one order of the givers does
not do (filling.py). Where there is enough for both kinds of lines each can be served alone; else
the cheapest chain is looked for each time, which is slower.
"""

from collections import deque
from collections.abc import Sequence

from inventory.rotation.filling import Chain, Held, bits, loose, route, sent, shift


def route_both_ways(
    masks: Sequence[int],
    amounts: Sequence[int],
    room: Sequence[int],
    prices: Sequence[int],
    fresh: int,
) -> Held:
    """Return the cheapest way to send the most: a giver costs its price, to a taker in `fresh`
    as much less than nothing.

    prices: of one piece of each giver, rising. fresh: a mask of takers. Nothing is cheaper than
    each kind served as if the other were not there. Where they then want the same, by the cheapest
    chain again and again, which gives the least cost for what is sent so far each time.
    >>> route_both_ways([0b11, 0b11], [5, 5], [5, 5], [2, 7], 0b01)
    [{1: 5}, {0: 5}]
    """
    alone = _each_alone(masks, amounts, room, fresh)
    taken = sent(alone, len(masks))
    if all(want <= there for want, there in zip(taken, amounts, strict=True)):
        return alone
    market = _Market(masks, list(amounts), list(room), prices, fresh)
    while chain := market.cheapest_chain():
        start, end = chain[0][0], chain[-1][1]
        moved = min(market.left[start], market.room[end], *loose(market.held, chain))
        shift(market.held, chain, moved)
        market.left[start] -= moved
        market.room[end] -= moved
    return market.held


def _each_alone(
    masks: Sequence[int], amounts: Sequence[int], room: Sequence[int], fresh: int
) -> Held:
    """Return what each kind would get if the other were not there."""
    first = route([mask & ~fresh for mask in masks], amounts, room)
    last = route([mask & fresh for mask in masks[::-1]], amounts[::-1], room)
    end = len(masks) - 1
    return [
        {end - giver: amount for giver, amount in last[taker].items()}
        if fresh >> taker & 1
        else first[taker]
        for taker in range(len(room))
    ]


class _Market:
    def __init__(
        self,
        masks: Sequence[int],
        left: list[int],
        room: list[int],
        prices: Sequence[int],
        fresh: int,
    ):
        self.masks, self.left, self.room, self.prices, self.fresh = masks, left, room, prices, fresh
        self.held: Held = [{} for _ in room]

    def price(self, giver: int, taker: int) -> int:
        return -self.prices[giver] if self.fresh >> taker & 1 else self.prices[giver]

    def cheapest_chain(self) -> Chain:
        """Return the cheapest chain from a giver with something left to a taker with room.

        cost: by taker, of bringing it one piece more. A taker that could be brought one more may
        let another have one it holds, and so on until nothing gets cheaper.
        """
        cost: dict[int, int] = {}
        came: dict[int, tuple[int, int | None]] = {}
        queue: deque[int] = deque()
        for giver, taker in self._from_stock():
            cost[taker], came[taker] = self.price(giver, taker), (giver, None)
            queue.append(taker)
        while queue:
            taker = queue.popleft()
            for giver, other in self._from(taker):
                reach = cost[taker] + self.price(giver, other) - self.price(giver, taker)
                if other not in cost or reach < cost[other]:
                    cost[other], came[other] = reach, (giver, taker)
                    queue.append(other)
        ends = [taker for taker in cost if self.room[taker]]
        return _chain(came, min(ends, key=lambda end: (cost[end], end))) if ends else []

    def _from_stock(self) -> list[tuple[int, int]]:
        """Return the best giver with something left for each taker: for all the cheapest, for
        fresh ones the dearest."""
        stock = [giver for giver, left in enumerate(self.left) if left]
        return [
            *self._first_come(stock, ~self.fresh), *self._first_come(stock[::-1], self.fresh)
        ]  # fmt: skip

    def _from(self, taker: int) -> list[tuple[int, int]]:
        """Return what each other taker would best have of what this one holds."""
        mine = sorted(self.held[taker])
        # To its own kind all are worth the same; to the other kind the difference counts.
        if not self.fresh >> taker & 1:
            mine.reverse()
        return self._first_come(mine, ~(1 << taker))

    def _first_come(self, givers: Sequence[int], takers: int) -> list[tuple[int, int]]:
        pairs = []
        for giver in givers:
            fresh = self.masks[giver] & takers
            takers &= ~fresh
            pairs += [(giver, taker) for taker in bits(fresh)]
        return pairs


def _chain(came: dict[int, tuple[int, int | None]], end: int) -> Chain:
    chain: Chain = []
    taker: int | None = end
    while taker is not None:
        giver, before = came[taker]
        chain.append((giver, taker))
        taker = before
    return chain[::-1]
