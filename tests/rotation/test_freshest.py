"""The cheapest both ways, beside a general solver."""

import doctest

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog

from inventory.rotation import freshest
from inventory.rotation.filling import bits, route, sent
from inventory.rotation.freshest import route_both_ways
from tests.rotation.kale import made_lot, taken, wish
from tests.rotation.test_filling import most_of_all, tables


def test_the_example_in_the_docstring():
    assert doctest.testmod(freshest).failed == 0


def cost_of(held, prices, fresh) -> int:
    return sum(
        amount * (-prices[giver] if fresh >> taker & 1 else prices[giver])
        for taker, shares in enumerate(held)
        for giver, amount in shares.items()
    )


def hold_against_the_solver(table, prices, fresh):
    masks, amounts, room = table
    held = route_both_ways(*table, prices, fresh)
    pairs = [(giver, taker) for giver, mask in enumerate(masks) for taker in bits(mask)]
    assert sum(sent(held, len(masks))) == most_of_all(*table)
    if not pairs:
        return
    rows = [[float(giver == g) for giver, _ in pairs] for g in range(len(masks))]
    rows += [[float(taker == t) for _, taker in pairs] for t in range(len(room))]
    costs = [-prices[g] if fresh >> t & 1 else prices[g] for g, t in pairs]
    found = linprog(costs, rows, [*amounts, *room], np.ones((1, len(pairs))), [most_of_all(*table)])
    assert cost_of(held, prices, fresh) == pytest.approx(found.fun, abs=1e-6)


@given(tables() | tables(3, scarce=True), st.data())
def test_no_solver_finds_anything_cheaper(table, data):
    prices = sorted(data.draw(st.integers(-3, 9)) for _ in table[0])
    hold_against_the_solver(table, prices, data.draw(st.integers(0, 2 ** len(table[2]) - 1)))


def test_of_what_a_line_holds_the_dearest_is_given_to_one_that_gets_the_freshest():
    """Found by chance: no chain is the cheapest here that gives away the first that will do."""
    masks = [6, 6, 2, 6, 7, 3, 6, 7, 6]
    amounts = [3, 2, 2, 1, 2, 1, 1, 2, 1]
    prices = [0, 2, 3, 5, 8, 9, 9, 9, 9]
    hold_against_the_solver((masks, amounts, [3, 5, 6]), prices, 0b100)


@given(tables())
def test_with_nobody_to_get_the_freshest_it_costs_what_one_order_costs(table):
    prices = list(range(len(table[0])))
    assert cost_of(route_both_ways(*table, prices, 0), prices, 0) == cost_of(
        route(*table), prices, 0
    )


def test_what_both_kinds_want_is_left_to_whom_it_saves_most():
    """A crate of 5 days to be given to either: the one that gets the freshest would else get 4,
    the other would else get 9."""
    masks = [0b10, 0b11, 0b01]
    held = route_both_ways(masks, [1, 1, 1], [1, 1], [4, 5, 9], 0b10)
    assert held == [{1: 1}, {0: 1}]


def test_who_gets_the_freshest_gets_what_keeps_longest():
    lots = [made_lot("A", rank=1), made_lot("B", rank=2), made_lot("C", rank=3)]
    lines = [wish("a", due=1, freshest=True), wish("b", due=2)]
    assert taken(lots, lines) == [("b", "A", 10), ("a", "C", 10)]


def test_of_what_keeps_as_long_the_freshest_is_what_was_cut_last():
    lots = [made_lot(code, life_days=7, rank=rank) for code, rank in (("A", 1), ("B", 2), ("C", 3))]
    lines = [wish("a", due=1, freshest=True), wish("b", due=2)]
    assert taken(lots, lines) == [("b", "A", 10), ("a", "C", 10)]


def test_the_first_of_those_who_get_the_freshest_gets_the_freshest_of_all():
    lots = [made_lot(code, rank=rank) for code, rank in (("A", 1), ("B", 2), ("C", 3))]
    lines = [wish("b", due=2, freshest=True), wish("a", due=1, freshest=True)]
    assert taken(lots, lines) == [("b", "B", 10), ("a", "C", 10)]
