"""Days left for a whole cold room: curves against a naive integration, in one run.

    .venv/bin/python -m tests.bench.bench_life

One year of readings every ten minutes, every crop of the reference, 5,000 live crates cut in
the last 60 days. Prints milliseconds and ratios; asserts nothing.
"""

import random
import time
from itertools import cycle, islice

from inventory.keeping import AgingCurve, RoomLog, life_days, load_reference, rate
from inventory.keeping.log import DAY_S, Measurement

STEP_S = 600
LOTS, LIVE_DAYS, NAIVE_LOTS = 5000, 60, 40


def made_log(years: int, end: float) -> RoomLog:
    chance = random.Random(1)
    count = int(years * 365 * DAY_S / STEP_S)
    start = end - count * STEP_S
    readings = (
        Measurement(start + number * STEP_S, round(3 + chance.gauss(0, 0.8), 1))
        for number in range(count)
    )
    return RoomLog(2.0, readings)


def made_lots(end: float):
    chance = random.Random(2)
    crops = islice(cycle(list(load_reference().values())[:120]), LOTS)
    return [(crop, end - chance.uniform(0, LIVE_DAYS) * DAY_S) for crop in crops]


class Room:
    """What inventory.lives.logs keeps: a log from the oldest live crate on, and its curves."""

    def __init__(self, log: RoomLog, lots):
        oldest = min(start for _, start in lots) - 2 * DAY_S
        first = log.readings_from(oldest)
        self.log = RoomLog(2.0).with_tail(0, log, first)
        self.curves: dict[str, AgingCurve] = {}

    def curve(self, crop) -> AgingCurve:
        if crop.key not in self.curves:
            self.curves[crop.key] = AgingCurve(self.log, lambda celsius: rate(crop, celsius))
        return self.curves[crop.key]

    def days_left(self, lots, end: float) -> list[float]:
        here_c = 3.0
        return [
            (1 - self.curve(crop).between(start, end) / crop.base_days) * life_days(crop, here_c)
            for crop, start in lots
        ]


def naive(log: RoomLog, lots, end: float) -> list[float]:
    found = []
    for crop, start in lots:
        aged = sum(
            (to - at) / DAY_S * rate(crop, celsius) for at, to, celsius, _ in log.steps(start, end)
        )
        found.append((1 - aged / crop.base_days) * life_days(crop, 3.0))
    return found


def timed(function, *args):
    start = time.perf_counter()
    answer = function(*args)
    return (time.perf_counter() - start) * 1000, answer


def main() -> None:
    end = 1.8e9
    lots = made_lots(end)
    figures = {}
    for years in (1, 5):
        log = made_log(years, end)
        cold, room = timed(Room, log, lots)
        first, _ = timed(room.days_left, lots, end)
        warm = min(timed(room.days_left, lots, end)[0] for _ in range(5))
        figures[years] = (cold + first, warm)
        print(
            f"{years} year(s), {len(log.at)} knots, {len(room.curves)} crops: "
            f"cold {cold + first:.0f} ms, warm {warm:.1f} ms"
        )
    print(
        f"five years against one: cold {figures[5][0] / figures[1][0]:.2f} times, "
        f"warm {figures[5][1] / figures[1][1]:.2f} times"
    )
    log = made_log(1, end)
    room = Room(log, lots)
    few = lots[:NAIVE_LOTS]
    slow, exact = timed(naive, log, few, end)
    curves = room.days_left(few, end)
    worst = max(abs(a - b) for a, b in zip(exact, curves, strict=True))
    slow_all = slow / NAIVE_LOTS * LOTS
    print(f"naive: {slow:.0f} ms for {NAIVE_LOTS} crates, so {slow_all / 1000:.1f} s for {LOTS}")
    print(
        f"curves are {slow_all / figures[1][1]:.0f} times as fast; largest difference {worst:.1e} d"
    )
    room.days_left(lots, end)
    one_more, _ = timed(add_one, room, end)
    print(f"one reading more, all {len(room.curves)} curves: {one_more:.2f} ms")


def add_one(room: Room, end: float) -> None:
    fresh = RoomLog(2.0, [Measurement(end + STEP_S, 3.1)])
    length = len(room.log.at) - 1
    room.log = room.log.with_tail(length, fresh, 0)
    room.curves = {key: curve.regrown(room.log, length) for key, curve in room.curves.items()}


if __name__ == "__main__":
    main()
