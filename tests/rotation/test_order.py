"""Which crate goes first, and which list it is on."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rotation import Standing, Verdict, judge, rotation_key
from tests.builders import NOW

TODAY = date(2026, 6, 10)


def standing(**changes) -> Standing:
    return Standing(
        **{"code": "A", "days_left": 5, "life_used": 0.2, "harvested_at": NOW} | changes
    )


def order(*crates: Standing) -> list[str]:
    return [crate.code for crate in sorted(crates, key=rotation_key)]


def test_equal_histories_go_first_in_first_out():
    older = standing(code="old", harvested_at=NOW - timedelta(hours=3), days_left=5.1)
    assert order(standing(code="new", days_left=5.2), older) == ["old", "new"]


def test_a_crate_that_stood_warm_jumps_the_queue():
    """Common practice, no source; FEFO as in Jedermann et al., Phil. Trans. R. Soc. A 2014."""
    older = standing(code="old", harvested_at=NOW - timedelta(days=2), days_left=5)
    assert order(older, standing(code="warm", days_left=3.9)) == ["warm", "old"]


def test_a_part_crate_goes_before_a_full_one_of_the_same_harvest():
    assert order(standing(code="a"), standing(code="b", part=True)) == ["b", "a"]


@pytest.mark.parametrize(
    ("changes", "verdict"),
    [
        ({"life_used": 0.59, "days_left": 2.01}, Verdict("", "")),
        ({"life_used": 0.6, "days_left": 9}, Verdict("sell-first", "share-used")),
        ({"life_used": 0.3, "days_left": 2}, Verdict("sell-first", "few-days")),
        ({"life_used": 1, "days_left": 0}, Verdict("discard", "spent")),
        (
            {"life_used": 1.2, "days_left": -1, "kept_until": TODAY + timedelta(days=1)},
            Verdict("kept", "kept"),
        ),
        ({"life_used": 1.2, "days_left": -1, "kept_until": TODAY}, Verdict("discard", "spent")),
    ],
)
def test_the_lists(changes, verdict):
    assert judge(standing(**changes), TODAY) == verdict


@given(st.floats(-5, 40), st.floats(0, 2), st.integers(0, 30))
def test_sell_first_and_discard_never_overlap(days_left, used, sell_first_days):
    verdict = judge(standing(days_left=days_left, life_used=used), TODAY, sell_first_days)
    assert (verdict.worklist == "discard") == (used >= 1)
