"""Simulated farms whose true keeping lives are known, for checking what is learned from them.

Harvests of five crates come in every few days; the farm sells less than it cuts, the oldest crate
first; now and then somebody looks at a crate, and what is found gone is thrown out. A life is a
Weibull life whose logarithm is half the harvest's and half the crate's own: a normal number for
the harvest and one for the crate, each with half the variance, are added, and the sum's share of
the normal is the share gone at which the crate's life ends.
"""

import math
import random
from collections.abc import Iterable
from statistics import NormalDist

from inventory.learning import Harvest, Lasted, Weibull, handbook_weibull

CRATES = 5
HANDBOOK = (10.0, 14.0)
_HOUR_OF_SALE = 0.3  # of a day: crates are looked at and sold some hours after they came in


def true_lives(share: float) -> Weibull:
    """The handbook's distribution with every life multiplied by a share."""
    handbook = handbook_weibull(*HANDBOOK)
    return Weibull(handbook.shape, handbook.scale * share)


def drawn_lives(
    chance: random.Random, truth: Weibull, harvests: int, shared: float = 0.5
) -> list[list[float]]:
    """Lives by harvest; shared is the part of the variance that a harvest has in common."""
    normal = NormalDist()
    lives = []
    for _ in range(harvests):
        common = math.sqrt(shared) * chance.gauss(0, 1)
        marks = [common + math.sqrt(1 - shared) * chance.gauss(0, 1) for _ in range(CRATES)]
        lives.append([truth.age_at(min(normal.cdf(mark), 1 - 1e-12)) for mark in marks])
    return lives


class _Standing:
    def __init__(self, harvest: int, came: float, life: float):
        self.harvest, self.came, self.life, self.fine = harvest, came, life, 0.0

    def end(self, day: float, sell: bool, look: bool) -> Lasted | None:
        """What the farm learns of the crate on a day, if it leaves."""
        age = day - self.came + _HOUR_OF_SALE
        if not (sell or look):
            return None
        if age >= self.life:
            return Lasted(self.fine, age)
        self.fine = age
        return Lasted(age) if sell else None


def simulated_farm(
    chance: random.Random, truth: Weibull, harvests: int, demand: tuple[float, float] = (0.3, 0.8)
) -> list[Harvest]:
    """One farm's record, until its last crate has left. demand: of what it cuts, from … to."""
    every = chance.choice([2, 3, 4])
    sold_a_day = chance.uniform(*demand) * CRATES / every
    lives = drawn_lives(chance, truth, harvests)
    cold_room = [
        _Standing(number, number * every, life)
        for number, harvest in enumerate(lives)
        for life in harvest
    ]
    left: dict[int, list[Lasted]] = {number: [] for number in range(harvests)}
    day = wanted = 0.0
    while cold_room:
        day += 1
        wanted += sold_a_day
        for crate in [crate for crate in cold_room if crate.came <= day]:
            ended = crate.end(day, wanted >= 1, chance.random() < 1 / 3)
            if ended:
                wanted -= not ended.gone
                left[crate.harvest].append(ended)
                cold_room.remove(crate)
    return [Harvest(tuple(crates)) for crates in left.values()]


def farm_with_a_loss(chance: random.Random, truth: Weibull, harvests: int, **how) -> list[Harvest]:
    """A farm whose record says something; one without any loss is offered nothing."""
    while True:
        farm = simulated_farm(chance, truth, harvests, **how)
        if any(crate.gone for harvest in farm for crate in harvest.crates):
            return farm


def seeds(farms: int, *setting: object) -> Iterable[random.Random]:
    return (random.Random(f"{setting} {number}") for number in range(farms))
