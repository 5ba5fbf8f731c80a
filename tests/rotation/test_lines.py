"""A crate and a line as the plan sees them."""

import doctest
from decimal import Decimal

import pytest

from inventory.rotation import PullLine, PullLot, lines
from inventory.rotation.lines import eligible, thousandths, units


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
