"""One cumulative curve per room and crop: a crate's use of life is two points of it.

All crates in a room share its temperatures, so the integral is made once; a thousand crates
then cost a thousand pairs of look-ups.
"""

from array import array
from collections.abc import Callable

from inventory.keeping.log import DAY_S, RoomLog


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
        self._speed = speed
        self._speeds: dict[float, float] = {}
        self._sums = array("d")
        self._later = array("d")

    def regrown(self, log: RoomLog, length: int, later: int = 0) -> "AgingCurve":
        """Return the curve of a log that has this one's first knots, and this one's last.

        length: how many first ones. later: how many last ones. Only what is between is added up
        again, and not before it is asked; this curve stays as it is.
        """
        made = AgingCurve.__new__(AgingCurve)
        made._log, made._coldest = log, self._coldest
        made._celsius = log.coldest_c if self._coldest else log.celsius
        made._measured_only = self._measured_only
        made._speed, made._speeds = self._speed, self._speeds
        added_up = len(self._sums) == len(self._log.at)
        known = self._sums if added_up else self._later
        made._sums = self._sums[:length]
        made._later = known[max(len(known) - later, 0) :]
        return made

    def _add_up(self) -> None:
        """Add up the knots not yet in the sums.

        Of the last ones an earlier log's sums are known: they are so much more or less, all alike.
        """
        # Not in place: another thread may be adding up the same.
        at, celsius, sums = self._log.at, self._celsius, self._sums[:] or array("d", [0.0])
        later = self._later
        total, begin = sums[-1], len(at) - len(later)
        for index in range(len(sums), min(begin + 1, len(at))):
            days = (at[index] - at[index - 1]) / DAY_S
            if self._counts(index - 1):
                total += days * self.speed_at(celsius[index - 1])
            sums.append(total)
        left = len(at) - len(sums)
        if left > 0:
            more = total - later[-left - 1]
            sums.extend(before + more for before in later[-left:])
        self._sums, self._later = sums, array("d")

    def _counts(self, index: int) -> bool:
        return not self._measured_only or bool(self._log.measured[index])

    def between(self, start: float, end: float) -> float:
        """Return the days at rate 1 that pass between two moments. [d]"""
        return self.upto(end) - self.upto(start)

    def upto(self, moment: float) -> float:
        """Return the days at rate 1 from the first knot to a moment, below zero before it. [d]"""
        log = self._log
        if len(self._sums) < len(log.at):
            self._add_up()
        index = log.index(moment)
        if index < 0:
            first = log.at[0] if log.at else 0.0
            if self._measured_only:
                return 0.0
            return (moment - first) / DAY_S * self.speed_at(log.target_c)
        if self._measured_only and not log.measured[index]:
            return self._sums[index]
        since = (moment - log.at[index]) / DAY_S
        return self._sums[index] + since * self.speed_at(self._celsius[index])

    def speed_at(self, celsius: float) -> float:
        """Return the rate of aging at a temperature."""
        # Loggers write few different figures, so each is worked out once.
        found = self._speeds.get(celsius)
        if found is None:
            found = self._speeds[celsius] = self._speed(celsius)
        return found
