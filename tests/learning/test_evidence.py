import math

import pytest

from inventory.learning import AN_END, Finding, Lasted, lasted


@pytest.mark.parametrize(
    "ages", [(-1,), (5, 4), (math.inf,), (math.nan,), (math.inf, math.inf), (-2, -1), (3, math.nan)]
)
def test_ages_that_cannot_be_are_refused(ages):
    with pytest.raises(ValueError, match="no crate is fine at"):
        Lasted(*ages)


@pytest.mark.parametrize("ages", [(0,), (5,), (5, 5), (0, 5), (0, 0), (4.5, 5)])
def test_ages_that_can_be_are_taken(ages):
    assert Lasted(*ages).gone == (len(ages) == 2)


@pytest.mark.parametrize(
    ("seen", "known"),
    [
        ([(3, Finding.GOOD), (8, Finding.GOOD), (11, Finding.GONE)], Lasted(8, 11)),
        ([(11, Finding.GONE), (8, Finding.GOOD), (14, Finding.GOOD)], Lasted(8, 11)),
        ([(9, Finding.GONE), (12, Finding.GONE)], Lasted(0, 9)),
        ([(5, Finding.GOOD), (5, Finding.GONE)], Lasted(5, 5)),
        ([(3, Finding.GOOD), (2, Finding.GOOD)], Lasted(3)),
    ],
)
def test_a_life_ended_between_the_last_good_sight_and_the_first_bad_one(seen, known):
    """As inspection data are read in reliability: Nelson 1982, chapter 9 (from memory)."""
    assert lasted(seen) == known


def test_what_was_gone_is_seen_when_it_was_found():
    assert (Lasted(8, 11).seen_days, Lasted(8).seen_days) == (11, 8)


def test_a_quarter_thrown_out_is_an_end_and_less_is_trimming():
    """Where trimming stops is our reading: common practice, no source."""
    assert AN_END == 1 / 4
