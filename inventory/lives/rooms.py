"""One room's log with the curves made of it: what the clocks of crates read. Pure."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from itertools import pairwise

from inventory.keeping import AgingCurve, Reference, RoomLog, rate
from inventory.keeping.chilling import cold_degrees, injury_speed, is_frozen, is_too_cold
from inventory.keeping.log import DAY_S, Band

RECENT_S = 3 * DAY_S

# How fast each clock runs at a temperature, in its days per day.
CLOCKS: dict[str, Callable[[Reference, float], float]] = {
    "aging": rate,
    "injury": injury_speed,
    "exposure": is_too_cold,
    "cold degrees": cold_degrees,
    "frozen": is_frozen,
}
COLD_CLOCKS = frozenset({"injury", "exposure", "cold degrees", "frozen"})


@dataclass(frozen=True)
class LoggedRoom:
    """One room's log from a moment on, at a version, with the curves made of it.

    targets: (since, °C), what the room was to be kept at, in order of time. last_reading: the
    number up to which the log has all of the room's readings.

    Threads fill `curves` without a lock: two that need the same curve make it twice, and either
    is right.
    """

    room_id: int
    version: int
    from_s: float
    log: RoomLog
    targets: tuple[tuple[float, float], ...] = ()
    last_reading: int = 0
    curves: dict[tuple[str, str], AgingCurve] = field(default_factory=dict)

    def curve(self, reference: Reference, clock: str) -> AgingCurve:
        key = (reference.key, clock)
        if key not in self.curves:
            speed = partial(CLOCKS[clock], reference)
            # An assumed freezing point in an assumed cold would be no reason to stop a sale.
            assumed = clock == "frozen" and reference.freezing_c is None
            self.curves[key] = AgingCurve(self.log, speed, clock in COLD_CLOCKS, assumed)
        return self.curves[key]

    @property
    def coldest_c(self) -> float:
        """The coldest that ever counts in this log. [°C]"""
        return min(min(self.log.coldest_c, default=math.inf), self.log.target_c)

    def bands(self, start: float, end: float, apart_c: float) -> list[Band]:
        """Return between which temperatures the room was to be in a span. apart_c: tolerance."""
        inside = [since for since, _ in self.targets if start < since < end]
        return [
            (since, until, target_c - apart_c, target_c + apart_c)
            for since, until in pairwise([start, *inside, end])
            for target_c in [target_at(self.targets, since)]
        ]

    def mean_c(self, start: float, end: float) -> float:
        """Return the mean temperature over a span, from a curve of degrees. [°C]"""
        return self._own("degrees", float).between(start, end) / (end - start) * DAY_S

    def measured_share(self, start: float, end: float) -> float:
        """Return the share of a span that was measured, 0 to 1."""
        known = self._own("measured", _one, measured_only=True)
        return known.between(start, end) / (end - start) * DAY_S

    def _own(
        self, name: str, speed: Callable[[float], float], measured_only: bool = False
    ) -> AgingCurve:
        """Return a curve of the room itself, whatever stands in it."""
        key = ("", name)
        if key not in self.curves:
            self.curves[key] = AgingCurve(self.log, speed, measured_only=measured_only)
        return self.curves[key]


def _one(celsius: float) -> float:
    return 1.0


def target_at(targets: Sequence[tuple[float, float]], moment: float) -> float:
    """Return the target in force at a moment; before the first it is the first. [°C]"""
    past = [celsius for since, celsius in targets if since <= moment]
    return past[-1] if past else targets[0][1]


def is_known(room: LoggedRoom, now: float) -> bool:
    """Return whether most of the last three days was measured, so that they speak for the next."""
    return room.measured_share(now - RECENT_S, now) >= 0.5


def recent_mean(room: LoggedRoom, now: float) -> tuple[float, bool]:
    """Return a room's mean of the last three days if mostly measured, else what counts now."""
    if not is_known(room, now):
        return room.log.at_moment(now).celsius, False
    return room.mean_c(now - RECENT_S, now), True


def recent_speed(room: LoggedRoom, reference: Reference, clock: str, now: float) -> float:
    """Return how fast a clock runs in a room by its last three days, in its days per day.

    The mean of the rate, not the rate at the mean: warm hours cost more than cold ones save.
    Where most of those days is unknown it runs as at what counts now.
    """
    if not is_known(room, now):
        knot = room.log.at_moment(now)
        celsius = knot.coldest_c if clock in COLD_CLOCKS else knot.celsius
        return float(CLOCKS[clock](reference, celsius))
    return room.curve(reference, clock).between(now - RECENT_S, now) / (RECENT_S / DAY_S)
