"""The plan for one crop: of crates that are alike, and whole ones beside those that are not."""

import random
from decimal import Decimal

import pytest

from inventory.rotation import PullLine, PullLot, plan_pulls
from inventory.rotation.crop_plan import plan_crop
from tests.rotation.books import made_book
from tests.rotation.kale import made_line, made_lot, taken, wish


def alike(crates):
    """(quantity, part) of crates of one harvest that keep as long, good for two lines."""
    return [
        PullLot(f"L{place:02}", "kale", Decimal(size), {"a": 9, "b": 9}, part=part, walk=place)
        for place, (size, part) in enumerate(crates)
    ]


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


# Which goes first.


def test_of_two_crates_that_keep_alike_the_first_in_rotation_goes():
    lots = [made_lot("A", rank=1), made_lot("B", rank=0)]
    assert taken(lots, [made_line()]) == [("inn", "B", 10)]
    lots = [made_lot("A", rank=0), made_lot("B", rank=1)]
    assert taken(lots, [made_line()]) == [("inn", "A", 10)]


def test_least_life_goes_before_rotation_order():
    lots = [made_lot("A", rank=0, life_days=9), made_lot("B", rank=1, life_days=8)]
    assert taken(lots, [made_line()]) == [("inn", "B", 10)]


def test_days_at_the_buyer_decide_only_whether_a_crate_may_go():
    lots = [made_lot("A", days=9, life_days=4), made_lot("B", days=5, life_days=8)]
    assert taken(lots, [made_line("inn", 10, 5)]) == [("inn", "A", 10)]


# Whole crates only.


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
    lots = [made_lot("A", part=True), made_lot("B", rank=1)]
    assert taken(lots, [wish(whole=True)]) == [("inn", "B", 10)]


def test_whole_lines_go_first_within_their_rank_and_not_before_it():
    lots = [made_lot("A"), made_lot("B", 6, rank=1)]
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
    plan = plan_pulls([made_lot("A"), made_lot("B", 6)], lines)
    assert {take.line for take in plan.takes} == {"inn"}
    assert [(short.line, short.quantity) for short in plan.shorts] == [("market", 6)]


def test_a_wish_for_whole_crates_gets_what_those_before_it_can_do_without():
    """The opened crate keeps longer, but fills the first line, so that the whole one is left."""
    lots = [made_lot("A"), made_lot("B", rank=1, part=True)]
    lines = [wish("inn", 6), wish("market", whole=True, firm=False)]
    assert taken(lots, lines) == [("market", "A", 10), ("inn", "B", 6)]
    assert taken(lots, lines[:1]) == [("inn", "A", 6)]
