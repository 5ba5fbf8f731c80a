"""A room's targets with their times, as plain figures."""

import pytest

from inventory.keeping.log import HOUR_S, RoomLog
from inventory.lives.rooms import LoggedRoom, target_at

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
