"""Which shelves take a batch that no one shelf holds, and where in a room the harm is least."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from heapq import nlargest
from itertools import combinations

MOST_SHELVES = 3
_CONSIDERED = 24  # of all shelves those with most room: enough to find the fewest that hold all
# How many places farther a move must bring it: less is no less harm, and the next crate put
# away would call for another move. Ours.
WORTH_MOVING = 2


@dataclass(frozen=True)
class Shelf:
    """A shelf with room. walk: its number on the walk; free: crates it still takes; same: the
    crop stands there already."""

    walk: int
    free: int
    same: bool = False


def share_out(crates: int, shelves: Iterable[Shelf]) -> list[tuple[Shelf, int]]:
    """Return on which shelves a batch goes, in the order of the walk, and how many on each.

    The fewest shelves that hold all, at most three. Of those: close together, then where the crop
    stands already, then early on the walk. If three don't hold all, those with most room.

    Example: 12 crates; A1 takes 3, A2 8, A4 8 → A2: 8, A4: 4
    """
    roomy = nlargest(_CONSIDERED, shelves, key=lambda shelf: (shelf.free, -shelf.walk))
    roomy.sort(key=lambda shelf: shelf.walk)
    left, shares = crates, []
    for shelf in _fewest(crates, roomy):
        here = min(shelf.free, left)
        left -= here
        shares.append((shelf, here))
    return [(shelf, here) for shelf, here in shares if here]


def _fewest(crates: int, shelves: list[Shelf]) -> tuple[Shelf, ...]:
    for number in range(1, MOST_SHELVES + 1):
        holding = [
            chosen
            for chosen in combinations(shelves, number)
            if sum(shelf.free for shelf in chosen) >= crates
        ]
        if holding:
            return min(holding, key=_preferred)
    most = nlargest(MOST_SHELVES, shelves, key=lambda shelf: (shelf.free, -shelf.walk))
    return tuple(sorted(most, key=lambda shelf: shelf.walk))


def _preferred(chosen: tuple[Shelf, ...]) -> tuple[int, int, int]:
    alike = sum(shelf.same for shelf in chosen)
    return chosen[-1].walk - chosen[0].walk, -alike, chosen[0].walk


def least_harm(giver: Collection[int], takers: Collection[int], free: Iterable[int]) -> int | None:
    """Return the free place farthest from all that suffer, or None where a move gains little.

    All are numbers on the walk: where the giver stands, where those stand that suffer from it,
    and which places are free. What has been moved there is not sent on to the next place.

    Example: giver at 4, takers at 1, free 2 to 6 → 6; giver at 6 → None
    """
    farthest = max(free, key=lambda place: (_apart(place, takers), -place), default=None)
    if farthest is None:
        return None
    now = min(_apart(place, takers) for place in giver)
    return farthest if _apart(farthest, takers) >= now + WORTH_MOVING else None


def _apart(place: int, others: Collection[int]) -> int:
    return min(abs(place - other) for other in others)
