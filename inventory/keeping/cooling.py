"""Field heat: how produce cools towards the room's air, and what that costs.

T(t) = Tm + (T0 - Tm) · 2^(-t/z), z the half-cooling time: Thompson, "Precooling and Storage
Facilities", USDA Agriculture Handbook 66 (2016), pages 11-16.
"""

import math
from collections.abc import Callable, Sequence
from enum import StrEnum
from functools import lru_cache
from itertools import pairwise, takewhile
from typing import NamedTuple

from inventory.keeping.life import kinks_c, rate
from inventory.keeping.log import HOUR_S
from inventory.keeping.reference import Reference

# Room cooling of packed goods takes 20 to 100 h to seven-eighths (handbook 66, page 16, Table 1).
# A stated assumption at the quick end of it, until two probe readings show the crate's own.
DEFAULT_HALF_COOLING_H = 20 / 3
# A probe is reckoned back to the arrival over no more than this: over h hours the room's own swing
# and the probe's error grow 2^(h/z) times, so four times at most.
TELLING_HALVES = 2
# Cold so soon, it came in cold. Later, a crate that cools quicker than usual may be cold as well.
CAME_COLD_HALVES = 1
# As warm as a hot day's field; common practice, no source. Nothing is reckoned back to warmer.
HOTTEST_FIELD_C = 35.0
# After ten half-cooling times less than a thousandth of the difference is left.
DONE_AFTER_HALVES = 10
_STEPS_PER_HALF = 32


def pulp_c(start_c: float, air_c: float, half_cooling_h: float, hours: float) -> float:
    """Return the temperature inside the produce after some hours in the room. [°C]

    start_c: inside when it came in. air_c: of the room, steady. half_cooling_h: > 0. [h]
    Example: 30 °C into air of 0 °C, half-cooling time 2 h, after 6 h → 3.75 (seven-eighths)
    """
    return air_c + (start_c - air_c) * 2 ** (-hours / half_cooling_h)


def seven_eighths_h(half_cooling_h: float) -> float:
    """Return the seven-eighths cooling time, three half-cooling times. [h]"""
    return 3 * half_cooling_h


def hours_to(start_c: float, air_c: float, half_cooling_h: float, target_c: float) -> float | None:
    """Return the hours until the produce is at target_c; None if it never gets there. [h]

    Formula: t = z · log2((T0 - Tm)/(Ttarget - Tm)). Already there gives 0.
    Example: 30 °C into 0 °C, z 2 h, to 4 °C → 5.81
    """
    if start_c <= target_c:
        return 0.0
    if target_c <= air_c:
        return None
    return half_cooling_h * math.log2((start_c - air_c) / (target_c - air_c))


def half_cooling_h(start_c: float, later_c: float, air_c: float, hours: float) -> float | None:
    """Return the half-cooling time that two probe readings show; None if they show none. [h]

    hours: between the two readings, > 0. None when the produce did not cool towards the air.
    Example: 24 °C to 8 °C in 4 h in air of 0 °C → 2.52
    """
    if hours <= 0 or not air_c < later_c < start_c:
        return None
    return hours / math.log2((start_c - air_c) / (later_c - air_c))


class StartFrom(StrEnum):
    """Where the temperature inside at arrival comes from, in order of trust."""

    MEASURED = "measured"
    PROBES = "probes"
    ASSUMED = "assumed"


class Cooling(NamedTuple):
    """How a harvest cools. start: when it came in [s]. start_c: inside then; air_c: of the room.

    start_from: how start_c is known. measured: the half-cooling time comes from probes.
    probed_at: when the last of them was taken; None without any. [s]
    """

    start: float
    start_c: float
    air_c: float
    half_cooling_h: float
    measured: bool
    start_from: StartFrom
    probed_at: float | None = None

    @property
    def seven_eighths_at(self) -> float:
        return self.start + seven_eighths_h(self.half_cooling_h) * HOUR_S


def cooling_by(
    start: float,
    air_c: float,
    probes: Sequence[tuple[float, float]],
    *,
    pulp_c: float | None,
    assumed_c: float,
    usual_h: float,
) -> Cooling:
    """Return how a harvest cools: by its probes as far as they go, else as assumed.

    start: when it came in [s]. air_c: of the room. probes: (time, °C) inside, in order of time.
    pulp_c: inside at arrival, if measured; assumed_c: what is assumed if not. usual_h: the
    half-cooling time of its kind of crate. [h]
    The first and the last measurement above the air give the half-cooling time. One probe alone,
    or the first of several, tells by that time how warm it was at arrival, if it was taken soon
    enough.
    Example: 20 °C assumed, probes of 24 °C after 1 h and 8 °C after 5 h in air of 0 °C
    → half-cooling time 2.52 h, 31.6 °C at arrival
    """
    points = [*([(start, pulp_c)] if pulp_c is not None else []), *probes]
    shown = _shown_by(points, air_c)
    half_h = shown or usual_h
    told_c = _at_arrival(start, air_c, probes[0], half_h) if probes else None
    if pulp_c is not None:
        start_c, start_from = pulp_c, StartFrom.MEASURED
    elif told_c is not None:
        start_c, start_from = told_c, StartFrom.PROBES
    else:
        start_c, start_from = assumed_c, StartFrom.ASSUMED
    probed_at = probes[-1][0] if probes else None
    return Cooling(start, start_c, air_c, half_h, shown is not None, start_from, probed_at)


def _shown_by(points: Sequence[tuple[float, float]], air_c: float) -> float | None:
    """Return the half-cooling time that measurements show; None if they show none. [h]

    Once at the air's temperature, produce only follows the room's swing.
    """
    warm = list(takewhile(lambda point: point[1] > air_c, points))
    if not warm:
        return None
    (first_at, first_c), (last_at, last_c) = warm[0], warm[-1]
    return half_cooling_h(first_c, last_c, air_c, (last_at - first_at) / HOUR_S)


def _at_arrival(
    start: float, air_c: float, probe: tuple[float, float], half_h: float
) -> float | None:
    """Return how warm it was inside at arrival by a later probe; None if it came too late. [°C]

    No warmer than a hot field, or than the probe itself found it. What it finds at the air's
    temperature at once came in cold.
    """
    at, celsius = probe
    halves = max(at - start, 0.0) / HOUR_S / half_h
    if celsius <= air_c:
        return celsius if halves <= CAME_COLD_HALVES else None
    if halves > TELLING_HALVES:
        return None
    return min(air_c + (celsius - air_c) * 2**halves, max(HOTTEST_FIELD_C, celsius))


@lru_cache(maxsize=4096)
def extra_aging_days(
    reference: Reference, start_c: float, air_c: float, half_cooling: float, hours: float
) -> float:
    """Return how much more a crop ages while it cools than at the air's temperature. [d]

    start_c: inside when it came in. air_c: of the room, steady. half_cooling: > 0. [h]
    hours: since it came in. The result is in days at rate 1.
    Formula: integral of rate(T(t)) - rate(air) dt, by Simpson's rule between the kinks that
    published points and Q10 bands put into the rate.
    """
    if start_c <= air_c or hours <= 0:
        return 0.0
    end_h = min(hours, DONE_AFTER_HALVES * half_cooling)
    crossings = (hours_to(start_c, air_c, half_cooling, kink) for kink in kinks_c(reference))
    inside = {hour for hour in crossings if hour is not None and 0 < hour < end_h}
    base = rate(reference, air_c)

    def extra(hour: float) -> float:
        return rate(reference, pulp_c(start_c, air_c, half_cooling, hour)) - base

    spans = pairwise([0.0, *sorted(inside), end_h])
    return sum(_simpson(extra, start, end, half_cooling) for start, end in spans) / 24


def _simpson(
    function: Callable[[float], float], start: float, end: float, half_cooling: float
) -> float:
    steps = 2 * math.ceil((end - start) / half_cooling * _STEPS_PER_HALF / 2)
    width = (end - start) / steps
    inner = sum(
        (4 if index % 2 else 2) * function(start + index * width) for index in range(1, steps)
    )
    return (function(start) + inner + function(end)) * width / 3
