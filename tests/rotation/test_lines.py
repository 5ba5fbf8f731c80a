"""A crate and a line as the plan sees them."""

import doctest
from decimal import Decimal

import pytest

from inventory.rotation import PullLine, PullLot, lines
from inventory.rotation.lines import eligible, thousandths, units
from tests.rotation.kale import made_line, made_lot, taken, wish


def test_the_examples_in_the_docstrings():
    assert doctest.testmod(lines).failed == 0


def test_what_is_not_said_of_a_crate():
    crate = PullLot("A", "kale", Decimal(1), {}, rank=7)
    assert (crate.life, crate.harvest, crate.part, crate.walk) == (7, "", False, 0)
    assert PullLot("A", "kale", Decimal(1), {}, rank=7, life_days=0).life == 0


def test_what_is_not_said_of_a_line():
    """Firm, due today, in parts, not the freshest."""
    line = PullLine("inn", "kale", Decimal(1))
    assert line.turn == (0, 0, 0, "inn")
    assert not (line.whole)
    assert not (line.freshest)
    assert not (line.one_more)


@pytest.mark.parametrize(
    ("firm", "due", "rank"),
    [
        (True, None, 0), (True, -3, 0), (True, 14, 0), (True, 15, 2),
        (False, None, 1), (False, 14, 1), (False, 15, 1),
    ],
)  # fmt: skip
def test_the_rank_of_a_line(firm, due, rank):
    assert PullLine("inn", "kale", Decimal(1), firm=firm, due=due).rank == rank


def test_only_crop_refusals_and_days_there_decide():
    crate = PullLot("A", "kale", Decimal(1), {"inn": 4}, tags=frozenset({"wet"}), life_days=0)
    assert eligible(crate, PullLine("inn", "kale", Decimal(9), 4))
    assert not eligible(crate, PullLine("inn", "kale", Decimal(9), 4.5))
    assert not eligible(crate, PullLine("inn", "chard", Decimal(9)))
    assert not eligible(crate, PullLine("inn", "kale", Decimal(9), 0, frozenset({"wet"})))


@pytest.mark.parametrize("said", ["0.001", "1.5", "20", "1000", "0.125"])
def test_thousandths_and_back(said):
    assert str(units(thousandths(Decimal(said)))) == said
    assert str(units(thousandths(Decimal(said + "000" if "." in said else said)))) == said


@pytest.mark.parametrize(
    ("days", "minimum", "may"), [(5, 5, True), (4.999, 5, False), (5.001, 5, True), (0, 0, True)]
)
def test_a_crate_that_keeps_just_the_minimum_days_may_go(days, minimum, may):
    assert eligible(made_lot(days=days), made_line("inn", 10, minimum)) is may
    assert bool(taken([made_lot(days=days)], [made_line("inn", 10, minimum)])) is may


def test_a_line_that_says_nothing_takes_what_has_no_day_left_but_nothing_past_it():
    assert eligible(made_lot(days=0), PullLine("inn", "kale", Decimal(1)))
    assert not eligible(made_lot(days=-0.001), PullLine("inn", "kale", Decimal(1)))


def test_the_days_of_its_own_fridge_decide_for_each_line():
    crate = made_lot(days={"inn": 6, "market": 3})
    assert taken([crate], [made_line("market", 4, 5), made_line("inn", 4, 5)]) == [("inn", "A", 4)]


def test_what_a_buyer_refuses_is_not_taken_whatever_else_it_is():
    tags = frozenset({"bought-in", "not-organic"})
    assert not eligible(made_lot(tags=tags), made_line("inn", 1, 0, "bought-in"))
    assert not eligible(made_lot(tags=tags), made_line("inn", 1, 0, "not-organic"))
    assert eligible(made_lot(tags=tags), made_line("inn", 1, 0, "wet"))
    assert eligible(made_lot(), made_line("inn", 1, 0, "bought-in"))


def test_a_crate_of_another_crop_may_not_go():
    assert not eligible(made_lot(), PullLine("inn", "apple", Decimal(1)))


@pytest.mark.parametrize("ids", [("a", "b"), ("b", "a")])
def test_of_two_lines_due_alike_the_one_said_earlier_is_filled(ids):
    first, second = ids
    lines = [wish(second, said=2), wish(first, said=1)]
    assert taken([made_lot()], lines) == [(first, "A", 10)]


def test_of_two_lines_alike_the_id_decides():
    assert taken([made_lot()], [wish("b"), wish("a")]) == [("a", "A", 10)]


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
    assert taken([made_lot()], lines) == [("b", "A", 10)]
