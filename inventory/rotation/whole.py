"""Which crates make up an amount without one being opened: exact subset sums.

Bit s of a whole number says that s can be made up, so a crate more is one shift. Time and room
go with the crates times the amount, in steps that all crates are so many times of.
"""

from collections.abc import Iterable, Sequence
from math import gcd

_NEAR = 12  # crates that are left to make an amount come out

Sums = list[int]  # by place in the list: what crates from there on can make up


def largest_within(sizes: Sequence[int], most: int) -> list[int]:
    """Return which crates make up the largest amount that is not above `most`.

    sizes: amounts of the crates, in the order they should go; the earlier ones are taken among
    equal sums. Returns their places in the list.
    >>> largest_within([5, 4, 4, 3], 11)
    [1, 2, 3]
    """
    step, steps = _in_steps(sizes)
    if sum(sizes) <= most:
        return list(range(len(sizes)))
    if chosen := _making(steps, most // step):
        return chosen
    sums = _sums(steps, most // step)
    return _picked(steps, sums, sums[0].bit_length() - 1)


def smallest_reaching(sizes: Sequence[int], least: int) -> list[int]:
    """Return which crates make up the smallest amount that is not below `least`, or all.

    So never a crate more than needed: without any one of them it would not be enough.
    >>> smallest_reaching([5, 4, 3], 6)
    [1, 2]
    """
    step, steps = _in_steps(sizes)
    if sum(sizes) <= least:
        return list(range(len(sizes)))
    wanted = -(-least // step)
    if chosen := _making(steps, wanted):
        return chosen
    sums = _sums(steps, wanted + max(steps))
    above = sums[0] >> wanted
    return _picked(steps, sums, wanted + (above & -above).bit_length() - 1)


def smallest_between(sizes: Sequence[int], least: int, most: int) -> list[int] | None:
    """Return which crates make up the smallest amount from `least` to `most`, None if none do.

    >>> smallest_between([18, 18], 24, 30) is None
    True
    """
    if least <= 0:
        return []
    chosen = smallest_reaching(sizes, least)
    return chosen if least <= sum(sizes[place] for place in chosen) <= most else None


def all_sums(sizes: Iterable[int]) -> set[int]:
    """Return all that a few crates can make up. Example: all_sums([2, 3]) → {0, 2, 3, 5}"""
    sums = {0}
    for size in sizes:
        sums |= {total + size for total in sums}
    return sums


def _in_steps(sizes: Sequence[int]) -> tuple[int, list[int]]:
    """Return the largest step all sizes are so many times of, and how many."""
    step = gcd(*sizes)
    return step, [size // step for size in sizes]


def _making(sizes: Sequence[int], wanted: int) -> list[int]:
    """Return the crates that make up just that, or nothing where that was not found.

    Where the first crates can be made up to it by later ones, they are among those that go first;
    so a large amount need not be made up from nothing.
    """
    first = 0
    while wanted > _NEAR * max(sizes):
        wanted -= sizes[first]
        first += 1
    sums = _sums(sizes[first:], wanted)
    if not sums[0] >> wanted & 1:
        return []
    return [*range(first), *(first + place for place in _picked(sizes[first:], sums, wanted))]


def _sums(sizes: Sequence[int], most: int) -> Sums:
    """Return the sums up to `most` that the crates from each place on can make up."""
    sums = [1]
    within = (1 << most + 1) - 1
    for size in reversed(sizes):
        sums.append(sums[-1] | (sums[-1] << size & within))
    return sums[::-1]


def _picked(sizes: Sequence[int], sums: Sums, wanted: int) -> list[int]:
    chosen = []
    for place, size in enumerate(sizes):
        if size <= wanted and sums[place + 1] >> wanted - size & 1:
            chosen.append(place)
            wanted -= size
    return chosen
