"""Rate of deterioration, keeping life, and the share of it that is used.

"Handbook" is USDA Agriculture Handbook 66 (2016), "Respiratory Metabolism", pages 68-69.
"""

import math
from collections.abc import Iterable
from functools import cache, lru_cache
from itertools import pairwise

from inventory.keeping.reference import Reference

# (upper edge in °C, factor per 10 °C): typical Q10 of the handbook's Table 2. The first and the
# last band go on outward.
Q10_BANDS = ((10.0, 3.0), (20.0, 2.5), (30.0, 2.0), (math.inf, 1.5))


@lru_cache(maxsize=10_000)
def rate(reference: Reference, temperature_c: float) -> float:
    """Return how many times faster the crop ages than at its recommended temperature.

    temperature_c: temperature of the produce. [°C]
    Result is 1 up to the upper end of the recommended range and never falls as it gets warmer:
    below the range nothing is gained, since chilling-sensitive crops are hurt there and for the
    others no published life says so.
    Above it, one method a crop: published lives at other temperatures; else published
    respiration, if two or more figures are given; else the handbook's Q10 bands. Between
    points the logarithm is interpolated; past the last point the Q10 bands go on.
    Example: apple at 20 °C, respiration 20 against 3 mg/(kg h) at 0 °C → 6.67
    Source: handbook, life runs opposite to respiration; points from crops.csv.
    """
    if temperature_c <= reference.temp_high_c:
        return 1.0
    return math.exp(_log_rate(_points(reference), temperature_c))


def life_days(reference: Reference, temperature_c: float) -> float:
    """Return the keeping life from harvest, held at one temperature throughout. [d]

    It counts with the farm's own life if set, else with the cautious end of the published range.
    Example: apple (90 to 180 days at 0 °C) at 20 °C → 90 · 3/20 = 13.5
    """
    return reference.base_days / rate(reference, temperature_c)


def life_used(reference: Reference, periods: Iterable[tuple[float, float]]) -> float:
    """Return the fraction of keeping life used; 1 or more is spent.

    periods: (days, temperature_c) pairs, days ≥ 0. [d, °C]
    Formula: sum of days / life at that temperature; the order of the periods does not matter.
    Raises ValueError for a negative duration.
    Example: 21 days at 0 °C, Q10 3, 2 days at 10 °C and 5 at 0 °C → 0.5238
    Source: additivity of keeping quality, Tijskens and Polderdijk 1996 (from memory).
    """
    used = 0.0
    for days, temperature_c in periods:
        if days < 0:
            raise ValueError(f"a period cannot last {days} days")
        used += days / life_days(reference, temperature_c)
    return used


@cache
def kinks_c(reference: Reference) -> tuple[float, ...]:
    """Return the temperatures at which the rate bends: its points and the Q10 bands. [°C]"""
    points = [celsius for celsius, _ in _points(reference)]
    bands = [upper for upper, _ in Q10_BANDS if points[-1] < upper < math.inf]
    return (*points, *bands)


def _log_rate(points: tuple[tuple[float, float], ...], temperature_c: float) -> float:
    """Interpolate ln(rate) in sorted (°C, ln rate) points; extend both ends with the bands."""
    first, last = points[0], points[-1]
    if temperature_c <= first[0]:
        return first[1] - _log_q10(temperature_c, first[0])
    for (cooler, low), (warmer, high) in pairwise(points):
        if temperature_c <= warmer:
            return low + (high - low) * (temperature_c - cooler) / (warmer - cooler)
    return last[1] + _log_q10(last[0], temperature_c)


@cache
def _points(reference: Reference) -> tuple[tuple[float, float], ...]:
    """Return (°C, ln rate) from the top of the recommended range upward, never falling."""
    best_c = reference.temp_high_c
    points = [(best_c, 0.0)]
    for temperature_c, log_rate in _published(reference):
        if temperature_c > best_c:
            points.append((temperature_c, max(log_rate, points[-1][1])))
    return tuple(points)


def _published(reference: Reference) -> list[tuple[float, float]]:
    """Return the published (°C, ln rate) figures of the best method this crop has."""
    lives = [pair for pair in reference.other_lives if pair[0] >= reference.temp_low_c]
    if lives:
        midpoint = (reference.life_low_days + reference.life_high_days) / 2
        return [(temperature_c, math.log(midpoint / days)) for temperature_c, days in lives]
    if len(reference.respiration) >= 2:
        logs = tuple((column, math.log(figure)) for column, figure in reference.respiration)
        at_best = _log_rate(logs, reference.temp_high_c)
        return [(column, figure - at_best) for column, figure in logs]
    return []


def _log_q10(from_c: float, to_c: float) -> float:
    """Return ln of the handbook's factor between two temperatures, from_c ≤ to_c."""
    total, lower = 0.0, -math.inf
    for upper, q10 in Q10_BANDS:
        width = min(to_c, upper) - max(from_c, lower)
        total += max(width, 0.0) / 10 * math.log(q10)
        lower = upper
    return total
