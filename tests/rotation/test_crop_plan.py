"""The plan for one crop: of crates that are alike, and whole ones beside those that are not."""

from decimal import Decimal

import pytest

from inventory.rotation import PullLine, PullLot
from inventory.rotation.crop_plan import plan_crop
from tests.rotation.books import made_book


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
