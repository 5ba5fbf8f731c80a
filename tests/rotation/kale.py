"""Crates and lines of kale, with no more said of them than a test is about."""

from collections import defaultdict
from decimal import Decimal

from inventory.rotation import PullLine, PullLot, plan_pulls

BOUGHT = frozenset({"bought-in"})


def made_lot(code="A", quantity=10, days=5, **changes) -> PullLot:
    """A crate of kale that would keep so many days at every buyer's."""
    left = days if isinstance(days, dict) else defaultdict(lambda: days)
    return PullLot(code, "kale", Decimal(quantity), left, **changes)


def made_line(id="inn", quantity=10, minimum=0, *refused) -> PullLine:
    return PullLine(id, "kale", Decimal(quantity), minimum, frozenset(refused))


def wish(id="inn", quantity=10, **changes) -> PullLine:
    return PullLine(id, "kale", Decimal(quantity), **changes)


def taken(lots, lines) -> list[tuple]:
    return [(take.line, take.lot, take.quantity) for take in plan_pulls(lots, lines).takes]
