"""Simulated markets whose demand is known, for checking what the load rule learns from them.

What is asked for on a day is gamma distributed with a mean of 40, in whole bunches. A farm loads
whole crates of 12 for twelve markets, and knows of a day that was sold out early only how much it
had loaded. What a load is expected to lose is worked out from the gamma itself, so that what one
farm's luck sells does not stand between two ways of loading.

Losses are shares of the margin of the best constant load: what it sells on average, a bunch sold
being 1, which is under + over; the bunches are harvested already and cost nothing more. By this
measure last week's sales lose 4 to 23 %, as in the trial that set the limits below. Counted from
loading nothing at all the margin is a third to two thirds of it, and the shares grow so.
"""

import math
import random
from collections.abc import Callable, Iterator
from decimal import Decimal
from statistics import fmean, quantiles

from scipy import stats

from inventory.learning.demand import Asked, SoldOut, asked_for, demand
from inventory.rotation.loading import Ratio, Stock, plan_load

MEAN, CRATE, MARKETS = 40.0, 12, 12
SPREADS = (0.3, 0.5)
RATIOS = (0.35, 0.5, 0.7)
GUESSES = (1.0, 1.5, 0.5)
MOST_LOST = {1.0: 0.03, 1.5: 0.08, 0.5: 0.15}
MOST_CRATES = 20

Way = Callable[[list[Asked], float, float], int]


class Market:
    """One kind of market. ratio: of what one too few and one too many cost together, one too few.

    gains: what so many crates are expected to gain over none; margin: see above.
    """

    def __init__(self, spread: float, ratio: float):
        shape = 1 / spread**2
        self.spread, self.ratio, self.shape, self.scale = spread, ratio, shape, MEAN / shape
        days = stats.gamma(shape, scale=self.scale)
        most = MOST_CRATES * CRATE
        # Sold to the n-th bunch on the days on which at least n are asked for, rounded.
        enough = [days.sf(bunch - 0.5) for bunch in range(1, most + 1)]
        sold = [math.fsum(enough[: crates * CRATE]) for crates in range(MOST_CRATES + 1)]
        self.gains = [there - (1 - ratio) * crates * CRATE for crates, there in enumerate(sold)]
        self.best = max(self.gains)
        self.margin = sold[self.gains.index(self.best)]

    def draw(self, chance: random.Random) -> int:
        return round(chance.gammavariate(self.shape, self.scale))


def by_the_rule(days: list[Asked], usually: float, ratio: float) -> int:
    known = demand(days, usually)
    return plan_load(known, Ratio(ratio), Stock(Decimal(CRATE), MOST_CRATES)).crates


def as_last_week(days: list[Asked], usually: float, _ratio: float) -> int:
    """What was sold last in the nearest whole crates; for the first market, the guess."""
    return round((days[-1].quantity if days else usually) / CRATE)


def loss_of_a_farm(market: Market, chance: random.Random, way: Way, usually: float) -> float:
    """Return what a farm's twelve loads lose, as a share of the best constant load's margin."""
    days, lost = list[Asked](), 0.0
    for _ in range(MARKETS):
        crates = way(days, usually, market.ratio)
        lost += market.best - market.gains[min(crates, MOST_CRATES)]
        days.append(_closed(crates * CRATE, market.draw(chance)))
    return lost / MARKETS / market.margin


def _closed(loaded: int, wanted: int) -> Asked:
    sold = min(loaded, wanted)
    said = SoldOut.EARLY if wanted > loaded else SoldOut.END if wanted == loaded else SoldOut.NO
    return asked_for(sold, loaded - sold, said)


def losses(market: Market, guess: float, farms: int, way: Way) -> list[float]:
    """Return what each farm loses; the same days for every way of loading."""
    return [
        loss_of_a_farm(market, random.Random(f"{market.spread} {number}"), way, guess * MEAN)
        for number in range(farms)
    ]


def cells() -> Iterator[tuple[Market, float]]:
    for spread in SPREADS:
        for ratio in RATIOS:
            market = Market(spread, ratio)
            for guess in GUESSES:
                yield market, guess


def mean_and_worst_tenth(found: list[float]) -> tuple[float, float]:
    """Return the mean, and what one farm in ten loses more than."""
    return fmean(found), quantiles(found, n=10)[-1]
