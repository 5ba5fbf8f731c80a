"""A room's targets with their times, its clocks, and what it forecasts; as plain figures."""

import pytest

from inventory.keeping import load_reference
from inventory.keeping.log import HOUR_S, RoomLog
from inventory.lives.rooms import LoggedRoom, is_known, recent_mean, recent_speed, target_at
from tests.lives import hand

TARGETS = ((0.0, 2.0), (10 * HOUR_S, 12.0), (20 * HOUR_S, 4.0))


def logged(targets=TARGETS) -> LoggedRoom:
    changes = [change for change in targets if change[0] > 0]
    return LoggedRoom(1, 0, 0.0, RoomLog(targets[0][1], (), changes), targets)


@pytest.mark.parametrize(("hour", "celsius"), [(-5, 2), (0, 2), (9.9, 2), (10, 12), (99, 4)])
def test_the_target_of_a_moment_is_the_latest_by_then(hour, celsius):
    """Before the first it is the first: it holds for all the time before, too."""
    assert target_at(TARGETS, hour * HOUR_S) == celsius


def test_bands_follow_the_target():
    """±1.5 °C about 2, 12 and 4."""
    found = [
        (start / HOUR_S, end / HOUR_S, low, high)
        for start, end, low, high in logged().bands(5 * HOUR_S, 25 * HOUR_S, 1.5)
    ]
    assert found == [(5, 10, 0.5, 3.5), (10, 20, 10.5, 13.5), (20, 25, 2.5, 5.5)]


def test_a_change_at_either_end_of_a_span_makes_no_band_of_no_length():
    assert logged().bands(10 * HOUR_S, 20 * HOUR_S, 1) == [(10 * HOUR_S, 20 * HOUR_S, 11, 13)]


def test_the_coldest_that_counts_is_also_the_coldest_a_target_ever_was():
    assert logged(((0.0, 12.0), (HOUR_S, 1.0), (2 * HOUR_S, 12.0))).coldest_c == 1
    assert logged(((0.0, 1.0), (HOUR_S, 12.0))).coldest_c == 1


REFERENCE = load_reference()
KALE, EGGPLANT, ARUGULA = (REFERENCE[key] for key in ("kale", "eggplant", "arugula"))
DAY = 24


@pytest.mark.parametrize(("last_h", "known"), [(33, False), (34, True)])
def test_a_room_is_known_by_half_of_its_last_three_days(last_h, known):
    """A logger's reading holds two hours: 36 of 72 after the one of hour 34."""
    room = hand.logged(2.0, *hand.steady(7, last_h))
    assert is_known(room, hand.seconds(3 * DAY)) == known
    # The gap counts as the warm day before it.
    assert recent_mean(room, hand.seconds(3 * DAY)) == (pytest.approx(7), known)


def test_the_mean_is_of_three_days_and_no_more():
    room = hand.logged(2.0, *hand.steady(15, 9), *hand.steady(4, 3 * DAY, start=10))
    assert recent_mean(room, hand.seconds(10 + 3 * DAY)) == (pytest.approx(4), True)


def test_how_fast_a_clock_runs_is_the_mean_of_its_speed():
    """Kale, Q10 3 (AH-66 pages 68-69): hours of 0 and 10 °C in turn, (1 + 3) / 2; at 5 °C 1.73."""
    turns = [(hour, 10.0 * (hour % 2)) for hour in range(3 * DAY + 1)]
    speed = recent_speed(hand.logged(2.0, *turns), KALE, "aging", hand.seconds(3 * DAY))
    assert speed == pytest.approx(2)


@pytest.mark.parametrize("days", [1 / 24, 3])
def test_the_cold_clocks_run_by_the_coldest_thermometer_and_age_by_the_warmest(days):
    """Eggplant: 4.5 days to injury at 2.5 °C (AH-66 page 323); known for an hour or for days."""
    hours = int(days * DAY)
    readings = {"fan": hand.steady(2.5, hours), "door": hand.steady(25, hours)}
    room, now = hand.logged(10.0, **readings), hand.seconds(hours)
    assert is_known(room, now) == (days == 3)
    assert recent_speed(room, EGGPLANT, "injury", now) == pytest.approx(1 / 4.5)
    assert recent_speed(room, EGGPLANT, "exposure", now) == pytest.approx(1)
    assert recent_speed(room, EGGPLANT, "cold degrees", now) == pytest.approx(2.5)
    assert recent_speed(room, KALE, "aging", now) == pytest.approx(3 * 2.5 * 2**0.5)


@pytest.mark.parametrize(("crop", "hours"), [(KALE, 8), (ARUGULA, 3)])
def test_by_an_assumed_freezing_point_only_measured_air_freezes(crop, hours):
    """A target of -1 °C for five hours before a logger wrote, and three hours of -1 measured."""
    room = hand.logged(-1.0, (5, -1), (7, -1), (8, 2))
    days = room.curve(crop, "frozen").between(hand.seconds(0), hand.seconds(9))
    assert days * DAY == pytest.approx(hours)


def test_the_share_measured_is_by_time():
    room = hand.logged(2.0, (5, 3), (6, 3))
    share = room.measured_share(hand.seconds(0), hand.seconds(10))
    assert share == pytest.approx(3 / 10)  # from hour 5 to two hours after the last reading


def test_a_curve_is_made_once():
    room = hand.logged(2.0)
    assert room.curve(KALE, "aging") is room.curve(KALE, "aging")
    assert room.curve(KALE, "aging") is not room.curve(KALE, "frozen")
