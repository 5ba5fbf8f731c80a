"""A moment's day is the day on the farm's clock."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone, translation

from inventory.models import Farm
from inventory.words.days import (
    clock_words,
    day_words,
    farm_days,
    long_weekday_words,
    moment_words,
    month_words,
    time_words,
    weekday_words,
)


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


@pytest.mark.parametrize(("language", "said"), [("en", "Wednesday"), ("es", "miércoles")])
def test_only_english_writes_a_weekday_with_a_capital_within_a_sentence(language, said):
    """Ortografía de la lengua española (2010), from memory."""
    with translation.override(language):
        assert long_weekday_words(date(2026, 6, 10)) == said


def test_a_day_is_itself_on_every_clock():
    with timezone.override(ZoneInfo("America/New_York")), translation.override("en"):
        assert day_words(date(2026, 6, 10)) == "Wed 10 Jun"


def said(words, day, region="elsewhere", language="en") -> str:
    """What a farm says, seen from noon of Thursday 26 November 2026."""
    farm = Farm(time_zone="America/New_York", region=region)
    noon = datetime(2026, 11, 26, 17, tzinfo=UTC)
    with translation.override(language), farm_days(farm, noon):
        return words(day)


EVENING = datetime(2026, 11, 26, 3, 5, tzinfo=UTC)


@pytest.mark.parametrize(
    ("region", "language", "words"),
    [
        ("elsewhere", "en", "Wed 25 Nov 22:05"),
        ("us", "en", "Wed Nov 25 10:05 PM"),
        ("elsewhere", "es", "mié 25 nov 22:05"),
        # In Spanish the day comes first in the United States too.
        ("us", "es", "mié 25 nov 10:05 PM"),
    ],
)
def test_where_the_farm_is_decides_how_a_moment_is_said(region, language, words):
    assert said(moment_words, EVENING, region, language) == words
    assert said(day_words, EVENING, region, language) == " ".join(words.split()[:3])
    assert said(time_words, EVENING, region, language) == words.split(" ", 3)[3]


@pytest.mark.parametrize(
    ("day", "region", "words"),
    [
        (date(2027, 2, 26), "elsewhere", "Fri 26 Feb"),
        (date(2027, 2, 27), "elsewhere", "Sat 27 Feb 2027"),
        (date(2026, 8, 26), "elsewhere", "Wed 26 Aug"),
        (date(2026, 8, 25), "elsewhere", "Tue 25 Aug 2026"),
        (date(2027, 3, 18), "us", "Thu Mar 18, 2027"),
        (datetime(2027, 3, 18, 3, 5, tzinfo=UTC), "elsewhere", "Wed 17 Mar 2027"),
    ],
)
def test_a_day_more_than_three_months_off_carries_its_year(day, region, words):
    assert said(day_words, day, region) == words


def test_a_moment_of_today_is_its_time_alone():
    words = [
        said(lambda moment, day=day: clock_words(moment, day), EVENING, "us")
        for day in (date(2026, 11, 25), date(2026, 11, 26))
    ]
    assert words == ["10:05 PM", "Wed Nov 25 10:05 PM"]


def test_the_days_of_a_known_month_and_the_month():
    day = date(2026, 11, 2)
    assert [said(weekday_words, day), said(month_words, day)] == ["Mon 2", "November 2026"]
    assert said(month_words, day, language="es") == "noviembre 2026"


def test_a_manner_ends_where_it_was_for():
    said(day_words, EVENING, "us")
    with translation.override("en"):
        assert moment_words(EVENING) == "Thu 26 Nov 03:05"
