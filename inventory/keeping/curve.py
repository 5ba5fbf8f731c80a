"""One cumulative curve per room and crop: a crate's use of life is two points of it.

All crates in a room share its temperatures, so the integral is made once; a thousand crates
then cost a thousand pairs of look-ups.
"""

from array import array
from collections.abc import Callable

from inventory.keeping.log import DAY_S, RoomLog


class AgingCurve:
    """Days at rate 1 that pass in a room, from its first knot on.

    speed: rate of aging at a temperature (a crop's `rate`, or a chilling clock's).
    """

    def __init__(self, log: RoomLog, speed: Callable[[float], float]):
        self._log = log
        self._speed = speed
        self._speeds: dict[float, float] = {}
        self._sums = array("d")
        self.extend()

    def extend(self) -> None:
        """Take up the knots the log has gained since."""
        at, celsius, sums = self._log.at, self._log.celsius, self._sums
        if not at:
            return
        if not sums:
            sums.append(0.0)
        total = sums[-1]
        speed = self.speed_at
        for index in range(len(sums), len(at)):
            total += (at[index] - at[index - 1]) / DAY_S * speed(celsius[index - 1])
            sums.append(total)

    def cut(self, length: int) -> None:
        """Forget all but the first knots, before the log changes from there on."""
        del self._sums[length:]

    def between(self, start: float, end: float) -> float:
        """Return the days at rate 1 that pass between two moments. [d]"""
        return self._upto(end) - self._upto(start)

    def _upto(self, moment: float) -> float:
        log = self._log
        index = log.index(moment)
        if index < 0:
            first = log.at[0] if log.at else 0.0
            return (moment - first) / DAY_S * self.speed_at(log.target_c)
        since = (moment - log.at[index]) / DAY_S
        return self._sums[index] + since * self.speed_at(log.celsius[index])

    def speed_at(self, celsius: float) -> float:
        """Return the rate of aging at a temperature."""
        # Loggers write few different figures, so each is worked out once.
        found = self._speeds.get(celsius)
        if found is None:
            found = self._speeds[celsius] = self._speed(celsius)
        return found
