"""How long the farm's own crates keep, leaning on the handbook, and how sure that is."""

import math
import random
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import NormalDist, stdev

from inventory.learning.evidence import Harvest, Lasted
from inventory.learning.weibull import (
    EARLY,
    LATE,
    Fit,
    NoFit,
    Piece,
    Weibull,
    fit_pieces,
    handbook_weibull,
    pseudo_ages,
)

# Nobody can tell a crate's age closer than this, and the logarithm of nothing is none.
SHORTEST_DAYS = 1 / 24
# The shortest keeping days the owner's form takes.
SHORTEST_OFFER_DAYS = 1
INTERVAL = 0.8
# The handbook's ten ages count as two harvests of five crates.
HANDBOOK_HARVESTS = 2
DRAWS = 200
# Measured, not derived: tests/bench/bench_learning.py. See _widened.
WIDER = 1.1


@dataclass(frozen=True)
class Estimate:
    """What the record of a farm says of one crop. Ages at the best temperature. [d]

    low_days: lower end of the 80 % interval of the age by which one in ten has gone. high_days:
    the age by which nine in ten have gone. Both None where nothing of the farm's own was lost,
    or where no distribution fits. at_least: where nothing was lost, the oldest age at which a
    crate was still good. harvests, crates: how many of them told anything; harvests_gone: how
    many harvests lost a crate. middle_days, upper_days: the age by which one in ten has gone,
    and the upper end of its interval. curve: the distribution these are read from.
    """

    harvests: int
    crates: int
    harvests_gone: int
    at_least: float | None = None
    low_days: float | None = None
    middle_days: float | None = None
    upper_days: float | None = None
    high_days: float | None = None
    curve: Weibull | None = None

    @property
    def offer(self) -> float | None:
        """The keeping days a person may adopt: the cautious end, to the tenth below. [d]

        None below a day: no keeping days can be shorter.
        """
        if self.low_days is None or self.low_days < SHORTEST_OFFER_DAYS:
            return None
        return math.floor(self.low_days * 10) / 10


def farm_estimate(
    harvests: Iterable[Harvest], handbook_low_days: float, handbook_high_days: float
) -> Estimate:
    """Return what these harvests say, leaning on the handbook as on ten exact ages. [d]

    harvests: at most some hundred crates; their order does not matter. handbook_low_days,
    handbook_high_days: the published range at the best temperature, 0 < low ≤ high.
    Formula: a Weibull fitted to all crates and to the handbook's ten ages; the age by which one
    in ten has gone; its interval by drawing whole harvests again and again, see _widened.
    Limits: the interval was tried on simulated farms of 6 and 20 harvests; a record that says
    little leaves the handbook standing, right or wrong. Where the farm's lives are far from the
    handbook's, leaning on both widens the spread, and low_days may come out below either. One
    harvest is taken to be like another, whatever the season. Ages below an hour count as one.
    Example: no harvest lost anything, the oldest crate left sound at 9 days → at_least 9, no
    offer; the words of a loss: "9 to 13 days (handbook 10 to 14), from 9 harvests, 41 crates; 2
    harvests gone" are low_days, high_days and the counts.
    """
    told = _in_order(harvests)
    counts = (len(told), sum(map(len, told)), sum(_any_gone(crates) for crates in told))
    if not any(map(_any_gone, told)):
        oldest = max((crate.fine_days for crates in told for crate in crates), default=None)
        return Estimate(*counts, at_least=oldest)
    handbook = handbook_weibull(handbook_low_days, handbook_high_days)
    groups = [[_piece(crate) for crate in crates] for crates in told]
    groups += _handbook_groups(handbook)
    try:
        whole = _fit(groups, [1] * len(groups), handbook)
    except NoFit:
        return Estimate(*counts)
    early = whole.age_at(EARLY)
    reach = math.exp(_widened(_deviation(groups, whole), counts[2]))
    return Estimate(
        *counts,
        low_days=early / reach,
        middle_days=early,
        upper_days=early * reach,
        high_days=whole.age_at(LATE),
        curve=whole,
    )


def _deviation(groups: Sequence[Sequence[Piece]], whole: Fit) -> float:
    """Return the standard deviation of the logarithm of the early age over draws of harvests.

    As many harvests as there are, the handbook's two among them, are drawn with replacement, so
    that what rests on one harvest, or on the handbook, is seen to. The same draws every time.
    Source: drawing clusters, ClusterBootstrap, Behav. Res. Methods 2019 (its abstract).
    """
    chance, drawn, number = random.Random(1), list[float](), len(groups)
    for _ in range(DRAWS):
        picked = Counter(chance.choices(range(number), k=number))
        times = [picked[index] for index in range(number)]
        try:
            drawn.append(math.log(_fit(groups, times, whole).age_at(EARLY)))
        except NoFit:
            continue  # a draw of sound crates alone says nothing of an end
    return stdev(drawn)


def _widened(deviation: float, harvests_gone: int) -> float:
    """Return half the width of the interval of the logarithm of the early age.

    harvests_gone: ≥ 1. Formula: 1.1 · sqrt(n / (n - 1)) · Student's quantile for n - 1, times
    the deviation, n being the harvests that lost a crate and the handbook's two: it is they that
    settle the figure. Why so wide: the middle eight in ten of the draws held the truth in 55 to
    75 of 100 simulated farms only, since few harvests spread less than they should, and draws lie
    closest together just where the estimate is too high. The deviation of the logarithms comes
    out right on average; Student and the root are for the few; the tenth on top is what it still
    took for 75 to 90 of 100. Example: deviation 0.1, 2 harvests → 0.208
    """
    number = harvests_gone + HANDBOOK_HARVESTS
    few = math.sqrt(number / (number - 1))
    return WIDER * few * _student(number - 1) * deviation


def _student(freedom: int) -> float:
    """Return Student's quantile for an 80 % interval, freedom ≥ 2.

    Formula: z + (z³ + z) / 4n + (5z⁵ + 16z³ + 3z) / 96n², z the normal's; within 2 % at 2, 1 %
    from 3 on. Example: 7 → 1.414. Source: Abramowitz and Stegun 26.7.5 (from memory).
    """
    z = NormalDist().inv_cdf((1 + INTERVAL) / 2)
    first = (z**3 + z) / 4
    second = (5 * z**5 + 16 * z**3 + 3 * z) / 96
    return z + first / freedom + second / freedom**2


def _fit(groups: Sequence[Sequence[Piece]], times: Sequence[int], start: Weibull) -> Fit:
    pieces = [piece for group in groups for piece in group]
    weights = [float(count) for group, count in zip(groups, times, strict=True) for _ in group]
    return fit_pieces(pieces, weights, start)


def _in_order(harvests: Iterable[Harvest]) -> list[list[Lasted]]:
    """Return the crates that tell anything, by harvest, in an order that is always the same."""
    told = [sorted(filter(_tells, harvest.crates), key=_age) for harvest in harvests]
    return sorted(filter(None, told), key=lambda crates: list(map(_age, crates)))


def _tells(crate: Lasted) -> bool:
    return crate.gone or crate.fine_days > 0


def _age(crate: Lasted) -> tuple[float, float]:
    return crate.fine_days, math.inf if crate.gone_days is None else crate.gone_days


def _any_gone(crates: Iterable[Lasted]) -> bool:
    return any(crate.gone for crate in crates)


def _piece(crate: Lasted) -> Piece:
    seen_fine = crate.fine_days > 0
    low = math.log(max(crate.fine_days, SHORTEST_DAYS)) if seen_fine else None
    if crate.gone_days is None:
        return Piece(low, None)
    high = math.log(max(crate.gone_days, SHORTEST_DAYS))
    return Piece(low, high)


def _handbook_groups(handbook: Weibull) -> list[list[Piece]]:
    """Return the handbook's ages dealt out in turn, so that each harvest of it spans the range."""
    ages = [Piece(math.log(age), math.log(age)) for age in pseudo_ages(handbook)]
    return [ages[number::HANDBOOK_HARVESTS] for number in range(HANDBOOK_HARVESTS)]
