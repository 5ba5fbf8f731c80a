"""What can be sent, against a general solver and all subsets."""

import doctest
from collections import defaultdict
from decimal import Decimal
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog

from inventory.rotation import PullLine, PullLot, filling, plan_pulls
from inventory.rotation.filling import bits, find_chain, route, sent, turned


def test_the_examples_in_the_docstrings():
    assert doctest.testmod(filling).failed == 0


def test_the_bits_of_a_mask():
    assert list(bits(0)) == []
    assert list(bits(0b1010)) == [1, 3]


def test_a_table_turned_twice_is_the_same():
    masks = [0b101, 0b010, 0b000, 0b111]
    assert turned(masks, 3) == [0b1001, 0b1010, 0b1001]
    assert turned(turned(masks, 3), 4) == masks


@st.composite
def tables(draw, fewest=1, scarce=False):
    """Who may have what, how much there is, how much room; scarce: of nothing enough."""
    takers = draw(st.integers(fewest, 4))
    givers = draw(st.integers(fewest, 6 if scarce else 5))
    masks = [draw(st.integers(0, 2**takers - 1)) for _ in range(givers)]
    amounts = [draw(st.integers(1, 3) if scarce else st.integers(0, 9)) for _ in range(givers)]
    room = [draw(st.integers(1, 6) if scarce else st.integers(0, 9)) for _ in range(takers)]
    return masks, amounts, room


def most_of_all(masks, amounts, room) -> int:
    """The most that can be sent is the least cut: for some takers their room, for the others
    all that may come to them (Ford and Fulkerson 1956, from memory)."""
    takers = range(len(room))
    cuts = []
    for count in range(len(room) + 1):
        for full in combinations(takers, count):
            open_ones = sum(1 << taker for taker in takers if taker not in full)
            come = sum(a for mask, a in zip(masks, amounts, strict=True) if mask & open_ones)
            cuts.append(sum(room[taker] for taker in full) + come)
    return min(cuts)


@given(tables())
def test_nothing_is_sent_that_may_not_be(table):
    masks, amounts, room = table
    held = route(*table)
    for taker, shares in enumerate(held):
        assert sum(shares.values()) <= room[taker]
        assert all(amount > 0 and masks[giver] >> taker & 1 for giver, amount in shares.items())
    assert all(a <= b for a, b in zip(sent(held, len(masks)), amounts, strict=True))


@given(tables())
def test_the_first_givers_send_the_most_they_could_together(table):
    masks, amounts, room = table
    done = sent(route(*table), len(masks))
    for count in range(len(masks) + 1):
        most = most_of_all(masks[:count], amounts[:count], room)
        assert sum(done[:count]) == most


@given(tables(), st.data())
def test_with_rising_prices_the_whole_costs_the_least(table, data):
    """Beside scipy.optimize.linprog, which must send as much in all."""
    masks, amounts, room = table
    prices = sorted(data.draw(st.integers(0, 9)) for _ in masks)
    pairs = [(giver, taker) for giver, mask in enumerate(masks) for taker in bits(mask)]
    if not pairs:
        return
    rows = [[float(giver == g) for giver, _ in pairs] for g in range(len(masks))]
    rows += [[float(taker == t) for _, taker in pairs] for t in range(len(room))]
    done = sent(route(*table), len(masks))
    found = linprog(
        [prices[giver] for giver, _ in pairs], rows, [*amounts, *room],
        np.ones((1, len(pairs))), [most_of_all(*table)],
    )  # fmt: skip
    cost = sum(price * amount for price, amount in zip(prices, done, strict=True))
    assert cost == pytest.approx(found.fun, abs=1e-6)


def test_a_chain_is_as_short_as_can_be_and_leads_over_what_is_allowed():
    masks = [0b0011, 0b0110, 0b1010, 0b1100]
    held = [{}, {1: 5, 2: 5}, {3: 5}, {}]
    assert find_chain([0], masks, held, 0b1111, 0b1000) == ([(0, 1), (2, 3)], 0b0111)
    longer = [0b0011, 0b0110, 0b0010, 0b1100]
    assert find_chain([0], longer, held, 0b1111, 0b1000)[0] == [(0, 1), (1, 2), (3, 3)]
    assert find_chain([0], longer, held, 0b1011, 0b1000) == ([], 0b0011)


def crossing(lots, lines):
    """Crates (quantity, tags, rank) and lines (quantity, refused), as many days everywhere."""
    wanted = [
        PullLine(f"o{n}", "kale", Decimal(quantity), 0, refused)
        for n, (quantity, refused) in enumerate(lines)
    ]
    days = {line.id: 5 for line in wanted}
    crates = [
        PullLot(f"L{n}", "kale", Decimal(quantity), days, tags=tags, rank=rank)
        for n, (quantity, tags, rank) in enumerate(lots)
    ]
    return plan_pulls(crates, wanted)


ONE, OTHER, NONE = frozenset({"bought-in"}), frozenset({"not-organic"}), frozenset()


def test_the_line_due_last_goes_short_though_crates_that_go_first_would_serve_it():
    """Seven for nine: the first two get their three, where buyers refuse crosswise."""
    lots = [(3, NONE, 0), (3, ONE, 1), (1, NONE, 0)]
    plan = crossing(lots, [(3, OTHER), (3, ONE), (3, NONE)])
    assert [(short.line, short.quantity) for short in plan.shorts] == [("o2", 2)]


def test_what_goes_first_is_used_up_before_the_next_is_touched():
    """Three of rank 0 for four wanted, so one of rank 1, whoever refuses what."""
    plan = crossing([(1, ONE, 0), (2, OTHER, 0), (3, ONE, 1)], [(2, NONE), (2, OTHER)])
    used = defaultdict(Decimal)
    for take in plan.takes:
        used[take.lot] += take.quantity
    assert used == {"L0": 1, "L1": 2, "L2": 1}
