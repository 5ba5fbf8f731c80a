"""A room's temperature log: what held when, how far to trust it, and what stands out in it.

Times are seconds since 1970 (UTC), so that a year of readings stays quick to search.
"""

import math
from array import array
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from heapq import merge
from itertools import groupby
from operator import attrgetter, itemgetter

HOUR_S = 3600.0
DAY_S = 24 * HOUR_S
# How long a reading holds: a person reads twice a day (common practice, no source), a logger
# writes several times an hour; after that the room counts as unknown.
PERSON_HOLD_S = 14 * HOUR_S
LOGGER_HOLD_S = 2 * HOUR_S
COLDEST_C, WARMEST_C = -30.0, 50.0
_KINETIC_K = 10_000.0  # activation energy 83.144 kJ/mol over the gas constant, USP <1079.2>
_ZERO_C_IN_K = 273.15
# So long after a reading, once the room is known again, nothing of it counts any more: neither
# itself (14 h) nor in the mean of the day before a gap.
FORGOTTEN_S = 3 * DAY_S

BY_PERSON = ""


@dataclass(frozen=True)
class Measurement:
    """One reading: time, temperature [°C], how long it holds [s], and which sensor made it.

    sensor: a name, or BY_PERSON for what somebody read off a thermometer.
    """

    at: float
    celsius: float
    hold_s: float = LOGGER_HOLD_S
    sensor: str = "logger"


@dataclass(frozen=True)
class Knot:
    """From this moment on these temperatures count. measured: read, not assumed.

    celsius: of the warmest thermometer, by which produce ages. coldest_c: of the coldest, by
    which the cold harms it.
    """

    at: float
    celsius: float
    coldest_c: float
    measured: bool


@dataclass
class _Counting:
    """What counts in a room on the way through its readings.

    at: of the last reading or change. held: the readings that hold, by sensor. day: (time, °C) of
    the day before. gap_mean_c: the mean of the day before the room became unknown, None while it is
    known or never was.
    """

    target_c: float
    at: float = -math.inf
    held: dict[str, Measurement] = field(default_factory=dict)
    day: list[tuple[float, float]] = field(default_factory=list)
    gap_mean_c: float | None = None

    def knots(
        self, readings: Iterable[Measurement], changes: Iterable[tuple[float, float]] = ()
    ) -> Iterator[Knot]:
        """Yield when which temperatures begin to count, up to the last reading or change.

        readings: in order of time. Each holds until the next of its sensor, a person's until the
        next of any, and at most its own limit. After the last the room is unknown and the cautious
        assumption counts: the warmer of the target and the mean of the day before the gap.
        changes: (time, °C) from which on the room was to be kept at another temperature.
        """
        grouped = ((at, list(news)) for at, news in groupby(readings, attrgetter("at")))
        events: Iterable[tuple[float, list[Measurement] | float]] = merge(
            grouped, changes, key=itemgetter(0)
        )
        for at, event in events:
            self.at = at
            yield from self.run_out(at)
            if isinstance(event, list):
                yield self.take_up(at, event)
                continue
            self.target_c = event
            if not self.held:
                yield self.assumed(at)

    def copied(self) -> "_Counting":
        return replace(self, held=dict(self.held), day=list(self.day))

    def measured(self, at: float) -> Knot:
        figures = [reading.celsius for reading in self.held.values()]
        return Knot(at, max(figures), min(figures), True)

    def assumed(self, at: float) -> Knot:
        """The target, or the mean of the day before the gap where that was warmer."""
        celsius = self.target_c
        if self.gap_mean_c is not None:
            celsius = max(celsius, self.gap_mean_c)
        return Knot(at, celsius, celsius, False)

    def take_up(self, at: float, news: Sequence[Measurement]) -> Knot:
        self.held.pop(BY_PERSON, None)
        self.held |= {reading.sensor: reading for reading in news}
        knot = self.measured(at)
        while self.day and self.day[0][0] < at - DAY_S:
            self.day.pop(0)
        self.day.append((at, knot.celsius))
        self.gap_mean_c = None
        return knot

    def run_out(self, until: float) -> Iterator[Knot]:
        """Drop what holds no longer before a moment, and yield what counts from then on."""
        while self.held:
            ends_at = min(reading.at + reading.hold_s for reading in self.held.values())
            if ends_at >= until:
                return
            for reading in list(self.held.values()):
                if reading.at + reading.hold_s == ends_at:
                    del self.held[reading.sensor]
            if self.held:
                yield self.measured(ends_at)
            else:
                self.gap_mean_c = self._mean_before(ends_at)
                yield self.assumed(ends_at)

    def _mean_before(self, ends_at: float) -> float:
        last_day = [celsius for at, celsius in self.day if at >= ends_at - DAY_S]
        last_day = last_day or [self.day[-1][1]]
        return sum(last_day) / len(last_day)


class RoomLog:
    """The knots of one room. Before the first and without any, the target is assumed.

    target_c: the target before any of the changes. readings: in order of time. settled: how many
    knots stay whatever is read after the last reading.
    """

    def __init__(
        self,
        target_c: float,
        readings: Iterable[Measurement] = (),
        changes: Iterable[tuple[float, float]] = (),
    ):
        self.target_c = target_c
        self.at = array("d")
        self.celsius = array("d")
        self.coldest_c = array("d")
        self.measured = bytearray()
        self._read(_Counting(target_c), readings, changes)

    def _read(
        self,
        counting: _Counting,
        readings: Iterable[Measurement],
        changes: Iterable[tuple[float, float]] = (),
    ) -> None:
        self._add(counting.knots(readings, changes))
        self._counting, self.settled = counting, len(self.at)
        self._add(counting.copied().run_out(math.inf))

    def _add(self, found: Iterable[Knot]) -> None:
        for knot in found:
            self.at.append(knot.at)
            self.celsius.append(knot.celsius)
            self.coldest_c.append(knot.coldest_c)
            self.measured.append(knot.measured)

    @property
    def last_at(self) -> float:
        """The moment of the last reading, or change of target. [s]"""
        return self._counting.at

    def grown(self, readings: Iterable[Measurement]) -> "RoomLog":
        """Return the log with readings that came after its last; this one stays as it is."""
        made = self.with_tail(self.settled, self, len(self.at))
        made._read(self._counting.copied(), readings)
        return made

    def index(self, at: float) -> int:
        """Return the number of the knot that counts at a moment, -1 before the first."""
        return bisect_right(self.at, at) - 1

    def at_moment(self, at: float) -> Knot:
        """Return what counts at a moment."""
        index = self.index(at)
        if index < 0:
            return Knot(at, self.target_c, self.target_c, False)
        return self._knot(index)

    def _knot(self, index: int) -> Knot:
        return Knot(
            self.at[index],
            self.celsius[index],
            self.coldest_c[index],
            bool(self.measured[index]),
        )

    def steps(
        self, start: float, end: float, coldest: bool = False
    ) -> Iterator[tuple[float, float, float, bool]]:
        """Yield (from, to, °C, measured) over a span of time, of the warmest or coldest place."""
        figures = self.coldest_c if coldest else self.celsius
        index = self.index(start)
        at = start
        while at < end:
            following = self.at[index + 1] if index + 1 < len(self.at) else math.inf
            celsius = figures[index] if index >= 0 else self.target_c
            measured = bool(self.measured[index]) if index >= 0 else False
            to = min(following, end)
            if to > at:
                yield at, to, celsius, measured
            at, index = to, index + 1

    def is_within(self, start: float, end: float, low_c: float, high_c: float) -> bool:
        """Return whether nothing that counts in a span is beyond a band, measured or not."""
        first, last = self.index(start), self.index(end) + 1
        warm, cold = self.celsius[max(first, 0) : last], self.coldest_c[max(first, 0) : last]
        knots = min(cold, default=low_c) >= low_c and max(warm, default=high_c) <= high_c
        return knots and (first >= 0 or low_c <= self.target_c <= high_c)

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

    def first_measured(self, at: float) -> int:
        """Return the number of the first measured knot from a moment on, of none the length."""
        index = self.readings_from(at)
        while index < len(self.at) and not self.measured[index]:
            index += 1
        return index

    def with_tail(self, length: int, other: "RoomLog", first: int) -> "RoomLog":
        """Return a log of the first knots of this one and those of another from a number on.

        This one stays as it is: somebody may be reading it.
        """
        made = RoomLog(self.target_c)
        made.at = self.at[:length] + other.at[first:]
        made.celsius = self.celsius[:length] + other.celsius[first:]
        made.coldest_c = self.coldest_c[:length] + other.coldest_c[first:]
        made.measured = self.measured[:length] + other.measured[first:]
        made._counting, made.settled = other._counting, length + other.settled - first
        return made

    def first_differing(self, other: "RoomLog", start: int) -> int:
        """Return the number of the first knot from a number on that another log has otherwise, or
        has not."""
        both = min(len(self.at), len(other.at))
        return next((n for n in range(start, both) if self._knot(n) != other._knot(n)), both)

    def readings_from(self, start: float) -> int:
        """Return the number of the first knot at or after a moment."""
        return bisect_left(self.at, start)


def implausible(celsius: float) -> bool:
    """Return whether a reading is set aside: no cold room is colder or warmer. [°C]"""
    return not COLDEST_C <= celsius <= WARMEST_C


class Side(StrEnum):
    WARM = "warm"
    COLD = "cold"


@dataclass(frozen=True)
class Excursion:
    """A span outside the band. peak_c: its furthest temperature."""

    start: float
    end: float
    side: Side
    peak_c: float

    @property
    def hours(self) -> float:
        return (self.end - self.start) / HOUR_S


# From when to when a room is to be between which temperatures. [s, °C]
Band = tuple[float, float, float, float]


def excursions(
    log: RoomLog, start: float, end: float, low_c: float, high_c: float
) -> list[Excursion]:
    """Return the measured spans of a log below or above one band; see excursions_of."""
    return excursions_of(log, [(start, end, low_c, high_c)])


def excursions_of(log: RoomLog, bands: Sequence[Band]) -> list[Excursion]:
    """Return the measured spans of a log below or above its bands, in order of time.

    bands: one after the other, as the room's target was changed. Warm by the warmest
    thermometer, cold by the coldest: a room with two can be both at once.
    """
    warm = _joined(_beyond(log, bands, Side.WARM), Side.WARM, max)
    cold = _joined(_beyond(log, bands, Side.COLD), Side.COLD, min)
    return sorted([*warm, *cold], key=attrgetter("start"))


def _beyond(
    log: RoomLog, bands: Sequence[Band], side: Side
) -> Iterator[tuple[float, float, float]]:
    """Yield (from, to, °C) of the measured steps beyond the band on one side."""
    for start, end, low_c, high_c in bands:
        if log.is_within(start, end, low_c, high_c):
            continue
        for at, to, celsius, measured in log.steps(start, end, side == Side.COLD):
            beyond = celsius > high_c if side == Side.WARM else celsius < low_c
            if measured and beyond:
                yield at, to, celsius


def _joined(
    steps: Iterable[tuple[float, float, float]],
    side: Side,
    further: Callable[[float, float], float],
) -> list[Excursion]:
    """Return steps beyond a band as spans, neighbours joined."""
    found: list[Excursion] = []
    for start, end, celsius in steps:
        last = found[-1] if found else None
        if last and last.end == start:
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
