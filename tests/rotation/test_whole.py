"""Which whole crates, against all subsets."""

import doctest
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rotation import whole
from inventory.rotation.whole import largest_within, smallest_between, smallest_reaching

SIZES = st.lists(st.integers(1, 12), max_size=8)


def test_the_examples_in_the_docstrings():
    assert doctest.testmod(whole).failed == 0


def subsets(sizes):
    """(sum, places) of every subset, of one sum the one with the earlier crates first."""
    places = range(len(sizes))
    found = [
        (sum(sizes[place] for place in chosen), chosen)
        for count in range(len(sizes) + 1)
        for chosen in combinations(places, count)
    ]

    def earlier_first(subset):
        return subset[0], [place not in subset[1] for place in places]

    return sorted(found, key=earlier_first)


def first_of(subsets_, wanted):
    return next((list(chosen) for total, chosen in subsets_ if total == wanted), None)


@given(SIZES, st.integers(0, 60), st.sampled_from([1, 7, 1000]))
def test_the_largest_sum_within_by_the_earlier_crates(sizes, most, step):
    found = subsets(sizes)
    best = max(total for total, _ in found if total <= most)
    rest = min(step - 1, 3)
    chosen = largest_within([size * step for size in sizes], most * step + rest)
    assert chosen == first_of(found, best)


@given(SIZES, st.integers(0, 60), st.sampled_from([1, 7, 1000]))
def test_the_smallest_sum_that_reaches(sizes, least, step):
    found = subsets(sizes)
    best = min((total for total, _ in found if total >= least), default=sum(sizes))
    short = min(step - 1, 3, least)
    chosen = smallest_reaching([size * step for size in sizes], least * step - short)
    assert chosen == first_of(found, best)


def earlier_first(sizes, wanted):
    """The crates that make up a sum, each taken if those after it can make up the rest."""
    after = [{0}]
    for size in sizes[::-1]:
        after.append(after[-1] | {total + size for total in after[-1]})
    chosen = []
    for place, size in enumerate(sizes):
        if wanted - size in after[len(sizes) - place - 1]:
            chosen.append(place)
            wanted -= size
    return chosen, after[-1]


@given(st.lists(st.integers(1, 5), min_size=20, max_size=50), st.integers(1, 150))
def test_the_earlier_crates_of_many(sizes, wanted):
    _, sums = earlier_first(sizes, 0)
    below = max(total for total in sums if total <= wanted)
    above = min((total for total in sums if total >= wanted), default=sum(sizes))
    assert largest_within(sizes, wanted) == earlier_first(sizes, below)[0]
    assert smallest_reaching(sizes, wanted) == earlier_first(sizes, above)[0]


def test_many_crates_where_the_last_ones_do_not_make_it_come_out():
    """A hundred of 4 and one of 9: 201 is the 9 and 48 fours, 202 can't be made."""
    sizes = [9, *[4] * 100]
    assert largest_within(sizes, 202) == largest_within(sizes, 201) == list(range(49))
    assert smallest_reaching(sizes, 202) == list(range(1, 52))
    assert smallest_reaching([*[4] * 100, 9], 201) == [*range(48), 100]


@given(SIZES, st.integers(-5, 60), st.integers(0, 9))
def test_the_smallest_sum_between(sizes, least, span):
    found = subsets(sizes)
    within = [total for total, _ in found if least <= total <= least + span]
    expected = first_of(found, min(within)) if within else None
    chosen = smallest_between(sizes, least, least + span)
    assert chosen == expected if least + span >= 0 else not chosen


@pytest.mark.parametrize("choose", [largest_within, smallest_reaching])
def test_of_no_crates_there_are_none(choose):
    assert choose([], 5) == []


def test_hundreds_of_crates_to_the_thousandth():
    """No subset can be tried: 400 crates of odd sizes, and one that makes it come out."""
    sizes = [10_000 + 7 * place for place in range(400)]
    wanted = sum(sizes[5:120])
    assert sum(sizes[place] for place in largest_within(sizes, wanted)) == wanted
