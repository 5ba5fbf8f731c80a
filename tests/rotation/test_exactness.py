"""The plan beside a general solver, and what is so of every plan."""

from collections import defaultdict
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rotation import PullLine, PullLot, plan_pulls
from inventory.rotation.lines import eligible
from tests.rotation.books import Solver, figures, life_of, made_book
from tests.rotation.kale import made_line, made_lot


def test_n4_the_solver_finds_the_published_cost():
    """The cannery example: 153.675, by more than one set of flows, so only the cost is tested.

    Dantzig, Linear Programming and Extensions, Princeton 1963. A plan has one cost a crate, not
    one a pair; so this tests what the plan is tested against.
    """
    cost = {("A", "x"): 0.225, ("A", "y"): 0.153, ("A", "z"): 0.162,
            ("B", "x"): 0.225, ("B", "y"): 0.162, ("B", "z"): 0.126}  # fmt: skip
    lots = [made_lot("A", 350), made_lot("B", 600)]
    solver = Solver(lots, [made_line("x", 325), made_line("y", 300), made_line("z", 275)])
    assert solver.met(lambda lot, line: -1) == pytest.approx(-900)
    weights = solver.weights(lambda lot, line: cost[lot.code, line.id])
    assert solver.least(weights) == pytest.approx(153.675)


@st.composite
def situations(draw, freshest=False):
    """Crates and lines of one crop, with buyers that refuse, fridges that differ, and ties."""
    tags = st.frozensets(st.sampled_from(["bought-in", "not-organic"]))
    quantity = st.integers(1, 12).map(Decimal)
    lines = [
        PullLine(
            f"o{n}", "kale", draw(quantity), draw(st.integers(0, 8)), draw(tags),
            firm=draw(st.booleans()), due=draw(st.none() | st.integers(0, 20)),
            said=draw(st.integers(0, 2)), freshest=freshest and draw(st.booleans()),
        )
        for n in range(draw(st.integers(1, 4)))
    ]  # fmt: skip
    lots = [
        PullLot(
            f"L{n}", "kale", draw(quantity),
            {line.id: draw(st.integers(0, 12)) for line in lines},
            walk=n, tags=draw(tags), rank=draw(st.integers(0, 3)), part=draw(st.booleans()),
            life_days=draw(st.integers(0, 3)), harvest=draw(st.sampled_from("ab")),
        )
        for n in range(draw(st.integers(0, 6)))
    ]  # fmt: skip
    return lots, lines


def in_turn(lines):
    """The rule told once more: firm within 14 days, wishes, the other firm ones; due, said, id."""

    def turn(line):
        due = 0 if line.due is None else line.due
        late = due > 14
        return (1 if not line.firm else 2 * late), due, line.said, line.id

    return sorted(lines, key=turn)


def got_by(plan, line) -> float:
    return float(sum(take.quantity for take in plan.takes if take.line == line.id))


@given(situations(freshest=True))
def test_no_solver_fills_the_earlier_lines_more_or_ships_less_life(situation):
    """One line after the other, each the most there can be beside those before it."""
    lots, lines = situation
    solver, plan = Solver(lots, lines), plan_pulls(lots, lines)
    for line in in_turn(lines) if solver.pairs else ():
        most = -solver.met(lambda _, wish, line=line: -(wish is line))
        assert got_by(plan, line) == pytest.approx(most, abs=1e-3)
    if solver.pairs:
        assert figures(plan, lots, lines)[1] == pytest.approx(solver.met(life_of), abs=1e-3)


@given(situations())
def test_no_solver_fills_a_rank_or_the_whole_more(situation):
    """The first lines, however many one counts, get the most they could get together."""
    lots, lines = situation
    plan, turn = plan_pulls(lots, lines), in_turn(lines)
    for count in range(1, len(lines) + 1):
        solver = Solver(lots, turn[:count])
        most = -solver.least(solver.weights(lambda *_: -1)) if solver.pairs else 0
        assert sum(got_by(plan, line) for line in turn[:count]) == pytest.approx(most, abs=1e-3)


@given(situations())
def test_no_solver_gives_the_first_line_more_of_what_goes_first(situation):
    hold_rotation_against_the_solver(*situation)


@pytest.mark.parametrize(("lots", "lines", "seed"), [(10, 5, 31), (14, 6, 31)])
def test_nor_in_books_where_much_is_exchanged(lots, lines, seed):
    """Found by chance: as filled, most of these lines have other crates than they should."""
    for wanted in (0.8, 1.1):
        hold_rotation_against_the_solver(*made_book(lots, lines, seed=seed, wanted=wanted))


def hold_rotation_against_the_solver(lots, lines):
    """After fill and life: the older of what keeps as long, then line by line the oldest ranks."""
    solver, plan = Solver(lots, lines), plan_pulls(lots, lines)
    if not solver.pairs:
        return
    for line in in_turn(lines):
        solver.met(lambda _, wish, line=line: -(wish is line))
    solver.met(life_of)
    solver.met(lambda lot, _: lot.rank)
    rank_of = {lot.code: lot.rank for lot in lots}
    for line in in_turn(lines):
        for rank in sorted(set(rank_of.values())):
            most = -solver.met(
                lambda lot, wish, line=line, rank=rank: -(wish is line and lot.rank == rank)
            )
            ours = sum(
                take.quantity for take in plan.takes
                if take.line == line.id and rank_of[take.lot] == rank
            )  # fmt: skip
            assert float(ours) == pytest.approx(most, abs=1e-3)


def wholes(situation, data):
    lots, lines = situation
    return lots, [
        PullLine(
            **{
                **vars(line),
                "whole": data.draw(st.booleans()),
                "one_more": data.draw(st.booleans()),
            }
        )
        for line in lines
    ]


@given(situations(freshest=True), st.data())
def test_input_order_does_not_matter(situation, data):
    lots, lines = wholes(situation, data)
    shuffled = data.draw(st.permutations(lots)), data.draw(st.permutations(lines))
    assert plan_pulls(*shuffled) == plan_pulls(lots, lines)


@given(situations(freshest=True), st.data())
def test_a_plan_is_possible(situation, data):
    lots, lines = wholes(situation, data)
    plan = plan_pulls(lots, lines)
    by_lot, by_line = defaultdict(Decimal), defaultdict(Decimal)
    lot_of, line_of = {lot.code: lot for lot in lots}, {line.id: line for line in lines}
    for take in plan.takes:
        assert take.quantity > 0
        assert eligible(lot_of[take.lot], line_of[take.line])
        by_lot[take.lot] += take.quantity
        by_line[take.line] += take.quantity
        if line_of[take.line].whole:
            assert take.quantity == lot_of[take.lot].quantity
            assert not lot_of[take.lot].part
    assert all(by_lot[lot.code] <= lot.quantity for lot in lots)
    missing = {short.line: short.quantity for short in plan.shorts}
    for line in lines:
        if not (line.whole and line.one_more):
            assert by_line[line.id] + missing.get(line.id, 0) == line.quantity
        else:
            assert by_line[line.id] + missing.get(line.id, 0) >= line.quantity
    walks = [lot_of[take.lot].walk for take in plan.takes]
    assert walks == sorted(walks)


@given(situations(freshest=True), st.data())
def test_a_crop_is_planned_alone_as_it_is_among_others(situation, data):
    lots, lines = wholes(situation, data)
    apples = PullLot("apples", "apple", Decimal(3), {"apples": 9})
    others = PullLine("apples", "apple", Decimal(2), due=-3)
    both = plan_pulls([apples, *lots], [others, *lines])
    alone = plan_pulls(lots, lines)
    assert tuple(take for take in both.takes if take.lot != "apples") == alone.takes
    assert both.shorts == alone.shorts
