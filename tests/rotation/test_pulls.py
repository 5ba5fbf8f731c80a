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


def test_of_two_open_crates_the_second_is_not_kept_to_take_a_full_one():
    assert romaine((6, False), (4, True), (4, True), wanted=6) == [("L1", 4), ("L2", 2)]


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


# What a buyer takes at all.


def lot(code="A", quantity=10, days=5, **changes) -> PullLot:
    """A crate of kale that would keep so many days at every buyer's."""
    left = days if isinstance(days, dict) else defaultdict(lambda: days)
    return PullLot(code, "kale", Decimal(quantity), left, **changes)


def line(id="inn", quantity=10, minimum=0, *refused) -> PullLine:
    return PullLine(id, "kale", Decimal(quantity), minimum, frozenset(refused))


def taken(lots, lines) -> list[tuple]:
    return [(take.line, take.lot, take.quantity) for take in plan_pulls(lots, lines).takes]


@pytest.mark.parametrize(
    ("days", "minimum", "may"), [(5, 5, True), (4.999, 5, False), (5.001, 5, True), (0, 0, True)]
)
def test_a_crate_that_keeps_just_the_minimum_days_may_go(days, minimum, may):
    assert eligible(lot(days=days), line("inn", 10, minimum)) is may
    assert bool(taken([lot(days=days)], [line("inn", 10, minimum)])) is may


def test_a_line_that_says_nothing_takes_what_has_no_day_left_but_nothing_past_it():
    assert eligible(lot(days=0), PullLine("inn", "kale", Decimal(1)))
    assert not eligible(lot(days=-0.001), PullLine("inn", "kale", Decimal(1)))


def test_the_days_of_its_own_fridge_decide_for_each_line():
    crate = lot(days={"inn": 6, "market": 3})
    assert taken([crate], [line("market", 4, 5), line("inn", 4, 5)]) == [("inn", "A", 4)]


def test_what_a_buyer_refuses_is_not_taken_whatever_else_it_is():
    tags = frozenset({"bought-in", "not-organic"})
    assert not eligible(lot(tags=tags), line("inn", 1, 0, "bought-in"))
    assert not eligible(lot(tags=tags), line("inn", 1, 0, "not-organic"))
    assert eligible(lot(tags=tags), line("inn", 1, 0, "wet"))
    assert eligible(lot(), line("inn", 1, 0, "bought-in"))


def test_a_crate_of_another_crop_may_not_go():
    assert not eligible(lot(), PullLine("inn", "apple", Decimal(1)))


# Who gets it, and from which crate.


@pytest.mark.parametrize("ids", [("a", "b"), ("b", "a")])
def test_of_two_lines_alike_the_earlier_is_filled(ids):
    first, second = ids
    assert taken([lot()], [line(first), line(second)]) == [(first, "A", 10)]


def test_the_earlier_line_gets_the_crate_of_least_life_all_the_same():
    lots = [lot("new", days=9, rank=1), lot("old", days=5)]
    assert taken(lots, [line("a"), line("b")]) == [("b", "new", 10), ("a", "old", 10)]


def test_of_two_crates_that_keep_alike_the_first_in_rotation_goes():
    lots = [lot("A", rank=1), lot("B", rank=0)]
    assert taken(lots, [line()]) == [("inn", "B", 10)]
    assert taken([lot("A", rank=0), lot("B", rank=1)], [line()]) == [("inn", "A", 10)]


def test_of_one_rank_the_part_crate_goes_and_then_the_code_decides():
    assert taken([lot("A"), lot("B", part=True)], [line()]) == [("inn", "B", 10)]
    assert taken([lot("B"), lot("A")], [line()]) == [("inn", "A", 10)]


def test_least_life_goes_before_rotation_order():
    assert taken([lot("A", days=9), lot("B", days=8, rank=1)], [line()]) == [("inn", "B", 10)]


@pytest.mark.parametrize(
    "other",
    [
        lot("part", 10, part=True, tags=frozenset({"bought-in"})),
        lot("part", 10, part=True, rank=1),
        lot("part", 10, days=4, part=True),
    ],
    ids=["refused", "of another harvest", "keeps too short"],
)
def test_an_open_crate_that_is_not_alike_does_not_stand_in_for_a_full_one(other):
    assert taken([lot("full", 12), other], [line("inn", 10, 5, "bought-in")]) == [
        ("inn", "full", 10)
    ]


def test_one_walks_along_the_shelves_and_by_code_at_one_place():
    lots = [lot("C", 1, walk=2), lot("B", 1, walk=1), lot("A", 1, walk=2)]
    assert [code for _, code, _ in taken(lots, [line("inn", 3)])] == ["B", "A", "C"]


def test_quantities_keep_their_three_decimals_and_are_told_without_needless_zeros():
    plan = plan_pulls([lot("A", "0.125"), lot("B", "20.000")], [line("inn", "21.5")])
    assert [str(take.quantity) for take in plan.takes] == ["0.125", "20"]
    assert [str(short.quantity) for short in plan.shorts] == ["1.375"]


def test_a_crop_nobody_has_leaves_the_other_lines_alone():
    apples = PullLine("inn", "apple", Decimal(2))
    plan = plan_pulls([lot()], [apples, line("market", 4)])
    assert [(take.line, take.quantity) for take in plan.takes] == [("market", 4)]
    assert [(short.line, short.reason) for short in plan.shorts] == [("inn", "none")]


def test_a_line_that_is_filled_is_not_short_and_shorts_come_as_the_lines_do():
    plan = plan_pulls([lot()], [line("c", 4), line("b", 9), line("a", 4)])
    assert [short.line for short in plan.shorts] == ["b", "a"]


def goals(plan, lots, lines) -> list[Decimal]:
    """Amount, amount times days, times the line's number, times the crate's rank."""
    number = {line.id: index for index, line in enumerate(lines)}
    by_code = {lot.code: lot for lot in lots}
    weighed = [Decimal(0)] * 4
    for take in plan.takes:
        crate = by_code[take.lot]
        weights = (1, crate.days_left[take.line], number[take.line], crate.rank)
        weighed = [sum_ + take.quantity * w for sum_, w in zip(weighed, weights, strict=True)]
    return weighed


@settings(max_examples=80)
@given(situations())
def test_no_solver_serves_the_earlier_lines_or_the_older_crates_better(situation):
    """The goals one after another, each by scipy.optimize.linprog with those before it met."""
    lots, lines = situation
    pairs = [(lot, n, line) for lot in lots for n, line in enumerate(lines) if eligible(lot, line)]
    if not pairs:
        return
    rows = [[float(lot is owner) for lot, _, _ in pairs] for owner in lots]
    rows += [[float(line is wish) for _, _, line in pairs] for wish in lines]
    limits = [float(lot.quantity) for lot in lots] + [float(line.quantity) for line in lines]
    weights = [
        [-1.0] * len(pairs), [lot.days_left[line.id] for lot, _, line in pairs],
        [n for _, n, _ in pairs], [lot.rank for lot, _, _ in pairs],
    ]  # fmt: skip
    found, met = [], []
    for weight in weights:
        found.append(linprog(weight, rows, limits, met or None, found or None).fun)
        met.append(weight)
    found[0] *= -1
    ours = [float(goal) for goal in goals(plan_pulls(lots, lines), lots, lines)]
    assert ours == pytest.approx(found, abs=1e-6)


def test_a_thousandth_missing_is_missing_too():
    (short,) = plan_pulls([lot("A", 1)], [line("inn", "1.001")]).shorts
    assert (short.quantity, short.parts) == (
        Decimal("0.001"), (("not-enough", Decimal("0.001")),),
    )  # fmt: skip
