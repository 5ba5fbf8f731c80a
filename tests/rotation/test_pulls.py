"""The pull plan against worked cases, published ones and a general solver."""

import doctest
import random
import time
from collections import defaultdict
from decimal import Decimal
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.rotation import PullLine, PullLot, plan_pulls, pulls
from inventory.rotation.lines import eligible
from tests.rotation.books import Solver, changed, figures, life_of, made_book


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


@pytest.mark.parametrize(
    ("lots", "lines", "filled", "shipped"),
    [
        ([(5, 2), (4, 4), (6, 7), (3, 10)], [(6, 1), (4, 3), (5, 6)], 15, 68),
        ([(6, 2), (6, 6)], [(6, 1), (6, 5)], 12, 48),
        ([(5, 3), (5, 6), (5, 12)], [(5, 5), (5, 1)], 10, 45),
    ],
    ids=["h3", "h4", "h5"],
)
def test_worked_cases(lots, lines, filled, shipped):
    """Allocation with minimum remaining life: no published figures, computed with linprog."""
    made = lots_and_lines(lots, lines)
    assert figures(plan_pulls(*made), *made) == (filled, shipped)


def whole_plan(sizes, wanted, **changes):
    """Crates of one crop, the first the oldest, for a line that takes whole ones only."""
    lots = [
        PullLot(f"L{place}", "kale", Decimal(size), {"x": 9}, rank=place)
        for place, size in enumerate(sizes)
    ]
    line = PullLine("x", "kale", Decimal(wanted), whole=True, **changes)
    plan = plan_pulls(lots, [line])
    quantity = {lot.code: lot.quantity for lot in lots}
    assert all(take.quantity == quantity[take.lot] for take in plan.takes)
    return plan, [str(take.quantity) for take in plan.takes]


def test_h6_whole_crates_that_make_up_the_order_before_the_oldest():
    """Crates of 4, 3 and 3 kg for 6: computed, no published figure."""
    plan, taken = whole_plan(["4", "3", "3"], 6)
    assert (taken, plan.shorts) == (["3", "3"], ())


def test_n2_a_transportation_problem_with_one_answer():
    """Costs 30 20 / 40 10, supply 200 and 100, demand 150 and 150: 6500, by 150, 50 / 0, 100.

    Data: SAS/OR User's Guide, Mathematical Programming, "A Transportation Problem",
    support.sas.com; the optimum was computed. As crates of 0 and 10 days the costs are 30 and 10
    a day to a line that gets what goes first, 20 less 10 a day to one that gets the freshest.
    """
    lines = [
        PullLine("first", "kale", Decimal(150)),
        PullLine("fresh", "kale", Decimal(150), freshest=True),
    ]
    days = {"first": 9, "fresh": 9}
    lots = [
        PullLot("A", "kale", Decimal(200), days, life_days=0),
        PullLot("B", "kale", Decimal(100), days, rank=1, life_days=10),
    ]
    plan = plan_pulls(lots, lines)
    assert {(take.lot, take.line): take.quantity for take in plan.takes} == {
        ("A", "first"): 150, ("A", "fresh"): 50, ("B", "fresh"): 100,
    }  # fmt: skip
    filled, shipped = figures(plan, lots, lines)
    assert filled == 300
    assert 30 * 150 + 20 * 150 + shipped == 6500


def test_n4_the_solver_finds_the_published_cost():
    """The cannery example: 153.675, by more than one set of flows, so only the cost is tested.

    Dantzig, Linear Programming and Extensions, Princeton 1963. A plan has one cost a crate, not
    one a pair; so this tests what the plan is tested against.
    """
    cost = {("A", "x"): 0.225, ("A", "y"): 0.153, ("A", "z"): 0.162,
            ("B", "x"): 0.225, ("B", "y"): 0.162, ("B", "z"): 0.126}  # fmt: skip
    lots = [lot("A", 350), lot("B", 600)]
    solver = Solver(lots, [line("x", 325), line("y", 300), line("z", 275)])
    assert solver.met(lambda lot, line: -1) == pytest.approx(-900)
    weights = solver.weights(lambda lot, line: cost[lot.code, line.id])
    assert solver.least(weights) == pytest.approx(153.675)


def test_n6_three_ways_to_make_up_an_order_and_no_other():
    """Weights and target of problem P01 of Burkardt's SUBSET_SUM data set,
    people.sc.fsu.edu/~jburkardt/datasets/subset_sum: 53 by three sets of crates."""
    sizes = ["15", "22", "14", "26", "32", "9", "16", "8"]
    chance = random.Random(6)
    found = set()
    for _ in range(60):
        plan, taken = whole_plan(chance.sample(sizes, len(sizes)), 53)
        assert plan.shorts == ()
        found.add(tuple(sorted(taken, key=int)))
    assert found == {("15", "16", "22"), ("8", "14", "15", "16"), ("8", "9", "14", "22")}
    assert whole_plan(sizes, 53)[1] == ["15", "22", "16"]


def test_n8_what_must_go_and_what_must_be_filled_do_not_fight():
    """Mendelsohn and Dulmage, Canadian Journal of Mathematics 10:517-534, 1958; the case is
    computed: of 16 matchings only one takes L1 and L2 and fills O2 and O3."""
    links = {"L1": "O1 O2", "L2": "O1", "L3": "O3", "L4": "O2"}
    lines = [PullLine(f"O{n}", "kale", Decimal(1), firm=n > 1) for n in (1, 2, 3)]
    for order in permutations(range(3)):
        turns = [PullLine(**{**vars(wish), "said": order[n]}) for n, wish in enumerate(lines)]
        lots = [
            PullLot(
                code, "kale", Decimal(1), {o: 9 if o in goes else -1 for o in ("O1", "O2", "O3")},
                rank=0 if code in ("L1", "L2") else 9,
            )
            for code, goes in links.items()
        ]  # fmt: skip
        takes = plan_pulls(lots, turns).takes
        assert {(take.lot, take.line) for take in takes} == {
            ("L2", "O1"), ("L1", "O2"), ("L3", "O3"),
        }  # fmt: skip


def test_n10_an_order_filled_and_the_oldest_crate_gone_are_not_always_both_to_be_had():
    """Crates of 4, 3, 3 kg for 6, computed: the order is filled and the 4 stays; with one 3 less
    the 4 goes and 2 are short. Never more than was ordered."""
    plan, taken = whole_plan(["4", "3", "3"], 6)
    assert (taken, plan.shorts) == (["3", "3"], ())
    plan, taken = whole_plan(["4", "3"], 6)
    assert (taken, [short.quantity for short in plan.shorts]) == (["4"], [2])


def test_n12_the_closest_below_an_order():
    """Crates of 12.4 9.8 11.2 7.6 10.5 kg for 30: computed."""
    plan, taken = whole_plan(["12.4", "9.8", "11.2", "7.6", "10.5"], 30)
    assert taken == ["12.4", "9.8", "7.6"]
    assert [short.quantity for short in plan.shorts] == [Decimal("0.2")]


def test_the_example_in_the_docstring():
    assert doctest.testmod(pulls).failed == 0


# Beside a general solver.


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


@settings(max_examples=150)
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


@settings(max_examples=150)
@given(situations())
def test_no_solver_fills_a_rank_or_the_whole_more(situation):
    """The first lines, however many one counts, get the most they could get together."""
    lots, lines = situation
    plan, turn = plan_pulls(lots, lines), in_turn(lines)
    for count in range(1, len(lines) + 1):
        solver = Solver(lots, turn[:count])
        most = -solver.least(solver.weights(lambda *_: -1)) if solver.pairs else 0
        assert sum(got_by(plan, line) for line in turn[:count]) == pytest.approx(most, abs=1e-3)


@settings(max_examples=100)
@given(situations())
def test_no_solver_gives_the_first_line_more_of_what_goes_first(situation):
    """After fill and life: the older of what keeps as long, then line by line the oldest ranks."""
    lots, lines = situation
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


def wish(id="inn", quantity=10, **changes) -> PullLine:
    return PullLine(id, "kale", Decimal(quantity), **changes)


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
def test_of_two_lines_due_alike_the_one_said_earlier_is_filled(ids):
    first, second = ids
    lines = [wish(second, said=2), wish(first, said=1)]
    assert taken([lot()], lines) == [(first, "A", 10)]


def test_of_two_lines_alike_the_id_decides():
    assert taken([lot()], [wish("b"), wish("a")]) == [("a", "A", 10)]


@pytest.mark.parametrize(
    ("first", "then"),
    [
        ({"due": 3, "said": 9}, {"due": 4}),
        ({"due": None, "said": 9}, {"due": 1}),
        ({"due": -1, "said": 9}, {"due": None}),
        ({"due": 14, "said": 9}, {"firm": False}),
        ({"firm": False, "due": 20, "said": 9}, {"due": 15}),
        ({"due": 14}, {"due": 15}),
    ],
)
def test_who_is_filled_first(first, then):
    """Firm within 14 days, then wishes, then firm ones due later; in each by the day due."""
    lines = [wish("a", **then), wish("b", **first)]
    assert taken([lot()], lines) == [("b", "A", 10)]


def test_the_earlier_line_gets_the_crate_of_least_life_all_the_same():
    lots = [lot("new", days=9, rank=1), lot("old", days=5)]
    assert taken(lots, [line("a"), line("b")]) == [("b", "new", 10), ("a", "old", 10)]


def test_the_line_due_first_gets_the_crate_that_goes_first():
    """A crate of 10 days and one of 6, for Wednesday and for Friday."""
    lots = [lot("A", life_days=10, rank=2), lot("B", life_days=6, rank=1)]
    lines = [wish("friday", due=5), wish("wednesday", due=3)]
    assert taken(lots, lines) == [("friday", "A", 10), ("wednesday", "B", 10)]


def test_the_line_due_first_leaves_what_another_line_can_do_without_least():
    """Only the younger crate would keep for the later line."""
    lots = [lot("A", days={"a": 9, "b": 9}, rank=2), lot("B", days={"a": 9, "b": 1}, rank=1)]
    lines = [wish("a", due=3), wish("b", due=2, minimum_days=5)]
    assert taken(lots, lines) == [("b", "A", 10), ("a", "B", 10)]


def test_who_gets_the_freshest_gets_what_keeps_longest():
    lots = [lot("A", rank=1), lot("B", rank=2), lot("C", rank=3)]
    lines = [wish("a", due=1, freshest=True), wish("b", due=2)]
    assert taken(lots, lines) == [("b", "A", 10), ("a", "C", 10)]


def test_of_what_keeps_as_long_the_freshest_is_what_was_cut_last():
    lots = [lot(code, life_days=7, rank=rank) for code, rank in (("A", 1), ("B", 2), ("C", 3))]
    lines = [wish("a", due=1, freshest=True), wish("b", due=2)]
    assert taken(lots, lines) == [("b", "A", 10), ("a", "C", 10)]


def test_the_first_of_those_who_get_the_freshest_gets_the_freshest_of_all():
    lots = [lot(code, rank=rank) for code, rank in (("A", 1), ("B", 2), ("C", 3))]
    lines = [wish("b", due=2, freshest=True), wish("a", due=1, freshest=True)]
    assert taken(lots, lines) == [("b", "B", 10), ("a", "C", 10)]


@pytest.mark.parametrize("codes", [("A", "B"), ("B", "A")])
def test_the_first_line_takes_what_another_refuses_of_what_goes_together(codes):
    """Own and bought-in go together; the second line would else get what goes later."""
    own, bought = codes
    lots = [
        lot(own, harvest=own), lot(bought, harvest=bought, tags=BOUGHT), lot("C", rank=1),
    ]  # fmt: skip
    lines = [wish("a", due=1), wish("b", due=2, refused=BOUGHT), wish("c", due=3)]
    assert set(taken(lots, lines)) == {("a", bought, 10), ("b", own, 10), ("c", "C", 10)}


# From which harvest.


def of_harvests(*sizes, rank=0):
    """(harvest, quantity) of crates that go together."""
    return [
        lot(f"{harvest}{place}", size, rank=rank, harvest=harvest)
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
    lots = [lot("B0", 4, rank=0, harvest="B"), *of_harvests(("A", 6), ("B", 20), rank=1)]
    assert harvests_of(lots, [wish("a", 10)]) == {"a": {"B"}}


def test_one_harvest_does_not_weigh_more_than_rotation():
    lots = [lot("A0", 4, rank=0, harvest="A"), *of_harvests(("B", 20), rank=1)]
    assert harvests_of(lots, [wish("a", 10)]) == {"a": {"A", "B"}}


def test_of_two_crates_that_keep_alike_the_first_in_rotation_goes():
    lots = [lot("A", rank=1), lot("B", rank=0)]
    assert taken(lots, [line()]) == [("inn", "B", 10)]
    assert taken([lot("A", rank=0), lot("B", rank=1)], [line()]) == [("inn", "A", 10)]


def test_of_one_rank_the_part_crate_goes_and_then_the_code_decides():
    assert taken([lot("A"), lot("B", part=True)], [line()]) == [("inn", "B", 10)]
    assert taken([lot("B"), lot("A")], [line()]) == [("inn", "A", 10)]


def test_least_life_goes_before_rotation_order():
    lots = [lot("A", rank=0, life_days=9), lot("B", rank=1, life_days=8)]
    assert taken(lots, [line()]) == [("inn", "B", 10)]


def test_days_at_the_buyer_decide_only_whether_a_crate_may_go():
    lots = [lot("A", days=9, life_days=4), lot("B", days=5, life_days=8)]
    assert taken(lots, [line("inn", 10, 5)]) == [("inn", "A", 10)]


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


def test_a_line_that_is_filled_is_not_short_and_shorts_come_as_lines_are_served():
    lines = [wish("a", 4, said=3), wish("b", 9, said=2), wish("c", 4, said=1)]
    assert [short.line for short in plan_pulls([lot()], lines).shorts] == ["b", "a"]


def test_a_thousandth_missing_is_missing_too():
    (short,) = plan_pulls([lot("A", 1)], [line("inn", "1.001")]).shorts
    assert (short.quantity, short.parts) == (
        Decimal("0.001"), (("not-enough", Decimal("0.001")),),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("lots", "lines", "fresh"), [(500, 100, False), (2000, 1, False), (200, 40, True)]
)
@pytest.mark.parametrize("alike", [True, False])
def test_no_plan_takes_a_second(lots, lines, fresh, alike):
    """Of processor time; what it takes is told by tests/bench/bench_pulls.py."""
    book_lots, book_lines = made_book(lots, lines, alike=alike)
    book_lines = [changed(line, freshest=fresh and line.due == 3) for line in book_lines]
    started = time.process_time()
    plan_pulls(book_lots, book_lines)
    assert time.process_time() - started < 1


# Whole crates only.


def test_whole_crates_that_make_up_the_order():
    """Eleven from crates of 5, 4, 4 and 3: common practice, no source."""
    assert whole_plan(["5", "4", "4", "3"], 11)[1] == ["4", "4", "3"]


def test_among_equal_sums_the_oldest_go():
    assert whole_plan(["2", "4", "3", "3"], 6)[1] == ["2", "4"]
    assert whole_plan(["3", "3", "2", "4"], 6)[1] == ["3", "3"]


def test_who_gets_the_freshest_whole_gets_the_youngest_among_equal_sums():
    assert whole_plan(["2", "4", "3", "3"], 6, freshest=True)[1] == ["3", "3"]


@pytest.mark.parametrize(
    ("sizes", "wanted", "one_more", "taken"),
    [
        (["5", "4"], 7, False, ["5"]),
        (["5", "4"], 7, True, ["5", "4"]),
        (["5", "4", "3"], 7, True, ["4", "3"]),
        (["5", "9", "8"], 6, True, ["8"]),
        (["5"], 7, True, ["5"]),
        (["8"], 7, False, []),
        ([], 7, True, []),
    ],
)
def test_never_more_than_ordered_unless_one_crate_more_is_taken(sizes, wanted, one_more, taken):
    plan, got = whole_plan(sizes, wanted, one_more=one_more)
    assert got == taken
    lacking = max(0, wanted - sum(map(int, taken)))
    assert sum(short.quantity for short in plan.shorts) == lacking


def test_an_opened_crate_is_no_whole_one():
    assert taken([lot("A", part=True), lot("B", rank=1)], [wish(whole=True)]) == [("inn", "B", 10)]


def test_whole_lines_go_first_within_their_rank_and_not_before_it():
    lots = [lot("A"), lot("B", 6, rank=1)]
    parts = wish("parts", 6, due=1)
    assert taken(lots, [parts, wish("whole", due=2, whole=True)]) == [
        ("whole", "A", 10), ("parts", "B", 6),
    ]  # fmt: skip
    assert taken(lots, [parts, wish("whole", due=0, whole=True, firm=False)]) == [
        ("parts", "A", 6), ("whole", "B", 6),
    ]  # fmt: skip


def test_a_wish_for_whole_crates_takes_nothing_from_those_before_it():
    """Both crates are needed for eleven, so nothing whole is left for the market."""
    lines = [wish("inn", 11), wish("market", 6, whole=True, firm=False)]
    plan = plan_pulls([lot("A"), lot("B", 6)], lines)
    assert {take.line for take in plan.takes} == {"inn"}
    assert [(short.line, short.quantity) for short in plan.shorts] == [("market", 6)]


def test_a_wish_for_whole_crates_gets_what_those_before_it_can_do_without():
    """The opened crate keeps longer, but fills the first line, so that the whole one is left."""
    lots = [lot("A"), lot("B", rank=1, part=True)]
    lines = [wish("inn", 6), wish("market", whole=True, firm=False)]
    assert taken(lots, lines) == [("market", "A", 10), ("inn", "B", 6)]
    assert taken(lots, lines[:1]) == [("inn", "A", 6)]
