"""The pull plan against worked cases and published ones, and what it says of what is short."""

import doctest
import time
from decimal import Decimal
from itertools import permutations

import pytest

from inventory.rotation import PullLine, PullLot, plan_pulls, pulls
from tests.rotation.books import changed, figures, made_book
from tests.rotation.kale import BOUGHT, made_line, made_lot, taken, wish


def test_the_example_in_the_docstring():
    assert doctest.testmod(pulls).failed == 0


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


def test_one_walks_along_the_shelves_and_by_code_at_one_place():
    lots = [made_lot("C", 1, walk=2), made_lot("B", 1, walk=1), made_lot("A", 1, walk=2)]
    assert [code for _, code, _ in taken(lots, [made_line("inn", 3)])] == ["B", "A", "C"]


def test_quantities_keep_their_three_decimals_and_are_told_without_needless_zeros():
    plan = plan_pulls([made_lot("A", "0.125"), made_lot("B", "20.000")], [made_line("inn", "21.5")])
    assert [str(take.quantity) for take in plan.takes] == ["0.125", "20"]
    assert [str(short.quantity) for short in plan.shorts] == ["1.375"]


def test_a_crop_nobody_has_leaves_the_other_lines_alone():
    apples = PullLine("inn", "apple", Decimal(2))
    plan = plan_pulls([made_lot()], [apples, made_line("market", 4)])
    assert [(take.line, take.quantity) for take in plan.takes] == [("market", 4)]
    assert [(short.line, short.reason) for short in plan.shorts] == [("inn", "none")]


def test_a_line_that_is_filled_is_not_short_and_shorts_come_as_lines_are_served():
    lines = [wish("a", 4, said=3), wish("b", 9, said=2), wish("c", 4, said=1)]
    assert [short.line for short in plan_pulls([made_lot()], lines).shorts] == ["b", "a"]


def test_a_thousandth_missing_is_missing_too():
    (short,) = plan_pulls([made_lot("A", 1)], [made_line("inn", "1.001")]).shorts
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
