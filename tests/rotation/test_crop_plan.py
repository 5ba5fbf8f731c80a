"""The plan for one crop: crates left opened, and whole crates beside those that are not."""

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from inventory.rotation import PullLine, PullLot
from inventory.rotation.crop_plan import plan_crop
from tests.rotation.books import made_book


def alike(crates):
    """(quantity, part) of crates of one harvest that keep as long."""
    return [
        PullLot(f"L{place:02}", "kale", Decimal(size), {"a": 9, "b": 9}, part=part, walk=place)
        for place, (size, part) in enumerate(crates)
    ]


def opened(lots, amounts) -> int:
    """How many full crates are left part-taken."""
    left = {lot.code: int(lot.quantity * 1000) for lot in lots if not lot.part}
    for (code, _), amount in amounts.items():
        if code in left:
            left[code] -= amount
    full = {lot.code: int(lot.quantity * 1000) for lot in lots}
    return sum(1 for code, rest in left.items() if 0 < rest < full[code])


def fewest_opened(crates, total) -> int:
    """By scipy.optimize.milp: of each crate an amount, whether all of it, whether it is opened."""
    count = len(crates)
    size = np.diag([float(size) for size, _ in crates])
    one, none = np.eye(count), np.zeros((count, count))
    limits = [
        LinearConstraint(np.hstack([one, -size, -size]), -np.inf, 0),  # taken: all of it, or opened
        LinearConstraint(np.hstack([one, -size, none]), 0, np.inf),  # all of it: taken
        LinearConstraint(np.hstack([none, one, one]), -np.inf, 1),
        LinearConstraint(np.hstack([np.ones(count), np.zeros(2 * count)]), total, total),
    ]
    weights = np.hstack([np.zeros(2 * count), [float(not part) for _, part in crates]])
    whole = np.hstack([np.zeros(count), np.ones(2 * count)])
    high = np.hstack([np.diag(size), np.ones(2 * count)])
    found = milp(weights, integrality=whole, bounds=Bounds(0, high), constraints=limits)
    assert found.success, found.message
    return round(found.fun)


CRATES = st.lists(st.tuples(st.integers(1, 20), st.booleans()), min_size=1, max_size=12)


@settings(max_examples=120)
@given(CRATES, st.data())
def test_no_solver_leaves_fewer_crates_opened(crates, data):
    total = sum(size for size, _ in crates)
    wanted = data.draw(st.integers(1, total))
    first = data.draw(st.integers(0, wanted))
    lines = [PullLine("a", "kale", Decimal(first)), PullLine("b", "kale", Decimal(wanted - first))]
    lots = alike(crates)
    amounts = plan_crop(lots, lines)
    assert sum(amounts.values()) == wanted * 1000
    assert opened(lots, amounts) == fewest_opened(crates, wanted)


def test_of_crates_alike_the_nearest_go():
    lots = alike([(5, False), (5, False), (5, False)])
    assert plan_crop(lots, [PullLine("a", "kale", Decimal(10))]) == {
        ("L00", "a"): 5000, ("L01", "a"): 5000,
    }  # fmt: skip


def test_full_crates_further_off_go_before_a_nearer_one_is_opened():
    lots = alike([(7, False), (5, False), (5, False)])
    assert plan_crop(lots, [PullLine("a", "kale", Decimal(10))]) == {
        ("L01", "a"): 5000, ("L02", "a"): 5000,
    }  # fmt: skip


@pytest.mark.parametrize("quantity", ["0", "-1"])
def test_who_wants_nothing_gets_nothing(quantity):
    for whole in (False, True):
        line = PullLine("a", "kale", Decimal(quantity), whole=whole)
        assert plan_crop(alike([(5, False)]), [line]) == {}


def test_an_empty_crate_is_no_crate():
    line = PullLine("a", "kale", Decimal(5), whole=True, one_more=True)
    assert plan_crop(alike([(0, False), (5, False)]), [line]) == {("L01", "a"): 5000}


def by_line(amounts) -> dict[str, int]:
    got: dict[str, int] = {}
    for (_, line), amount in amounts.items():
        got[line] = got.get(line, 0) + amount
    return got


@pytest.mark.parametrize("seed", range(6))
def test_lines_after_them_take_nothing_from_those_that_go_first(seed):
    """Wishes, in parts and whole, leave what firm lines get as it is."""
    lots, lines = made_book(40, 12, seed=seed, wanted=1.2, alike=seed % 2 == 0)
    lines = sorted(
        (PullLine(**{**vars(line), "whole": number % 3 == 0}) for number, line in enumerate(lines)),
        key=lambda line: line.turn,
    )
    firm = [line for line in lines if line.firm]
    assert 0 < len(firm) < len(lines)
    alone, together = by_line(plan_crop(lots, firm)), by_line(plan_crop(lots, lines))
    assert {line.id: together.get(line.id) for line in firm} == {
        line.id: alone.get(line.id) for line in firm
    }
