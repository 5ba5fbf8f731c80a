"""Exchanges between lines: what stays, and that no line could have more of what goes first."""

import doctest
from collections import defaultdict
from copy import deepcopy

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog

from inventory.rotation import settling
from inventory.rotation.filling import bits, route, sent
from inventory.rotation.settling import settle
from tests.rotation.kale import BOUGHT, made_line, made_lot, taken, wish
from tests.rotation.test_filling import tables


def test_the_example_in_the_docstring():
    assert doctest.testmod(settling).failed == 0


@given(tables())
def test_an_exchange_leaves_every_amount_as_it_is(table):
    masks = table[0]
    after = route(*table)
    before = deepcopy(after)
    levels = [[giver] for giver in range(len(masks))]
    settle(after, masks, range(len(after)), levels, [""] * len(masks))
    assert sent(after, len(masks)) == sent(before, len(masks))
    assert [sum(s.values()) for s in after] == [sum(s.values()) for s in before]
    for taker, shares in enumerate(after):
        assert all(amount > 0 and masks[giver] >> taker & 1 for giver, amount in shares.items())


@given(tables() | tables(3, scarce=True), st.data())
def test_no_line_could_have_more_of_the_first_levels(table, data):
    """Line by line, level by level, beside scipy.optimize.linprog held to all before it. Givers
    are each a level of their own, or some go together and only what a line gets of them counts."""
    masks = table[0]
    held = route(*table)
    totals = [*sent(held, len(masks)), *(sum(shares.values()) for shares in held)]
    alone = data.draw(st.booleans())
    level_of = range(len(masks)) if alone else sorted(data.draw(st.integers(0, 2)) for _ in masks)
    levels = [[g for g, own in enumerate(level_of) if own == level] for level in range(6)]
    settle(held, masks, range(len(held)), levels, data.draw(st.permutations("abcdef")))
    pairs = [(giver, taker) for giver, mask in enumerate(masks) for taker in bits(mask)]
    rows = [[float(giver == g) for giver, _ in pairs] for g in range(len(masks))]
    rows += [[float(taker == t) for _, taker in pairs] for t in range(len(held))]
    for line in range(len(held)):
        for level in levels:
            counts = [float(taker == line and giver in level) for giver, taker in pairs]
            if not any(counts):
                continue
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


# In a plan.


def test_the_earlier_line_gets_the_crate_of_least_life_all_the_same():
    lots = [made_lot("new", days=9, rank=1), made_lot("old", days=5)]
    assert taken(lots, [made_line("a"), made_line("b")]) == [("b", "new", 10), ("a", "old", 10)]


def test_the_line_due_first_gets_the_crate_that_goes_first():
    """A crate of 10 days and one of 6, for Wednesday and for Friday."""
    lots = [made_lot("A", life_days=10, rank=2), made_lot("B", life_days=6, rank=1)]
    lines = [wish("friday", due=5), wish("wednesday", due=3)]
    assert taken(lots, lines) == [("friday", "A", 10), ("wednesday", "B", 10)]


def test_the_line_due_first_leaves_what_another_line_can_do_without_least():
    """Only the younger crate would keep for the later line."""
    lots = [
        made_lot("A", days={"a": 9, "b": 9}, rank=2),
        made_lot("B", days={"a": 9, "b": 1}, rank=1),
    ]
    lines = [wish("a", due=3), wish("b", due=2, minimum_days=5)]
    assert taken(lots, lines) == [("b", "A", 10), ("a", "B", 10)]


@pytest.mark.parametrize("codes", [("A", "B"), ("B", "A")])
def test_the_first_line_takes_what_another_refuses_of_what_goes_together(codes):
    """Own and bought-in go together; the second line would else get what goes later."""
    own, bought = codes
    lots = [
        made_lot(own, harvest=own), made_lot(bought, harvest=bought, tags=BOUGHT),
        made_lot("C", rank=1),
    ]  # fmt: skip
    lines = [wish("a", due=1), wish("b", due=2, refused=BOUGHT), wish("c", due=3)]
    assert set(taken(lots, lines)) == {("a", bought, 10), ("b", own, 10), ("c", "C", 10)}


def of_harvests(*sizes, rank=0):
    """(harvest, quantity) of crates that go together."""
    return [
        made_lot(f"{harvest}{place}", size, rank=rank, harvest=harvest)
        for place, (harvest, size) in enumerate(sizes)
    ]


def harvests_of(lots, lines) -> dict[str, set[str]]:
    found = defaultdict(set)
    for id, code, _ in taken(lots, lines):
        found[id].add(code[0])
    return found


def test_a_line_comes_from_the_one_harvest_that_has_enough():
    lots = of_harvests(("A", 3), ("B", 12))
    assert harvests_of(lots, [wish("a", 10)]) == {"a": {"B"}}


def test_each_line_comes_from_one_harvest():
    lots = of_harvests(("A", 4), ("B", 5), ("A", 4), ("B", 5))
    assert harvests_of(lots, [wish("a", 10), wish("b", 8)]) == {"a": {"B"}, "b": {"A"}}
    assert harvests_of(lots, [wish("a", 8), wish("b", 10)]) == {"a": {"A"}, "b": {"B"}}


def test_the_smallest_harvest_that_is_enough_is_used_up():
    assert harvests_of(of_harvests(("A", 30), ("B", 12)), [wish("a", 10)]) == {"a": {"B"}}


def test_where_none_is_enough_the_largest_is_drawn_on_first():
    lots = of_harvests(("A", 3), ("B", 4), ("C", 9), ("D", 4))
    assert harvests_of(lots, [wish("a", 11)]) == {"a": {"C", "A"}}


def test_a_line_stays_with_the_harvest_it_has_already():
    lots = [made_lot("B0", 4, rank=0, harvest="B"), *of_harvests(("A", 6), ("B", 20), rank=1)]
    assert harvests_of(lots, [wish("a", 10)]) == {"a": {"B"}}


def test_one_harvest_does_not_weigh_more_than_rotation():
    lots = [made_lot("A0", 4, rank=0, harvest="A"), *of_harvests(("B", 20), rank=1)]
    assert harvests_of(lots, [wish("a", 10)]) == {"a": {"A", "B"}}
