"""Which crate goes first, and which list it is on."""

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rotation import Standing, Verdict, judge, rotation_key
from inventory.rotation.dates import CaseDates
from inventory.rotation.order import (
    FAR_PAST_SHARE,
    LONGEST_KEEP_DAYS,
    SELL_FIRST_DAYS,
    is_far_past,
    whole_days,
)

NOW = datetime(2026, 6, 10, 14, tzinfo=UTC)
TODAY = date(2026, 6, 10)
YESTERDAY = date(2026, 6, 9)


def standing(**changes) -> Standing:
    return Standing(**{"days_left": 5, "life_used": 0.2, "harvested_at": NOW} | changes)


def key(code: str, part: bool = False, **changes) -> tuple:
    return rotation_key(standing(**changes), part, code)


def order(*keys: tuple) -> list[str]:
    return [code for *_, code in sorted(keys)]


def test_equal_histories_go_first_in_first_out():
    older = key("old", harvested_at=NOW - timedelta(hours=3))
    assert order(key("new"), older) == ["old", "new"]


def test_a_crate_that_stood_warm_jumps_the_queue():
    """Common practice, no source; FEFO as in Jedermann et al., Phil. Trans. R. Soc. A 2014."""
    older = key("old", harvested_at=NOW - timedelta(days=2), days_left=5)
    assert order(older, key("warm", days_left=4)) == ["warm", "old"]


def test_a_part_crate_goes_before_a_full_one_of_the_same_harvest():
    assert order(key("a"), key("b", part=True)) == ["b", "a"]


@pytest.mark.parametrize(
    ("changes", "verdict"),
    [
        ({"life_used": 0.59, "days_left": 3}, Verdict("", "")),
        ({"life_used": 0.6, "days_left": 9}, Verdict("sell-first", "share-used")),
        ({"life_used": 0.3, "days_left": 2}, Verdict("sell-first", "few-days")),
        ({"life_used": 1, "days_left": 0}, Verdict("discard", "spent")),
        (
            {"life_used": 1.2, "days_left": -1, "kept_until": TODAY + timedelta(days=1)},
            Verdict("kept", "kept"),
        ),
        ({"life_used": 1.2, "days_left": -1, "kept_until": TODAY}, Verdict("discard", "spent")),
        # Life used alone decides the discard list, whatever the days shown.
        ({"life_used": 0.99, "days_left": -3}, Verdict("sell-first", "few-days")),
        ({"life_used": 1, "days_left": 9}, Verdict("discard", "spent")),
        # Two reasons for Sell first: the days shown are said.
        ({"life_used": 0.8, "days_left": 1}, Verdict("sell-first", "few-days")),
        # Somebody must look first, but what is past is past.
        ({"flag": "froze"}, Verdict("look", "froze")),
        ({"flag": "said-gone"}, Verdict("look", "said-gone")),
        ({"flag": "said-gone", "kept_until": date(2026, 6, 12)}, Verdict("look", "said-gone")),
        ({"flag": "chilled"}, Verdict("look", "chilled")),
        ({"flag": "chilled", "days_left": 0}, Verdict("look", "chilled")),
        ({"flag": "chilled", "life_used": 1}, Verdict("discard", "spent")),
        # Nobody looked since it froze; what the cold hurt somebody saw and kept.
        ({"flag": "froze", "kept_until": date(2026, 6, 12)}, Verdict("look", "froze")),
        ({"flag": "chilled", "kept_until": date(2026, 6, 12)}, Verdict("kept", "kept")),
        (
            {"flag": "froze", "life_used": 1, "kept_until": date(2026, 6, 12)},
            Verdict("discard", "spent"),
        ),
        (
            {"flag": "chilled", "life_used": 1, "kept_until": date(2026, 6, 12)},
            Verdict("kept", "kept"),
        ),
        # A look that answered a flag leaves it kept; one that answered none changes nothing.
        ({"flagged_before": True, "kept_until": date(2026, 6, 12)}, Verdict("kept", "kept")),
        ({"flagged_before": True, "kept_until": TODAY}, Verdict("", "")),
        ({"flagged_before": True}, Verdict("", "")),
        ({"kept_until": date(2026, 6, 12)}, Verdict("", "")),
        # Past a use-by date nothing else counts, nobody's keep either; its own day is still good.
        ({"dates": CaseDates(TODAY)}, Verdict("", "")),
        ({"dates": CaseDates(YESTERDAY)}, Verdict("discard", "past-use-by")),
        ({"dates": CaseDates(YESTERDAY), "life_used": 1.2}, Verdict("discard", "past-use-by")),
        ({"dates": CaseDates(YESTERDAY), "flag": "froze"}, Verdict("discard", "past-use-by")),
        (
            {"dates": CaseDates(YESTERDAY), "kept_until": date(2026, 6, 12), "life_used": 1.2},
            Verdict("discard", "past-use-by"),
        ),
        # Past a best-before or sell-by date somebody looks, and may keep it.
        ({"dates": CaseDates(None, TODAY, "sell by")}, Verdict("", "")),
        ({"dates": CaseDates(None, YESTERDAY, "sell by")}, Verdict("look", "past-date")),
        ({"dates": CaseDates(None, YESTERDAY), "days_left": 0}, Verdict("look", "past-date")),
        ({"dates": CaseDates(None, YESTERDAY), "life_used": 1}, Verdict("discard", "spent")),
        ({"dates": CaseDates(None, YESTERDAY), "flag": "froze"}, Verdict("look", "froze")),
        (
            {"dates": CaseDates(None, YESTERDAY), "kept_until": date(2026, 6, 12)},
            Verdict("kept", "kept"),
        ),
        ({"dates": CaseDates(None, YESTERDAY), "kept_until": TODAY}, Verdict("look", "past-date")),
    ],
)
def test_the_lists(changes, verdict):
    assert judge(standing(**changes), TODAY) == verdict


@given(st.integers(-5, 40), st.floats(0, 2), st.integers(0, 30))
def test_sell_first_and_discard_never_overlap(days_left, used, sell_first_days):
    verdict = judge(standing(days_left=days_left, life_used=used), TODAY, sell_first_days)
    assert (verdict.worklist == "discard") == (used >= 1)


def test_sweet_corn_with_two_days_shown_is_sold_first_though_little_of_it_is_used():
    """It stands a third of its life shown with two days, and more than two elapsed ones."""
    assert judge(standing(days_left=2, life_used=0.01), TODAY).why == "few-days"


@pytest.mark.parametrize(("days", "why"), [(4, "few-days"), (5, "")])
def test_how_many_days_are_few_the_crop_may_say(days, why):
    assert judge(standing(days_left=days), TODAY, sell_first_days=4).why == why


def test_days_shown_come_before_the_harvest_and_the_harvest_before_what_is_open():
    """Whole days decide: hours between two of the same day are left to the harvest."""
    first = key("z", days_left=4, harvested_at=NOW)
    second = key("y", days_left=5, harvested_at=NOW - timedelta(hours=2))
    third = key("b", days_left=5, harvested_at=NOW, part=True)
    fourth, fifth = (key(code, days_left=5, harvested_at=NOW) for code in "ac")
    assert order(fifth, third, fourth, first, second) == ["z", "y", "b", "a", "c"]


def test_two_days_are_few_and_a_keep_is_for_a_week_at_most():
    """Ours, no source."""
    assert judge(standing(days_left=2), TODAY).why == "few-days"
    assert judge(standing(days_left=3), TODAY).why == ""
    assert (SELL_FIRST_DAYS, LONGEST_KEEP_DAYS) == (2, 7)


@pytest.mark.parametrize(
    ("days", "whole"),
    [(2.99, 2), (3, 3), (3 - 0.9e-6, 3), (3 - 1.1e-6, 2), (0.5, 0), (-0.5, -1), (-1.0, -1)],
)
def test_days_are_rounded_down_but_for_float_dust(days, whole):
    assert whole_days(days) == whole


@pytest.mark.parametrize(("used", "far"), [(0, False), (1.0, False), (1.499, False), (1.5, True)])
def test_half_its_time_over_is_far_past(used, far):
    """Ours, no source."""
    assert is_far_past(used) == far
    assert FAR_PAST_SHARE == 1.5
