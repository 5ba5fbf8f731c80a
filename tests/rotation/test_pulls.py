"""The pull plan against worked cases and a general solver."""

import doctest
from collections import defaultdict
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from inventory.rotation import PullLine, PullLot, plan_pulls, pulls
from inventory.rotation.pulls import eligible


def lots_and_lines(lots, lines):
    """(quantity, days) pairs and (quantity, minimum days) pairs, of one crop."""
    made_lines = [
        PullLine(f"o{number}", "kale", Decimal(quantity), minimum)
        for number, (quantity, minimum) in enumerate(lines)
    ]
    made_lots = [
        PullLot(
            f"L{number}", "kale", Decimal(quantity),
            {line.id: days for line in made_lines}, walk=number, rank=days,
        )
        for number, (quantity, days) in enumerate(lots)
    ]  # fmt: skip
    return made_lots, made_lines


def figures(plan, lots) -> tuple[Decimal, Decimal]:
    """(amount filled, amount times days shipped)."""
    days = {lot.code: lot.days_left for lot in lots}
    filled = sum((take.quantity for take in plan.takes), Decimal(0))
    shipped = sum(take.quantity * Decimal(days[take.lot][take.line]) for take in plan.takes)
    return filled, shipped


@pytest.mark.parametrize(
    ("lots", "lines", "filled", "shipped"),
    [
        ([(5, 2), (4, 4), (6, 7), (3, 10)], [(6, 1), (4, 3), (5, 6)], 15, 68),
        ([(6, 2), (6, 6)], [(6, 1), (6, 5)], 12, 48),
        ([(5, 3), (5, 6), (5, 12)], [(5, 5), (5, 1)], 10, 45),
    ],
)
def test_worked_cases(lots, lines, filled, shipped):
    """Allocation with minimum remaining life: no published figures, computed with linprog."""
    made = lots_and_lines(lots, lines)
    assert figures(plan_pulls(*made), made[0]) == (filled, shipped)


def test_the_example_in_the_docstring():
    assert doctest.testmod(pulls).failed == 0


@st.composite
def situations(draw):
    """Crates and lines of one crop, with buyers that refuse and fridges that differ."""
    tags = st.frozensets(st.sampled_from(["bought-in", "not-organic"]))
    quantity = st.integers(1, 12).map(Decimal)
    lines = [
        PullLine(f"o{n}", "kale", draw(quantity), draw(st.integers(0, 8)), draw(tags))
        for n in range(draw(st.integers(1, 4)))
    ]
    lots = [
        PullLot(
            f"L{n}", "kale", draw(quantity),
            {line.id: draw(st.integers(0, 12)) for line in lines},
            walk=n, tags=draw(tags), rank=n, part=draw(st.booleans()),
        )
        for n in range(draw(st.integers(0, 5)))
    ]  # fmt: skip
    return lots, lines


def best_by_solver(lots, lines) -> tuple[float, float]:
    """Goal 1 and then goal 2 by a general linear program (scipy.optimize.linprog)."""
    pairs = [(lot, line) for lot in lots for line in lines if eligible(lot, line)]
    if not pairs:
        return 0, 0
    rows = [[float(lot is owner) for lot, _ in pairs] for owner in lots]
    rows += [[float(line is wish) for _, line in pairs] for wish in lines]
    limits = [float(lot.quantity) for lot in lots] + [float(line.quantity) for line in lines]
    fill = linprog(-np.ones(len(pairs)), A_ub=rows, b_ub=limits)
    days = np.array([lot.days_left[line.id] for lot, line in pairs], dtype=float)
    least = linprog(days, A_ub=rows, b_ub=limits, A_eq=np.ones((1, len(pairs))), b_eq=[-fill.fun])
    return -fill.fun, least.fun


@settings(max_examples=150)
@given(situations())
def test_no_solver_fills_more_or_ships_less_life(situation):
    lots, lines = situation
    filled, shipped = figures(plan_pulls(lots, lines), lots)
    assert (float(filled), float(shipped)) == pytest.approx(best_by_solver(lots, lines), abs=1e-6)


@given(situations())
def test_a_plan_is_possible(situation):
    lots, lines = situation
    plan = plan_pulls(lots, lines)
    by_lot, by_line = defaultdict(Decimal), defaultdict(Decimal)
    lot_of, line_of = {lot.code: lot for lot in lots}, {line.id: line for line in lines}
    for take in plan.takes:
        assert take.quantity > 0
        assert eligible(lot_of[take.lot], line_of[take.line])
        by_lot[take.lot] += take.quantity
        by_line[take.line] += take.quantity
    assert all(by_lot[lot.code] <= lot.quantity for lot in lots)
    missing = {short.line: short.quantity for short in plan.shorts}
    assert all(by_line[line.id] + missing.get(line.id, 0) == line.quantity for line in lines)
    walks = [lot_of[take.lot].walk for take in plan.takes]
    assert walks == sorted(walks)


def test_the_third_chef_is_told_what_is_missing():
    """The trade's own story: 60 fresh bunches and 10 old ones for 24, 30 and 18 at 5 days."""
    lots, lines = lots_and_lines([(60, 7), (10, 2)], [(24, 5), (30, 5), (18, 5)])
    plan = plan_pulls(lots, lines)
    assert [(take.line, take.quantity) for take in plan.takes] == [
        ("o0", 24), ("o1", 30), ("o2", 6),
    ]  # fmt: skip
    assert [(short.line, short.quantity, short.reason) for short in plan.shorts] == [
        ("o2", 12, "too-old")
    ]


def romaine(*crates, wanted=30):
    lots = [
        PullLot(f"L{n}", "romaine", Decimal(q), {"inn": 7}, walk=n, part=part)
        for n, (q, part) in enumerate(crates)
    ]
    plan = plan_pulls(lots, [PullLine("inn", "romaine", Decimal(wanted))])
    return [(take.lot, take.quantity) for take in plan.takes]


def test_an_open_crate_is_used_up_before_another_is_opened():
    """Common practice, no source: thirty heads from crates of eighteen and one of six."""
    assert romaine((18, False), (18, False), (6, True)) == [("L0", 18), ("L1", 6), ("L2", 6)]


def test_no_crate_is_broken_open_where_whole_ones_fit():
    assert romaine((18, False), (18, False), (6, True), wanted=36) == [("L0", 18), ("L1", 18)]


@pytest.mark.parametrize(
    ("lots", "line", "reason"),
    [
        ([], PullLine("x", "kale", Decimal(1)), "none"),
        (
            [PullLot("A", "kale", Decimal(5), {"x": 9}, tags=frozenset({"bought-in"}))],
            PullLine("x", "kale", Decimal(1), refused=frozenset({"bought-in"})),
            "refused",
        ),
        (
            [PullLot("A", "kale", Decimal(5), {"x": 9})],
            PullLine("x", "kale", Decimal(6)),
            "not-enough",
        ),
    ],
)
def test_a_short_says_why(lots, line, reason):
    assert [short.reason for short in plan_pulls(lots, [line]).shorts] == [reason]


def parts(lots, line) -> list[tuple[str, Decimal]]:
    (short,) = plan_pulls(lots, [line]).shorts
    assert sum(amount for _reason, amount in short.parts) == short.quantity
    assert short.reason == short.parts[0][0]
    return list(short.parts)


def bunches(code: str, quantity, days=9, **changes) -> PullLot:
    return PullLot(code, "kale", Decimal(quantity), {"x": days}, **changes)


BOUGHT = frozenset({"bought-in"})


def wants(quantity, minimum=5, refused=frozenset()) -> PullLine:
    return PullLine("x", "kale", Decimal(quantity), minimum, refused)


@pytest.mark.parametrize(
    ("lots", "line", "told"),
    [
        # One of five would not keep long enough, four are not here.
        ([bunches("A", 1, days=2)], wants(5), [("too-old", 1), ("not-enough", 4)]),
        # Six are here and would do; of the four that lack, one would not keep.
        (
            [bunches("A", 6), bunches("B", 1, days=2)],
            wants(10),
            [("too-old", 1), ("not-enough", 3)],
        ),
        # Enough that is too old: nothing else lacks.
        ([bunches("A", 30, days=2)], wants(5), [("too-old", 5)]),
        # What the buyer refuses comes first, and is not told twice where it is too old as well.
        (
            [bunches("A", 2, days=2, tags=BOUGHT), bunches("B", 1, days=2)],
            wants(6, refused=BOUGHT),
            [("refused", 2), ("too-old", 1), ("not-enough", 3)],
        ),
        ([bunches("A", 9, tags=BOUGHT)], wants(4, refused=BOUGHT), [("refused", 4)]),
        ([], wants(4), [("none", 4)]),
        ([bunches("A", "1.5")], wants("2.25"), [("not-enough", Decimal("0.75"))]),
    ],
)
def test_a_short_says_how_much_lacks_for_which_reason(lots, line, told):
    assert parts(lots, line) == told


@pytest.mark.parametrize(("days", "goes"), [(5, True), (4, False), (4.999, False)])
def test_a_crate_that_keeps_exactly_as_long_as_asked_goes(days, goes):
    plan = plan_pulls([bunches("A", 5, days=days)], [wants(5)])
    assert bool(plan.takes) == goes


def test_of_two_lines_alike_the_earlier_is_filled():
    lines = [PullLine(name, "kale", Decimal(5)) for name in ("first", "second")]
    lot = PullLot("A", "kale", Decimal(5), {"first": 7, "second": 7})
    plan = plan_pulls([lot], lines)
    assert [take.line for take in plan.takes] == ["first"]
    assert [short.line for short in plan.shorts] == ["second"]


def test_of_crates_with_as_many_days_there_the_one_that_goes_first_goes():
    """Rank is the order within the crop: days shown, then harvest."""
    later, sooner = bunches("A", 5, rank=1), bunches("B", 5, rank=0)
    plan = plan_pulls([later, sooner], [wants(5)])
    assert [take.lot for take in plan.takes] == ["B"]


def test_a_crate_refused_goes_to_the_buyer_that_takes_it():
    """Bought-in kale for two buyers, the first of whom takes only what the farm grew."""
    ours, bought = (
        PullLot(code, "kale", Decimal(5), {"own": 7, "any": 7}, tags=tags)
        for code, tags in (("A", frozenset()), ("B", BOUGHT))
    )
    lines = [PullLine("own", "kale", Decimal(5), 0, BOUGHT), PullLine("any", "kale", Decimal(5))]
    plan = plan_pulls([ours, bought], lines)
    assert {(take.line, take.lot) for take in plan.takes} == {("own", "A"), ("any", "B")}


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
