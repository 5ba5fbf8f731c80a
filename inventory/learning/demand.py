"""What is asked for at a market on such a day, from days that were sold out in part.

Quantities are in the unit the crop is sold in, whatever it is; all of one call in the same one.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

# What lies further back tells of another season. Ours.
LAST_MARKETS = 12
# Two days have a spread by accident. Ours.
FEWEST_MARKETS = 3
# The farm's own "usually sells" counts as three days, at these shares of it. Ours.
USUALLY_DAYS = (0.7, 1.0, 1.3)
_STEPS, _CLOSE = 100, 1e-10
_FAR = 30.0  # deviations: beyond, the normal's tail is read from its first terms


class Weather(StrEnum):
    """What kind of market day it was, or will be: the rain and the heat, or the holiday."""

    USUAL = "usual"
    POOR = "poor"
    STRONG = "strong"


class SoldOut(StrEnum):
    """Whether all was gone before people went home; UNSAID where nobody said."""

    UNSAID = ""
    NO = "no"
    END = "end"
    EARLY = "early"


@dataclass(frozen=True)
class Asked:
    """What was asked for of one crop on one market day: just so much, or at least so much. [unit]

    Raises ValueError for a quantity below 0.
    """

    quantity: float
    at_least: bool = False
    weather: Weather = Weather.USUAL

    def __post_init__(self) -> None:
        if not 0 <= self.quantity < math.inf:
            raise ValueError(f"nobody asks for {self.quantity}")


@dataclass(frozen=True)
class Demand:
    """What will be asked for on such a day: a normal distribution. [unit]

    markets: how many days it rests on; sold_out: of how many of them only "at least" is known;
    usually: the farm's own figure it leans on, None where there is none. gone_at: the largest
    quantity that was sold out, where every day was sold out early, else None.
    """

    mean: float
    deviation: float
    markets: int
    sold_out: int
    usually: float | None = None
    gone_at: float | None = None


@dataclass(frozen=True)
class AllSoldOut:
    """Every day was sold out early: how much is asked for nobody knows, only more than this.

    most: the largest quantity that was sold out. [unit]
    """

    most: float
    markets: int


@dataclass(frozen=True)
class TooFew:
    """Too few such days to say anything."""

    markets: int


Known = Demand | AllSoldOut | TooFew


def asked_for(sold: float, back: float, said: SoldOut, weather: Weather = Weather.USUAL) -> Asked:
    """Return what a closed market day tells of what was asked for. [unit]

    Sold out at the end counts as just so much. Where nothing came back and nobody said when it
    was gone, it may have been early: at least so much.
    Example: 40 sold, none back, early → at least 40; 34 sold, 6 back → just 34
    """
    unsaid = said == SoldOut.UNSAID and back <= 0
    return Asked(sold, said == SoldOut.EARLY or unsaid, weather)


def demand(
    days: Sequence[Asked], usually: float | None = None, ahead: Weather = Weather.USUAL
) -> Known:
    """Return what is asked for on a day like the one ahead. [unit]

    days: the closed market days of one crop, the latest last; those of another weather stay out,
    and of the rest the last 12 count. usually: what the farm says it sells on a usual day, ≥ 0;
    leaned on for a usual day only, as on three days at 0.7, 1 and 1.3 of it.
    Formula: the most likely normal distribution where a day known as "at least" counts with the
    share above it, see fit_normal; its deviation widened to that of a day still to come by
    √((n + 1) / (n - 1)), n being all days, the three among them: n - 1 for a spread taken about
    its own mean, 1 + 1/n for a mean that is not known any better.
    Limits: a normal distribution has a share below 0, which matters where the deviation comes to
    half the mean.
    Example: 18 22 27 21 and at least 25 30 30, leaning on 25 → about 26 give or take 6
    """
    alike = [day for day in days if day.weather == ahead][-LAST_MARKETS:]
    leaned_on = usually if ahead == Weather.USUAL else None
    exact = [day.quantity for day in alike if not day.at_least]
    at_least = [day.quantity for day in alike if day.at_least]
    gone_at = max(at_least) if at_least and not exact else None
    if leaned_on is None and gone_at is not None:
        return AllSoldOut(gone_at, len(alike))
    if leaned_on is None and len(alike) < FEWEST_MARKETS:
        return TooFew(len(alike))
    if leaned_on is not None:
        exact += [share * leaned_on for share in USUALLY_DAYS]
    mean, deviation = fit_normal(exact, at_least)
    number = len(exact) + len(at_least)
    wider = math.sqrt((number + 1) / (number - 1))
    return Demand(mean, wider * deviation, len(alike), len(at_least), leaned_on, gone_at)


def fit_normal(exact: Sequence[float], at_least: Sequence[float] = ()) -> tuple[float, float]:
    """Return mean and deviation of the most likely normal distribution. [unit]

    exact: at least one figure; at_least: figures of which only that they were reached is known.
    Formula: maximum of sum log φ((x - m)/s)/s + sum log(1 - Φ((c - m)/s)) by Newton's steps in
    m/s and 1/s, in which it has one hill and no other. Without at_least these are the mean and
    the root of the mean square about it. Where all are alike and nothing reached further, the
    deviation is 0. Raises ValueError where nothing is exact: no such maximum exists.
    Source: Olsen, Econometrica 46:1211-1215, 1978, for the one hill (from memory).
    Example: (18, 22, 25, 21, 27), (25, 30, 30) → 26.248, 5.746
    """
    if not exact:
        raise ValueError("nothing is known exactly")
    middle = math.fsum(exact) / len(exact)
    spread = math.sqrt(math.fsum((figure - middle) ** 2 for figure in exact) / len(exact))
    if not at_least:
        return middle, spread
    furthest = max(at_least) - middle
    if spread == 0 and furthest <= 0:
        return middle, 0.0
    # Figures of about one, around nought: the steps are then the same for bunches and for tons.
    scale = max(spread, furthest)
    hill = _Hill(len(exact), (spread / scale) ** 2, [(c - middle) / scale for c in at_least])
    place, slope = hill.top()
    return middle + scale * place / slope, scale / slope


@dataclass(frozen=True)
class _Hill:
    """The log-likelihood over a = m/s and b = 1/s; of the exact figures the mean is nought."""

    number: int
    square: float  # mean square of the exact figures
    at_least: Sequence[float]

    def top(self) -> tuple[float, float]:
        a, b = 0.0, 1.0
        height = self.height(a, b)
        for _ in range(_STEPS):
            step_a, step_b, gain = self.step(a, b)
            if gain < _CLOSE:
                return a + step_a, b + step_b
            share = 1.0
            while (higher := self.height(a + share * step_a, b + share * step_b)) < height:
                share /= 2
                if share < _CLOSE:
                    return a, b
            a, b, height = a + share * step_a, b + share * step_b, higher
        return a, b

    def height(self, a: float, b: float) -> float:
        if b <= 0:
            return -math.inf
        exact = math.log(b) - (b * b * self.square + a * a) / 2
        return self.number * exact + sum(_log_above(b * figure - a) for figure in self.at_least)

    def step(self, a: float, b: float) -> tuple[float, float, float]:
        """Return Newton's step in a and in b, and twice what it promises to gain."""
        n, square = self.number, self.square
        up_a, up_b = -n * a, n * (1 / b - b * square)
        aa, ab, bb = float(n), 0.0, n * (1 / b**2 + square)
        for figure in self.at_least:
            at = b * figure - a
            pull = _pull(at)
            bend = pull * (pull - at)
            up_a, up_b = up_a + pull, up_b - figure * pull
            aa, ab, bb = aa + bend, ab - figure * bend, bb + figure * figure * bend
        size = aa * bb - ab * ab
        step_a, step_b = (bb * up_a - ab * up_b) / size, (aa * up_b - ab * up_a) / size
        return step_a, step_b, step_a * up_a + step_b * up_b


def _log_above(at: float) -> float:
    """Return the logarithm of the normal's share above so many deviations."""
    if at > _FAR:
        return -at * at / 2 - math.log(at * math.sqrt(math.tau))
    return math.log(math.erfc(at / math.sqrt(2)) / 2)


def _pull(at: float) -> float:
    """Return the normal's density over its share above so many deviations, > 0."""
    if at > _FAR:
        return at + 1 / at
    return math.exp(-at * at / 2) * math.sqrt(2 / math.pi) / math.erfc(at / math.sqrt(2))
