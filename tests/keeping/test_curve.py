"""One cumulative curve against sums by hand and a general integrator."""

import random
from itertools import pairwise

import pytest
from scipy.integrate import quad

from inventory.keeping import AgingCurve, RoomLog, load_reference, rate
from inventory.keeping.curve import _Sums
from inventory.keeping.log import DAY_S, HOUR_S, Measurement

KALE = load_reference()["kale"]
# A logger's reading holds two hours, so after hour 3 the room is unknown and 4 °C counts.
READINGS = [(1, 10.0), (2, 1.0), (3, 7.0)]
TARGET_C = 4.0


def log(*readings, target_c: float = TARGET_C, changes=()) -> RoomLog:
    """A room with (hours, °C) or (hours, °C, sensor) readings."""
    taken = [
        Measurement(hour * HOUR_S, celsius, sensor=(*name, "logger")[0])
        for hour, celsius, *name in readings
    ]
    return RoomLog(target_c, taken, [(hour * HOUR_S, celsius) for hour, celsius in changes])


def degree_hours(curve: AgingCurve, start: float, end: float) -> float:
    return curve.between(start * HOUR_S, end * HOUR_S) * DAY_S / HOUR_S


@pytest.mark.parametrize(
    ("start", "end", "expected"),
    [
        (1, 2, 10),
        (1, 3, 11),
        (1.5, 2.5, 5.5),
        (2, 2, 0),
        (-3, 1, 16),  # before the first reading the target counts
        (-5, -3, 8),
        (0.5, 1.5, 2 + 5),
        (3, 5, 14),
        (5, 6, 6),  # unknown: the mean of the day before, (10 + 1 + 7) / 3, is warmer than 4
        (1, 6, 10 + 1 + 14 + 6),
    ],
)
def test_degrees_add_up(start, end, expected):
    """Worked by hand: each reading holds until the next."""
    curve = AgingCurve(log(*READINGS), float)
    assert degree_hours(curve, start, end) == pytest.approx(expected)


def test_without_any_reading_the_target_counts_throughout():
    assert degree_hours(AgingCurve(log(), float), 3, 8) == pytest.approx(5 * TARGET_C)


def test_what_is_assumed_counts_for_nothing_where_only_what_was_measured_does():
    """Measured from hour 1 to two hours after the last reading, at 3."""
    curve = AgingCurve(log(*READINGS), lambda celsius: 1.0, measured_only=True)
    spans = [(-9, 1), (1, 2), (0, 9), (4.5, 9), (5, 9), (-9, 9)]
    assert [degree_hours(curve, *span) for span in spans] == pytest.approx([0, 1, 4, 0.5, 0, 4])


def test_measured_again_after_a_gap_it_counts_again():
    curve = AgingCurve(log((0, 1), (9, 1)), lambda celsius: 1.0, measured_only=True)
    assert degree_hours(curve, 0, 20) == pytest.approx(4)
    assert degree_hours(curve, 5, 10) == pytest.approx(1)


def test_the_coldest_thermometer_or_the_warmest():
    room = log((0, 2, "fan"), (0, 9, "door"), (1, 3, "fan"), (1, 8, "door"))
    assert degree_hours(AgingCurve(room, float), 0, 2) == pytest.approx(9 + 8)
    assert degree_hours(AgingCurve(room, float, coldest=True), 0, 2) == pytest.approx(2 + 3)


def test_a_curve_of_rates_agrees_with_a_general_integrator():
    """scipy.integrate.quad over each piece; kale by the handbook's Q10 (AH-66 pages 68-69)."""
    chance = random.Random(5)
    hours = sorted(chance.uniform(0, 90) for _ in range(120))
    readings = [(hour, round(chance.uniform(-1, 24), 1)) for hour in hours]
    room = log(*readings)
    curve = AgingCurve(room, lambda celsius: rate(KALE, celsius))
    start, end = hours[3] + 0.01, hours[-4] - 0.01

    def speed(hour: float) -> float:
        return rate(KALE, room.at_moment(hour * HOUR_S).celsius)

    knots = [at / HOUR_S for at in room.at]
    edges = [start, *(knot for knot in knots if start < knot < end), end]
    exact = sum(quad(speed, a + 1e-9, b - 1e-9)[0] for a, b in pairwise(edges) if b - a > 1e-6)
    assert degree_hours(curve, start, end) == pytest.approx(exact, rel=1e-6)


@pytest.mark.parametrize("options", [{}, {"coldest": True}, {"measured_only": True}])
def test_a_curve_regrown_is_the_curve_of_the_new_log_and_the_old_one_stays(options):
    before = log((0, 2, "fan"), (0, 5, "door"), (1, 3, "fan"), (4, 9, "fan"))
    after = log((0, 2, "fan"), (0, 5, "door"), (1, 3, "fan"), (2, 8, "door"), (30, 1, "fan"))
    old = AgingCurve(before, float, **options)
    was = degree_hours(old, 0, 20)
    regrown = old.regrown(after, 2)
    fresh = AgingCurve(after, float, **options)
    for end in (0.5, 1.5, 3, 20, 31):
        assert degree_hours(regrown, 0, end) == pytest.approx(degree_hours(fresh, 0, end))
    assert degree_hours(old, 0, 20) == was


def test_a_curve_regrown_again_and_again_is_added_up_when_it_is_asked():
    """Each log differs from the one before it, and what nobody asked was never added up."""
    logs = [
        log((0, 2), (1, 5), (2, 8), (3, 1)),
        log((0, 2), (1, 5), (2, 3), (3, 6)),
        log((0, 2), (1, 9), (2, 3), (3, 6)),
        log((0, 2), (1, 9), (2, 3), (3, 4), (3.5, 7)),
    ]
    added = []
    curve = AgingCurve(logs[0], lambda celsius: added.append(celsius) or celsius)
    assert degree_hours(curve, 0, 4) == 2 + 5 + 8 + 1
    added.clear()
    for following, length in zip(logs[1:], (2, 1, 3), strict=True):
        curve = curve.regrown(following, length)
    assert added == []
    assert degree_hours(curve, 0, 4) == 2 + 9 + 3 + 2 + 3.5


@pytest.mark.parametrize("options", [{}, {"coldest": True}, {"measured_only": True}])
@pytest.mark.parametrize("asked", [True, False], ids=["asked between", "asked at last"])
def test_of_a_log_that_changed_in_the_middle_only_that_is_added_up(monkeypatch, options, asked):
    """As a logger's file of past days does, piece after piece."""
    early, late = [(0, 2), (1, 5)], [(100, 4), (101, 3), (101, 7, "door"), (102, 6), (103, 1)]
    logs = [log(*early, *came, *late) for came in ([], [(9, 8)], [(9, 8), (9.5, 7), (10, 9)])]
    curve = AgingCurve(logs[0], float, **options)
    degree_hours(curve, 0, 9)
    for after, first in zip(logs[1:], (2, 4), strict=True):
        curve = curve.regrown(after, first, len(after.at) - after.readings_from(100 * HOUR_S))
        if asked:
            degree_hours(curve, 0, 9)
    fresh = AgingCurve(logs[-1], float, **options)
    for end in (1.5, 9.2, 20, 100.5, 101.5, 102.5, 104, 200):
        expected = degree_hours(fresh, 0, end)
        assert degree_hours(curve, 0, end) == pytest.approx(expected, abs=1e-12)
    monkeypatch.setattr(_Sums, "whole", None)  # and those after it are not gone through
    again = curve.regrown(logs[-1], 4, 5)
    added, days = [], AgingCurve._days
    monkeypatch.setattr(
        AgingCurve,
        "_days",
        lambda self, first, end: added.extend(range(first, end)) or days(self, first, end),
    )
    degree_hours(again, 0, 0)
    of_that_day = (2 + 5 + 8 + 7 + 9) / 5  # so warm is the room when nobody knows any more
    found = [again._log.celsius[knot - 1] for knot in added]
    assert found == [8, 7, 9, of_that_day, 4]


def test_who_adds_up_is_not_put_out_by_who_is_done_with_the_same(monkeypatch):
    """Two threads ask at once, and one has added up while the other is at it."""
    late = [(100, 4), (101, 3), (102, 6)]
    logs = [log((0, 2), *came, *late) for came in ([], [(9, 8)])]
    old = AgingCurve(logs[0], float)
    degree_hours(old, 0, 9)
    curve = old.regrown(logs[1], 1, len(late) + 1)
    fresh, days, others = AgingCurve(logs[1], float), AgingCurve._days, [curve]

    def interrupted(self, first, end):
        if others:
            degree_hours(others.pop(), 0, 9)
        return days(self, first, end)

    monkeypatch.setattr(AgingCurve, "_days", interrupted)
    for end in (5, 9.5, 101.5, 110):
        found, expected = (degree_hours(one, 0, end) for one in (curve, fresh))
        assert found == pytest.approx(expected, abs=1e-12)
    assert not others


def test_each_temperature_is_worked_out_once():
    asked = []
    curve = AgingCurve(log((0, 3), (1, 3), (2, 5), (3, 3)), lambda c: asked.append(c) or 1.0)
    degree_hours(curve, 0, 4)
    assert sorted(asked) == [3, 5]
