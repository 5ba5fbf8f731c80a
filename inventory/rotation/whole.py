"""Which crates make up an amount without one being opened: exact subset sums."""

from collections.abc import Iterable, Sequence
from math import gcd

Sums = list[int]  # by place in the list: bit s says that crates from there on make up s


def largest_within(sizes: Sequence[int], most: int) -> list[int]:
    """Return which crates make up the largest amount that is not above `most`.

    sizes: amounts of the crates, in the order they should go; the earlier ones are taken among
    equal sums. Returns their places in the list. Reaching for sums by doubling bits: exact, and
    in proportion to the crates times the sum.
    >>> largest_within([5, 4, 4, 3], 11)
    [1, 2, 3]
    """
    step = gcd(*sizes)
    if not step:
        return []
    sums = _sums([size // step for size in sizes], most // step)
    return _picked(sizes, sums, step, sums[0].bit_length() - 1)


def smallest_reaching(sizes: Sequence[int], least: int) -> list[int]:
    """Return which crates make up the smallest amount that is not below `least`, or all.

    So never a crate more than needed: without any one of them it would not be enough.
    >>> smallest_reaching([5, 4, 3], 6)
    [1, 2]
    """
    step = gcd(*sizes)
    if sum(sizes) <= least:
        return list(range(len(sizes)))
    wanted = -(-least // step)
    sums = _sums([size // step for size in sizes], wanted + max(sizes) // step)
    above = sums[0] >> wanted
    return _picked(sizes, sums, step, wanted + (above & -above).bit_length() - 1)


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


def _sums(sizes: Sequence[int], most: int) -> Sums:
    """Return the sums up to `most` that the crates from each place on can make up."""
    sums = [1]
    within = (1 << most + 1) - 1
    for size in reversed(sizes):
        sums.append(sums[-1] | (sums[-1] << size & within))
    return sums[::-1]


def _picked(sizes: Sequence[int], sums: Sums, step: int, wanted: int) -> list[int]:
    chosen = []
    for place, size in enumerate(sizes):
        rest = wanted - size // step
        if rest >= 0 and sums[place + 1] >> rest & 1:
            chosen.append(place)
            wanted = rest
    return chosen
