"""A room's temperature log: what held when, how far to trust it, and what stands out in it.

Times are seconds since 1970 (UTC), so that a year of readings stays quick to search.
"""

import math
from array import array
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

HOUR_S = 3600.0
DAY_S = 24 * HOUR_S
# How long a reading holds: a person reads twice a day (common practice, no source), a logger
# writes several times an hour; after that the room counts as unknown.
PERSON_HOLD_S = 14 * HOUR_S
LOGGER_HOLD_S = 2 * HOUR_S
COLDEST_C, WARMEST_C = -30.0, 50.0
_KINETIC_K = 10_000.0  # activation energy 83.144 kJ/mol over the gas constant, USP <1079.2>
_ZERO_C_IN_K = 273.15


@dataclass(frozen=True)
class Knot:
    """From this moment on this temperature counts. measured: read, not assumed."""

    at: float
    celsius: float
    measured: bool


def knots(readings: Iterable[tuple[float, float, float]], target_c: float) -> Iterator[Knot]:
    """Yield when which temperature begins to count.

    readings: (time, °C, seconds it holds) in order of time. Each holds until the next, at most
    its own limit; then the room is unknown and the cautious assumption counts: the warmer of
    the target and the mean of the day before the gap.
    """
    day: list[tuple[float, float]] = []
    ends_at = None
    for at, celsius, hold_s in readings:
        if ends_at is not None and at > ends_at:
            yield Knot(ends_at, _cautious(day, ends_at, target_c), False)
        while day and day[0][0] < at - DAY_S:
            day.pop(0)
        day.append((at, celsius))
        yield Knot(at, celsius, True)
        ends_at = at + hold_s
    if ends_at is not None:
        yield Knot(ends_at, _cautious(day, ends_at, target_c), False)


def _cautious(day: Sequence[tuple[float, float]], ends_at: float, target_c: float) -> float:
    last_day = [celsius for at, celsius in day if at >= ends_at - DAY_S] or [day[-1][1]]
    return max(target_c, sum(last_day) / len(last_day))


class RoomLog:
    """The knots of one room. Before the first and without any, the target is assumed."""

    def __init__(self, target_c: float, readings: Iterable[tuple[float, float, float]] = ()):
        self.target_c = target_c
        self.at = array("d")
        self.celsius = array("d")
        self.measured = bytearray()
        self.extend(readings)

    def extend(self, readings: Iterable[tuple[float, float, float]]) -> None:
        for knot in knots(readings, self.target_c):
            self.at.append(knot.at)
            self.celsius.append(knot.celsius)
            self.measured.append(knot.measured)

    def index(self, at: float) -> int:
        """Return the number of the knot that counts at a moment, -1 before the first."""
        return bisect_right(self.at, at) - 1

    def at_moment(self, at: float) -> Knot:
        """Return what counts at a moment."""
        index = self.index(at)
        if index < 0:
            return Knot(at, self.target_c, False)
        return Knot(self.at[index], self.celsius[index], bool(self.measured[index]))

    def steps(self, start: float, end: float) -> Iterator[tuple[float, float, float, bool]]:
        """Yield (from, to, °C, measured) over a span of time."""
        index = self.index(start)
        at = start
        while at < end:
            following = self.at[index + 1] if index + 1 < len(self.at) else math.inf
            celsius = self.celsius[index] if index >= 0 else self.target_c
            measured = bool(self.measured[index]) if index >= 0 else False
            to = min(following, end)
            if to > at:
                yield at, to, celsius, measured
            at, index = to, index + 1

    def measured_share(self, start: float, end: float) -> float:
        """Return the share of a span that was measured, 0 to 1."""
        known = sum(to - at for at, to, _, measured in self.steps(start, end) if measured)
        return known / (end - start) if end > start else 0.0

    def last_measured(self, at: float) -> int:
        """Return the number of the last measured knot up to a moment, 0 if there is none."""
        index = self.index(at)
        while index > 0 and not self.measured[index]:
            index -= 1
        return max(index, 0)

    def with_tail(self, length: int, other: "RoomLog", first: int) -> "RoomLog":
        """Return a log of the first knots of this one and those of another from a number on.

        This one stays as it is: somebody may be reading it.
        """
        made = RoomLog(self.target_c)
        made.at = self.at[:length] + other.at[first:]
        made.celsius = self.celsius[:length] + other.celsius[first:]
        made.measured = self.measured[:length] + other.measured[first:]
        return made

    def readings_from(self, start: float) -> int:
        """Return the number of the first knot at or after a moment."""
        return bisect_left(self.at, start)


def implausible(celsius: float) -> bool:
    """Return whether a reading is set aside: no cold room is colder or warmer. [°C]"""
    return not COLDEST_C <= celsius <= WARMEST_C


@dataclass(frozen=True)
class Excursion:
    """A span outside the band. side: "warm" or "cold"; peak_c: its furthest temperature."""

    start: float
    end: float
    side: str
    peak_c: float

    @property
    def hours(self) -> float:
        return (self.end - self.start) / HOUR_S


def excursions(
    steps: Iterable[tuple[float, float, float, bool]], low_c: float, high_c: float
) -> list[Excursion]:
    """Return the measured spans below or above the band, neighbours on one side joined."""
    found: list[Excursion] = []
    for start, end, celsius, measured in steps:
        side = "warm" if celsius > high_c else "cold" if celsius < low_c else ""
        if not measured or not side:
            continue
        last = found[-1] if found else None
        if last and last.side == side and last.end == start:
            further = max if side == "warm" else min
            found[-1] = Excursion(last.start, end, side, further(last.peak_c, celsius))
        else:
            found.append(Excursion(start, end, side, celsius))
    return found


def mean_kinetic_c(steps: Iterable[tuple[float, float]]) -> float:
    """Return the mean kinetic temperature of (duration, °C) pairs. [°C]

    Formula: T = (E/R) / -ln(Σ w exp(-E/(R T)) / Σ w), E/R = 10 000 K, T in kelvin.
    Raises ValueError without any duration. Example: 20 and 30 °C for equal times → 26.26
    Source: USP <1079.2>, a figure for medicines, used here for its arithmetic only.
    """
    total = weight = 0.0
    for duration, celsius in steps:
        total += duration * math.exp(-_KINETIC_K / (celsius + _ZERO_C_IN_K))
        weight += duration
    if weight <= 0:
        raise ValueError("no readings to take a mean of")
    return _KINETIC_K / -math.log(total / weight) - _ZERO_C_IN_K
