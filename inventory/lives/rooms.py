"""One room's log with the curves made of it: what the clocks of crates read. Pure."""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial

from inventory.keeping import AgingCurve, Reference, RoomLog, rate
from inventory.keeping.chilling import injury_speed, is_frozen, is_too_cold
from inventory.keeping.log import DAY_S

RECENT_S = 3 * DAY_S

# How fast each clock runs at a temperature, in its days per day.
CLOCKS: dict[str, Callable[[Reference, float], float]] = {
    "aging": rate,
    "injury": injury_speed,
    "exposure": is_too_cold,
    "frozen": is_frozen,
}
COLD_CLOCKS = frozenset({"injury", "exposure", "frozen"})


@dataclass(frozen=True)
class LoggedRoom:
    """One room's log from a moment on, at a version, with the curves made of it.

    Threads fill `curves` without a lock: two that need the same curve make it twice, and either
    is right.
    """

    room_id: int
    target_c: float
    version: int
    from_s: float
    log: RoomLog
    curves: dict[tuple[str, str], AgingCurve] = field(default_factory=dict)

    def curve(self, reference: Reference, clock: str) -> AgingCurve:
        key = (reference.key, clock)
        if key not in self.curves:
            speed = partial(CLOCKS[clock], reference)
            self.curves[key] = AgingCurve(self.log, speed, coldest=clock in COLD_CLOCKS)
        return self.curves[key]

    @property
    def coldest_c(self) -> float:
        """The coldest that ever counts in this log. [°C]"""
        return min(min(self.log.coldest_c, default=self.target_c), self.target_c)

    def mean_c(self, start: float, end: float) -> float:
        """Return the mean temperature over a span, from a curve of degrees. [°C]"""
        key = ("", "degrees")
        if key not in self.curves:
            self.curves[key] = AgingCurve(self.log, float)
        return self.curves[key].between(start, end) / (end - start) * DAY_S


def recent_mean(room: LoggedRoom, now: float) -> tuple[float, bool]:
    """Return a room's mean of the last three days if mostly measured, else what counts now."""
    if room.log.measured_share(now - RECENT_S, now) < 0.5:
        return room.log.at_moment(now).celsius, False
    return room.mean_c(now - RECENT_S, now), True
