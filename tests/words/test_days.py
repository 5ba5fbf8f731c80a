"""A moment's day is the day on the farm's clock."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone, translation

from inventory.words.days import day_words, moment_words


@pytest.mark.parametrize(
    ("moment", "words"),
    [
        (datetime(2026, 6, 10, 3, 59, tzinfo=UTC), "Tue 9 Jun 23:59"),
        (datetime(2026, 6, 10, 4, 0, tzinfo=UTC), "Wed 10 Jun 00:00"),
        (datetime(2026, 1, 10, 4, 59, tzinfo=UTC), "Fri 9 Jan 23:59"),
        (datetime(2026, 1, 10, 5, 0, tzinfo=UTC), "Sat 10 Jan 00:00"),
    ],
)
def test_a_moment_is_said_by_the_farms_day(moment, words):
    """New York is four hours behind Greenwich in summer and five in winter."""
    with timezone.override(ZoneInfo("America/New_York")), translation.override("en"):
        assert moment_words(moment) == words
        assert day_words(moment) == words.rpartition(" ")[0]


def test_a_day_is_itself_on_every_clock():
    with timezone.override(ZoneInfo("America/New_York")), translation.override("en"):
        assert day_words(date(2026, 6, 10)) == "Wed 10 Jun"
