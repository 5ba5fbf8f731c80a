"""The dates on cases: the last day each counts, and which binds a crate filled from several."""

from datetime import date, timedelta

import pytest

from inventory.rotation.dates import NO_DATES, CaseDates, earliest, read_date

DAY = date(2026, 6, 10)
BEFORE, AFTER = DAY - timedelta(days=1), DAY + timedelta(days=1)


@pytest.mark.parametrize(("today", "past"), [(BEFORE, False), (DAY, False), (AFTER, True)])
def test_the_date_itself_is_the_last_day_that_counts(today, past):
    """Regulation (EU) No 1169/2011, Article 24(1): "after the 'use by' date"."""
    assert CaseDates(use_by=DAY).is_past_use_by(today) == past
    assert CaseDates(best_before=DAY).is_past_best_before(today) == past


def test_where_no_case_says_a_date_nothing_is_past():
    assert not NO_DATES.is_past_use_by(date.max)
    assert not NO_DATES.is_past_best_before(date.max)
    assert NO_DATES.told == []


@pytest.mark.parametrize(
    ("kind", "found"),
    [
        ("use by", CaseDates(use_by=DAY)),
        ("best before", CaseDates(None, DAY, "best before")),
        ("sell by", CaseDates(None, DAY, "sell by")),
        ("", CaseDates(None, DAY, "")),
    ],
)
def test_only_a_use_by_date_is_one_of_safety(kind, found):
    assert read_date(DAY, kind) == found
    assert found.told == [(kind, DAY)]
    assert read_date(None, "") == NO_DATES


def test_of_several_cases_the_first_date_of_each_kind_binds():
    mixed = earliest(
        [
            CaseDates(None, AFTER, "sell by"),
            CaseDates(AFTER),
            NO_DATES,
            CaseDates(BEFORE),
            CaseDates(None, DAY, "best before"),
        ]
    )
    assert mixed == CaseDates(BEFORE, DAY, "best before")
    assert mixed.told == [("use by", BEFORE), ("best before", DAY)]
    assert earliest([]) == NO_DATES
