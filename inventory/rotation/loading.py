"""How much of one crop to load for a market: one too few against one too many.

Money is per unit of the crop, in the farm's own; quantities are in that unit.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from statistics import NormalDist

from inventory.learning.demand import AllSoldOut, Demand, Known, TooFew

_NORMAL = NormalDist()
_NOTHING = Decimal(0)
# Where nothing is lost by bringing it back the rule would load the whole room. Ours.
MOST_SURE = 0.98


class Rather(StrEnum):
    """What a farm would rather, where a price is missing."""

    RUN_OUT = "run-out"
    EVEN = "even"
    BRING_HOME = "bring-home"


RATIOS = {Rather.RUN_OUT: 0.35, Rather.EVEN: 0.5, Rather.BRING_HOME: 0.7}


class Why(StrEnum):
    """What decided how many crates."""

    RULE = "rule"
    USUALLY = "what is usually sold"
    MORE = "one crate more"
    TOO_FEW = "too few markets"
    MUST_MOVE = "must move"
    NO_MORE_THERE = "no more there"
    OWN = "own figure"


@dataclass(frozen=True)
class Buyer:
    """Where what is left could still go, one that takes this crop. keeps: days it would still
    keep when it gets there, below 0 where it is past before; wants: how many it must. [d]
    price: None where nobody said.
    """

    keeps: float
    wants: float
    price: Decimal | None


@dataclass(frozen=True)
class Worth:
    """What one is worth: sold at the stall, kept at home, brought back. None where unknown."""

    price: Decimal | None
    at_home: Decimal | None
    after: Decimal | None


@dataclass(frozen=True)
class Ratio:
    """How sure to be of not running out, 0 to 0.98. under, over: what one too few and one too
    many cost, where they are known; else rather says what was chosen instead."""

    value: float
    under: Decimal | None = None
    over: Decimal | None = None
    rather: Rather | None = None


@dataclass(frozen=True)
class Stock:
    """What there is to load of one crop, after what the book promised. crate: what one holds.

    crates: how many there are; must_move: how many of them go first because they end soon.
    """

    crate: Decimal
    crates: int
    must_move: int = 0


@dataclass(frozen=True)
class Load:
    """How many crates to load, and the figures it can be worked out from by hand.

    figured: how many crates it is by the figures alone, before must moves, stock and people;
    figured_by: which of the figures decided.
    sure: NormalDist's deviations above the mean for the ratio. wanted: mean + sure · deviation,
    plus the least that lies on the table to the end. [unit] below, above: the crates next to
    that, and fewer_costs, more_costs: what each is expected to lose, in shares of under + over.
    All None where no demand is known, or nothing should go.
    """

    crates: int
    why: Why
    crate: Decimal
    ratio: Ratio
    known: Known
    least: float = 0
    figured: int = 0
    figured_by: Why = Why.RULE
    sure: float | None = None
    wanted: float | None = None
    below: int | None = None
    fewer_costs: float | None = None
    more_costs: float | None = None

    @property
    def quantity(self) -> Decimal:
        return self.crates * self.crate


def worth_with(buyers: Iterable[Buyer]) -> Decimal | None:
    """Return what a unit that is left is worth: the best price of who comes before it is past.

    Nothing where nobody does; None where somebody does but no price is known.
    Example: it keeps 2 days at one who wants 4, and 1 at one who wants 1 → the price of the second
    """
    prices = [buyer.price for buyer in buyers if buyer.keeps >= max(buyer.wants, 0)]
    if not prices:
        return _NOTHING
    return max((price for price in prices if price is not None), default=None)


def ratio_of(worth: Worth, rather: Rather = Rather.EVEN) -> Ratio:
    """Return how sure to be of not running out.

    Formula: under / (under + over), under = price - worth at home, over = worth at home - worth
    after. Where it is worth more at home nothing should go: 0. Where nothing is lost by bringing
    it back: 0.98. Where a figure is missing the plain choice: 0.35, 0.5 or 0.7.
    Example: price 3, at home 1, after 0 → under 2, over 1, 0.667
    """
    if worth.price is None or worth.at_home is None or worth.after is None:
        return Ratio(RATIOS[rather], rather=rather)
    under, over = worth.price - worth.at_home, worth.at_home - worth.after
    if under <= 0:
        return Ratio(0.0, under, over)
    if over <= 0:
        return Ratio(MOST_SURE, under, over)
    return Ratio(min(float(under / (under + over)), MOST_SURE), under, over)


def quantile(demand: Demand, ratio: float) -> float:
    """Return the quantity that is enough on such a share of days, never below 0. [unit]

    ratio: 0 to below 1. Formula: mean + z · deviation; nothing at a ratio of 0.
    Example: mean 50, deviation 20, ratio 2/7 → 38.68
    """
    if ratio <= 0:
        return 0.0
    return max(demand.mean + _NORMAL.inv_cdf(ratio) * demand.deviation, 0.0)


def expected_short(demand: Demand, quantity: float) -> float:
    """Return how much is asked for and not there, on average. [unit]

    Formula: s · L(z), L(z) = φ(z) - z · (1 - Φ(z)), z = (quantity - m) / s.
    Example: mean 50, deviation 20, 39 there → 14.66
    """
    if not demand.deviation:
        return max(demand.mean - quantity, 0.0)
    z = (quantity - demand.mean) / demand.deviation
    return demand.deviation * (_NORMAL.pdf(z) - z * _NORMAL.cdf(-z))


def expected_left(demand: Demand, quantity: float) -> float:
    """Return how much is brought back, on average. [unit]

    Formula: quantity - m + what is short. Example: mean 50, deviation 20, 39 there → 3.66
    """
    return quantity - demand.mean + expected_short(demand, quantity)


def expected_loss(demand: Demand, quantity: float, ratio: float) -> float:
    """Return what is lost by not knowing the day, in shares of under + over. [unit]"""
    short, left = expected_short(demand, quantity), expected_left(demand, quantity)
    return ratio * short + (1 - ratio) * left


def plan_load(
    known: Known, ratio: Ratio, stock: Stock, least: float = 0, own: int | None = None
) -> Load:
    """Return how many crates to load, the person's own figure above all.

    least: what should still lie on the table at the end; it is loaded on top. [unit] Before the
    first such market it is what is usually sold, in the nearest whole crates: the rule would
    shade a mere guess as if it were known. As long as every such market was sold out early, it is
    at least one crate more than the largest load; with too few markets, what must move. Never
    more than there is, unless a person says so.
    Example: mean 26, deviation 6, ratio 2/3, crates of 12 → wanted 28.6, two crates
    """
    found = _by_demand(known, ratio, stock.crate, least)
    found = replace(found, figured=found.crates, figured_by=found.why)
    if own is not None:
        return replace(found, crates=own, why=Why.OWN)
    if found.crates < stock.must_move:
        found = replace(found, crates=stock.must_move, why=Why.MUST_MOVE)
    if found.crates > stock.crates:
        found = replace(found, crates=stock.crates, why=Why.NO_MORE_THERE)
    return found


def _by_demand(known: Known, ratio: Ratio, crate: Decimal, least: float) -> Load:
    if ratio.value <= 0:
        return Load(0, Why.RULE, crate, ratio, known, least)
    if isinstance(known, AllSoldOut):
        return Load(_one_more(known.most, crate), Why.MORE, crate, ratio, known, least)
    if isinstance(known, TooFew):
        return Load(0, Why.TOO_FEW, crate, ratio, known, least)
    found = _by_rule(known, ratio, crate, least)
    if known.markets == 0:
        usual = math.floor((known.mean + least) / float(crate) + 0.5)
        return replace(found, crates=usual, why=Why.USUALLY)
    if known.gone_at is not None and found.crates < _one_more(known.gone_at, crate):
        return replace(found, crates=_one_more(known.gone_at, crate), why=Why.MORE)
    return found


def _by_rule(demand: Demand, ratio: Ratio, crate: Decimal, least: float) -> Load:
    """Return the crates next below or above what is wanted, whichever is expected to lose less."""
    wanted = quantile(demand, ratio.value) + least
    below = math.floor(wanted / float(crate))
    fewer, more = (
        expected_loss(demand, float(crates * crate) - least, ratio.value)
        for crates in (below, below + 1)
    )
    return Load(
        below if fewer <= more else below + 1,
        Why.RULE,
        crate,
        ratio,
        demand,
        least,
        sure=_NORMAL.inv_cdf(ratio.value),
        wanted=wanted,
        below=below,
        fewer_costs=fewer,
        more_costs=more,
    )


def _one_more(largest: float, crate: Decimal) -> int:
    return math.ceil(largest / float(crate)) + 1
