"""The second clock of chilling-sensitive crops: days in the cold against days to injury.

Injury depends on both temperature and time and can add up: Wang, "Chilling and Freezing
Injury", USDA Agriculture Handbook 66 (2016), pages 62-64.
"""

import math
from collections.abc import Iterable
from functools import lru_cache
from itertools import pairwise

from inventory.keeping.life import life_days
from inventory.keeping.reference import Reference

ASSUMED_FREEZING_C = -0.2
# A crop whose days to injury nobody published is to be looked at after a day in the cold, and
# again once it has been colder for as long once more, two days at least (ours, no source).
LOOK_AFTER_DAYS, LOOK_AGAIN_AFTER_DAYS = 1.0, 2.0
# A store can normally be held only to about ±1 °C (handbook 66, 2016).
TOLERANCE_C = 1.0


def is_too_cold(reference: Reference, temperature_c: float) -> bool:
    """Return whether this cold counts as exposure: below the lowest safe temperature by 1 °C."""
    return reference.chilling_c is not None and temperature_c < reference.chilling_c - TOLERANCE_C


def freezing_c(reference: Reference) -> float:
    """Return the crop's freezing point, assumed where none is published. [°C]

    What is assumed is warmer than nearly all published points, so that one is told in time.
    """
    published = reference.freezing_c
    return ASSUMED_FREEZING_C if published is None else published


def is_frozen(reference: Reference, temperature_c: float) -> bool:
    """Return whether the crop is at or below its freezing point, published or assumed."""
    return temperature_c <= freezing_c(reference)


def cold_degrees(reference: Reference, temperature_c: float) -> float:
    """Return the temperature where it counts as exposure, else 0: for the mean of an exposure."""
    return temperature_c if is_too_cold(reference, temperature_c) else 0.0


def injury_days(reference: Reference, temperature_c: float) -> float | None:
    """Return the published days to chilling injury at a temperature, None if there are none. [d]

    Points are the entries of `other_lives` below the recommended range. Between them the
    logarithm is interpolated; colder than the coldest its days are kept, since nothing shows
    that more cold could take longer; warmer than the warmest no injury is counted (infinity).
    Example: eggplant (0 °C 1.5 days, 2.5 °C 4.5) at 2.5 °C → 4.5
    """
    points = published_injury(reference)
    if not points:
        return None
    if temperature_c <= points[0][0]:
        return points[0][1]
    for (cold, few), (milder, more) in pairwise(points):
        if temperature_c <= milder:
            share = (temperature_c - cold) / (milder - cold)
            days = math.exp(math.log(few) + share * (math.log(more) - math.log(few)))
            return min(days, more)  # rounding must not make the colder one last longer
    # Between the mildest published point and the safe temperature its days are kept: cautious.
    return points[-1][1] if is_too_cold(reference, temperature_c) else math.inf


def published_injury(reference: Reference) -> list[tuple[float, float]]:
    """Return (°C, days to injury), coldest first; empty when nothing is published."""
    if reference.chilling_c is None:
        return []
    return [pair for pair in reference.other_lives if pair[0] < reference.temp_low_c]


def injury_speed(reference: Reference, temperature_c: float) -> float:
    """Return the share of the days to injury used per day; 0 where none counts or is known."""
    days = injury_days(reference, temperature_c)
    if days is None or not is_too_cold(reference, temperature_c):
        return 0.0
    return 1 / days


def injury_used(reference: Reference, periods: Iterable[tuple[float, float]]) -> float | None:
    """Return the fraction of the days to injury used, None if no figure is published.

    periods: (days, temperature_c) pairs. At 1 or more, injury is to be expected.
    """
    if not published_injury(reference):
        return None
    return sum(days * injury_speed(reference, celsius) for days, celsius in periods)


def must_be_looked_at(exposure_days: float, looked_at_days: float | None) -> bool:
    """Return whether a crop without published days to injury must be looked at after its cold.

    exposure_days: spent too cold in all. looked_at_days: how many of them when somebody last
    looked and found it good, None if nobody has. [d]
    """
    if looked_at_days is None:
        return exposure_days >= LOOK_AFTER_DAYS
    return exposure_days >= looked_at_days + max(looked_at_days, LOOK_AGAIN_AFTER_DAYS)


def sound_days(
    reference: Reference, temperature_c: float, used: float = 0.0, hurt: float = 0.0
) -> float | None:
    """Return the days until decay or injury, whichever is first; below zero when past. [d]

    used, hurt: the shares used already of the keeping life and of the days to injury; what is
    hurt keeps no days at any temperature. None where the crop is too cold and no days to injury
    are published: callers then count at its lowest safe temperature, and say that it is not for
    the fridge.
    Example: eggplant at 4 °C, decay after 7 days, injury after 5.6 → 5.6
    Source: the lesser of `life_days` and `injury_days`.
    """
    decay, injury = _from_harvest(reference, temperature_c)
    if injury is None:
        return None
    unhurt = (1 - hurt) * injury if hurt < 1 else 0.0
    return min((1 - used) * decay, unhurt)


@lru_cache(maxsize=10_000)
def _from_harvest(reference: Reference, temperature_c: float) -> tuple[float, float | None]:
    """Return the days to decay and those to injury of what has used none of either. [d]"""
    return life_days(reference, temperature_c), days_to_injury(reference, temperature_c)


def days_to_injury(reference: Reference, temperature_c: float) -> float | None:
    """Return the days to injury; infinite where it is not too cold, None where none are known."""
    if not is_too_cold(reference, temperature_c):
        return math.inf
    return injury_days(reference, temperature_c)
