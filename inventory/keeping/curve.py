"""One cumulative curve per room and crop: a crate's use of life is two points of it.

All crates in a room share its temperatures, so the integral is made once; a thousand crates
then cost a thousand pairs of look-ups.
"""

from array import array
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from itertools import accumulate, islice, repeat
from operator import add, mul, sub, truediv

from inventory.keeping.log import DAY_S, RoomLog


@dataclass(frozen=True)
class _Sums:
    """The days up to each knot of a log: to the first ones, and to the last ones so much `more`."""

    first: array
    last: array
    more: float

    def __getitem__(self, knot: int) -> float:
        first = self.first
        return first[knot] if knot < len(first) else self.last[knot - len(first)] + self.more

    def whole(self) -> array:
        return self.first + array("d", map(add, self.last, repeat(self.more)))


class AgingCurve:
    """Days at rate 1 that pass in a room, from its first knot on.

    speed: rate of aging at a temperature (a crop's `rate`, or a chilling clock's). coldest: by
    the coldest thermometer of the room, as a chilling clock runs, not by the warmest.
    measured_only: what was assumed of the room counts for nothing.

    Added up when it is first asked: of a room's curves a request asks few. Threads do so without
    a lock: two that ask at once both add up, and either sum is right.
    """

    def __init__(
        self,
        log: RoomLog,
        speed: Callable[[float], float],
        coldest: bool = False,
        measured_only: bool = False,
    ):
        self._log = log
        self._coldest = coldest
        self._celsius = log.coldest_c if coldest else log.celsius
        self._measured_only = measured_only
        # Loggers write few different figures, so each is worked out once.
        self.speed_at = cache(speed)
        self._first = array("d")
        self._last = array("d")
        self._sums: _Sums | None = None

    def regrown(self, log: RoomLog, length: int, later: int = 0) -> "AgingCurve":
        """Return the curve of a log that has this one's first knots, and this one's last.

        length: how many first ones. later: how many last ones. Only what is between is added up
        again, and not before it is asked; this curve stays as it is.
        """
        made = AgingCurve.__new__(AgingCurve)
        made._log, made._coldest = log, self._coldest
        made._celsius = log.coldest_c if self._coldest else log.celsius
        made._measured_only = self._measured_only
        made.speed_at = self.speed_at
        first, last = self._first, self._last
        if self._sums is not None:
            first, last = self._sums.first, self._sums.last
            if len(first) < length or len(last) < later:
                first = last = self._sums.whole()
        made._first, made._last = first[:length], last[max(len(last) - later, 0) :]
        made._sums = None
        return made

    def _add_up(self) -> _Sums:
        """Add up the knots of which nothing is known yet.

        Of the last ones an earlier log's sums are: they are so much more or less, all alike.
        """
        # Not in place, and each read once: another thread may be done with the same meanwhile.
        first, last, knots = self._first[:], self._last, len(self._log.at)
        first = first or array("d", [0.0])
        until = min(knots - len(last) + 1, knots)
        first.extend(islice(accumulate(self._days(len(first), until), initial=first[-1]), 1, None))
        if not last:
            return _Sums(first, last, 0.0)
        last = last[len(first) - 1 - knots :]
        more = first.pop() - last[0]
        return _Sums(first, last, more)

    def _days(self, first: int, end: int) -> Iterator[float]:
        """Return the days at rate 1 that pass before each of some knots, from the knot before."""
        # Without a step of our own for each: a room has a hundred thousand, times its crops.
        at, before = self._log.at[first:end], slice(first - 1, max(end - 1, 0))
        days = map(truediv, map(sub, at, self._log.at[before]), repeat(DAY_S))
        passed = map(mul, days, map(self.speed_at, self._celsius[before]))
        return map(mul, passed, self._log.measured[before]) if self._measured_only else passed

    def between(self, start: float, end: float) -> float:
        """Return the days at rate 1 that pass between two moments. [d]"""
        return self.upto(end) - self.upto(start)

    def upto(self, moment: float) -> float:
        """Return the days at rate 1 from the first knot to a moment, below zero before it. [d]"""
        log = self._log
        index = log.index(moment)
        if index < 0:
            first = log.at[0] if log.at else 0.0
            if self._measured_only:
                return 0.0
            return (moment - first) / DAY_S * self.speed_at(log.target_c)
        if self._sums is None:
            self._sums = self._add_up()
            self._first = self._last = array("d")
        if self._measured_only and not log.measured[index]:
            return self._sums[index]
        since = (moment - log.at[index]) / DAY_S
        return self._sums[index] + since * self.speed_at(self._celsius[index])
