"""Batches over several shelves, and where the harm is least: by hand, and against all choices."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.keeping.shelves import MOST_SHELVES, Shelf, least_harm, share_out


def shared(crates: int, *free: int, same: tuple[int, ...] = ()) -> dict[int, int]:
    shelves = [Shelf(walk, room, walk in same) for walk, room in enumerate(free, start=1)]
    return {shelf.walk: here for shelf, here in share_out(crates, shelves)}


@pytest.mark.parametrize(
    ("crates", "free", "same", "shares"),
    [
        (12, (3, 8, 0, 8), (), {2: 8, 4: 4}),
        (12, (8, 8, 8, 8), (), {1: 8, 2: 4}),  # the first on the walk
        (12, (8, 0, 0, 8, 8), (), {4: 8, 5: 4}),  # close together before early
        (12, (8, 8, 8, 8), (4,), {3: 8, 4: 4}),  # beside its own kind
        (12, (8, 8, 8, 4, 8), (1, 5), {1: 8, 2: 4}),  # but not five shelves apart
        (12, (4, 4, 4, 4), (), {1: 4, 2: 4, 3: 4}),
        (12, (5, 5, 1, 5), (), {1: 5, 2: 5, 4: 2}),
        (12, (2, 1, 3, 2), (), {1: 2, 3: 3, 4: 2}),  # five stay to put away
        (5, (3, 8), (), {2: 5}),  # one holds all
        (1, (0, 0), (), {}),
        (3, (), (), {}),
    ],
)
def test_which_shelves_take_how_many(crates, free, same, shares):
    assert shared(crates, *free, same=same) == shares


@given(
    crates=st.integers(1, 30),
    free=st.lists(st.integers(0, 10), max_size=6),
    same=st.sets(st.integers(1, 6)),
)
def test_no_fewer_shelves_hold_all_and_none_is_overfilled(crates, free, same):
    shares = shared(crates, *free, same=tuple(same))
    assert all(0 < here <= free[walk - 1] for walk, here in shares.items())
    assert list(shares) == sorted(shares)
    most = sorted(free, reverse=True)
    assert sum(shares.values()) == min(crates, sum(most[:MOST_SHELVES]))
    fewest = (n for n in range(MOST_SHELVES + 1) if sum(most[:n]) >= crates)
    assert len(shares) <= next(fewest, MOST_SHELVES)


def test_a_shop_full_of_shelves_is_answered_at_once():
    """Two of 300 shelves: the roomiest are looked at alone."""
    assert shared(17, *[8] * 298, 9, 9) == {299: 9, 300: 8}


@pytest.mark.parametrize(
    ("giver", "takers", "free", "best"),
    [
        ({4}, {1}, [2, 3, 5, 6], 6),
        ({6}, {1}, [2, 3, 4, 5], None),  # it stands where it is best
        ({5}, {1}, [6], None),  # one place farther is no less harm
        ({4}, {1}, [6], 6),
        ({4}, {1, 9}, [5, 6], None),
        ({1, 8}, {2}, [9, 10], 10),  # one of its crates stands badly
        ({8}, {3, 13}, [1, 18], None),
        ({3}, {2}, [8, 8], 8),
        ({4}, {5}, [1, 9], 1),  # of two as far the first on the walk
        ({4}, {5}, [], None),
    ],
)
def test_where_the_harm_is_least(giver, takers, free, best):
    assert least_harm(giver, takers, free) == best


def test_what_has_been_moved_is_not_sent_on():
    """Wherever three crops stand in a row of shelves, one move ends it."""
    for giver, one, other in product(range(1, 9), repeat=3):
        takers = {one, other}
        moved = least_harm({giver}, takers, set(range(1, 10)) - takers - {giver})
        if moved is not None:
            assert least_harm({moved}, takers, set(range(1, 10)) - takers - {moved}) is None
