"""Which crates are left opened, beside a general solver."""

import doctest
from collections import defaultdict
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rotation import PullLine, PullLot, opening, plan_pulls
from inventory.rotation.lines import eligible
from inventory.rotation.opening import open_fewest
from tests.rotation.books import fewest_opened, opened
from tests.rotation.kale import made_line, made_lot, taken


def test_the_example_in_the_docstring():
    assert doctest.testmod(opening).failed == 0


@st.composite
def of_one_harvest(draw, kinds):
    """Up to twelve crates that keep as long, of which each line may have some, and the lines."""
    ids = ["a", "b", "c"][: draw(st.integers(1, 3))]
    sizes = st.lists(st.tuples(st.integers(1, 20), st.booleans()), min_size=1, max_size=12)
    days = st.fixed_dictionaries({id: st.sampled_from(kinds) for id in ids})
    lots = [
        PullLot(f"L{n:02}", "kale", Decimal(size), draw(days), part=part, walk=n)
        for n, (size, part) in enumerate(draw(sizes))
    ]
    total = sum(int(lot.quantity) for lot in lots)
    lines = [
        PullLine(id, "kale", Decimal(draw(st.integers(1, total))), minimum_days=5) for id in ids
    ]
    return lots, lines


def hold_against_the_solver(lots, lines):
    by_id = {line.id: line for line in lines}
    got: dict[str, Decimal] = defaultdict(Decimal)
    takes = plan_pulls(lots, lines).takes
    for take in takes:
        got[take.line] += take.quantity
    ours = opened(lots, [(take.lot, take.quantity) for take in takes])
    assert ours == (
        fewest_opened(lots, got, lambda lot, id: eligible(lot, by_id[id])) if got else 0
    )


@given(of_one_harvest([9]))
def test_no_solver_opens_fewer_of_crates_that_are_good_for_all(situation):
    hold_against_the_solver(*situation)


@given(of_one_harvest([9, 9, 1]))
def test_no_solver_opens_fewer_where_some_would_not_keep_for_some(situation):
    hold_against_the_solver(*situation)


def crates(*sizes, first="A", walk=0):
    return [
        PullLot(f"{first}{n}", "kale", Decimal(size), {}, walk=walk + n)
        for n, size in enumerate(sizes)
    ]  # fmt: skip


def test_what_a_line_gets_moves_between_masks_where_it_saves_an_opened_crate():
    """Line 0 may have all, line 1 only the second kind: 4 and 6 of crates of 5, 5 and 6, 4."""
    kinds = {0b01: crates(5, 5), 0b11: crates(6, 4, first="B")}
    found = open_fewest(kinds, {0b01: {0: 4000}, 0b11: {1: 6000}})
    assert found == {("B1", 0): 4000, ("B0", 1): 6000}


def test_lines_that_get_nothing_tell_no_crates_apart():
    """Crates of 5 and 6 that differ only in what is good for somebody who gets nothing here."""
    kinds = {0b01: crates(5), 0b11: crates(6, first="B")}
    found = open_fewest(kinds, {0b01: {0: 5000}, 0b11: {0: 1000}})
    assert found == {("B0", 0): 6000}


def test_of_crates_told_apart_by_nothing_that_counts_here_the_nearest_go():
    far, near = crates(5, walk=7), crates(5, first="B", walk=2)
    assert open_fewest({0b01: far, 0b11: near}, {0b01: {0: 5000}}) == {("B0", 0): 5000}
    assert open_fewest({0b01: near, 0b11: far}, {0b11: {0: 5000}}) == {("B0", 0): 5000}


def test_of_more_crates_the_nearest_sums_are_tried():
    """Sixteen crates: 3 and 5 as it stands open two, where a three and a five do."""
    many = {0b01: crates(*[4] * 12, 3), 0b11: crates(5, 6, 9, first="B")}
    found = open_fewest(many, {0b01: {0: 2000}, 0b11: {0: 1000, 1: 5000}})
    assert found == {("A12", 0): 3000, ("B0", 1): 5000}


def test_hundreds_of_crates_alike_are_still_exact():
    sizes = [Decimal(10_000 + 7 * n) / 1000 for n in range(300)]
    lots = crates(*sizes)
    wanted = int(sum(sizes[5:90]) * 1000)
    found = open_fewest({1: lots}, {1: {0: wanted}})
    assert (
        opened(lots, [(code, Decimal(amount) / 1000) for (code, _), amount in found.items()]) == 0
    )
    assert sum(found.values()) == wanted


def test_where_a_crate_is_gone_the_others_stay_with_their_lines():
    """Four crates of 12 for lines of 12, 18 and 18; then the third is gone, and the last line has
    so much less."""
    lots = crates(12, 12, 12, 12)
    whole = {("A0", 0): 12000, ("A1", 1): 12000}
    assert open_fewest({1: lots}, {1: {0: 12000, 1: 18000, 2: 18000}}) == {
        **whole, ("A2", 2): 12000, ("A3", 1): 6000, ("A3", 2): 6000,
    }  # fmt: skip
    del lots[2]
    assert open_fewest({1: lots}, {1: {0: 12000, 1: 18000, 2: 6000}}) == {
        **whole, ("A3", 1): 6000, ("A3", 2): 6000,
    }  # fmt: skip


def test_what_is_split_stays_so_where_a_line_gets_a_crate_more():
    lots = crates(12, 12, 12)
    split = {("A0", 0): 6000, ("A0", 1): 6000}
    assert open_fewest({1: lots}, {1: {0: 6000, 1: 6000}}) == split
    assert open_fewest({1: lots}, {1: {0: 18000, 1: 6000}}) == {**split, ("A1", 0): 12000}


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


def test_of_one_rank_the_part_crate_goes_and_then_the_code_decides():
    assert taken([made_lot("A"), made_lot("B", part=True)], [made_line()]) == [("inn", "B", 10)]
    assert taken([made_lot("B"), made_lot("A")], [made_line()]) == [("inn", "A", 10)]


@pytest.mark.parametrize(
    "other",
    [
        made_lot("part", 10, part=True, tags=frozenset({"bought-in"})),
        made_lot("part", 10, part=True, rank=1),
        made_lot("part", 10, days=4, part=True),
    ],
    ids=["refused", "of another harvest", "keeps too short"],
)
def test_an_open_crate_that_is_not_alike_does_not_stand_in_for_a_full_one(other):
    assert taken([made_lot("full", 12), other], [made_line("inn", 10, 5, "bought-in")]) == [
        ("inn", "full", 10)
    ]
