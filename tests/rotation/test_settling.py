"""Exchanges between lines: what stays, and that no line could have more of what goes first."""

import doctest
from copy import deepcopy

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from inventory.rotation import settling
from inventory.rotation.filling import bits, route, sent
from inventory.rotation.settling import settle
from tests.rotation.test_filling import tables


def test_the_example_in_the_docstring():
    assert doctest.testmod(settling).failed == 0


def settled(table):
    """(before, after), where each giver is a level of its own."""
    masks = table[0]
    held = route(*table)
    before = deepcopy(held)
    levels = [[giver] for giver in range(len(masks))]
    settle(held, masks, range(len(held)), levels, [""] * len(masks))
    return before, held


@given(tables())
def test_an_exchange_leaves_every_amount_as_it_is(table):
    masks = table[0]
    before, after = settled(table)
    assert sent(after, len(masks)) == sent(before, len(masks))
    assert [sum(s.values()) for s in after] == [sum(s.values()) for s in before]
    for taker, shares in enumerate(after):
        assert all(amount > 0 and masks[giver] >> taker & 1 for giver, amount in shares.items())


@settings(max_examples=200)
@given(tables() | tables(3, scarce=True))
def test_no_line_could_have_more_of_what_goes_first(table):
    """Line by line, giver by giver, beside scipy.optimize.linprog held to all before it."""
    masks = table[0]
    before, after = settled(table)
    pairs = [(giver, taker) for giver, mask in enumerate(masks) for taker in bits(mask)]
    pairs.sort(key=lambda pair: (pair[1], pair[0]))
    rows = [[float(giver == g) for giver, _ in pairs] for g in range(len(masks))]
    rows += [[float(taker == t) for _, taker in pairs] for t in range(len(before))]
    totals = [*sent(before, len(masks)), *(sum(shares.values()) for shares in before)]
    bounds = [(0.0, None) for _ in pairs]
    for place, (giver, taker) in enumerate(pairs):
        wanted = [-float(other == place) for other in range(len(pairs))]
        most = round(-linprog(wanted, A_eq=rows, b_eq=totals, bounds=bounds).fun)
        assert after[taker].get(giver, 0) == most
        bounds[place] = (most, most)


@settings(max_examples=200)
@given(tables(3, scarce=True), st.data())
def test_no_line_could_have_more_of_the_first_levels(table, data):
    """The same, where givers go together and only what a line gets of a level counts."""
    masks = table[0]
    held = route(*table)
    totals = [*sent(held, len(masks)), *(sum(shares.values()) for shares in held)]
    level_of = sorted(data.draw(st.integers(0, 2)) for _ in masks)
    levels = [[g for g, own in enumerate(level_of) if own == level] for level in range(3)]
    settle(held, masks, range(len(held)), levels, data.draw(st.permutations("abcdef")))
    pairs = [(giver, taker) for giver, mask in enumerate(masks) for taker in bits(mask)]
    rows = [[float(giver == g) for giver, _ in pairs] for g in range(len(masks))]
    rows += [[float(taker == t) for _, taker in pairs] for t in range(len(held))]
    for line in range(len(held) if pairs else 0):
        for level in levels:
            counts = [float(taker == line and giver in level) for giver, taker in pairs]
            most = round(-linprog([-one for one in counts], A_eq=rows, b_eq=totals).fun)
            assert sum(held[line].get(giver, 0) for giver in level) == most
            rows.append(counts)
            totals.append(most)


def of_levels(held, masks, levels, harvests, shelf=()):
    lines = range(len(held) - len(shelf))
    settle(held, masks, lines, levels, harvests, shelf)
    return held


def test_a_line_alone_exchanges_with_what_stays_on_the_shelf():
    """Ten of twenty wanted, of what goes together: all from the harvest that has enough."""
    held = [{0: 4, 1: 6}, {1: 10}]
    assert of_levels(held, [0b11, 0b11], [[0, 1]], ["A", "B"], [1]) == [{1: 10}, {0: 4, 1: 6}]


def test_what_stays_on_the_shelf_takes_nothing_of_other_levels():
    held = [{0: 4, 1: 1, 2: 6}, {1: 9}]
    masks = [0b11, 0b11, 0b01]
    assert of_levels(held, masks, [[0, 1], [2]], ["A", "B", "C"], [1]) == [
        {1: 5, 2: 6}, {0: 4, 1: 5},
    ]  # fmt: skip


def test_the_first_line_leaves_what_a_later_one_can_only_have():
    """Two givers go together; the second line may have one of them only, or what goes later."""
    held = [{0: 1}, {2: 1}, {1: 1}]
    of_levels(held, [0b011, 0b101, 0b110], [[0, 1], [2]], ["", "", ""])
    assert held == [{1: 1}, {0: 1}, {2: 1}]


@pytest.mark.parametrize(("wanted", "harvest"), [((3, 9), {"A"}), ((5, 7), {"B"}), ((4, 8), {"A"})])
def test_the_smallest_harvest_that_is_enough(wanted, harvest):
    held = [{0: 4, 1: 8}, {}]
    held = route([0b11, 0b11], [4, 8], wanted)
    of_levels(held, [0b11, 0b11], [[0, 1]], ["A", "B"])
    assert {"AB"[giver] for giver in held[0]} == harvest


def test_another_crate_of_a_harvest_comes_before_another_harvest():
    """Lines of 6 and 6, of A 4 and 2, of B 6: in one level, where A is 0 and 2."""
    held = [{0: 4, 1: 2}, {1: 4, 2: 2}]
    of_levels(held, [0b11, 0b11, 0b11], [[0, 1, 2]], ["A", "B", "A"])
    assert held == [{0: 4, 2: 2}, {1: 6}]
