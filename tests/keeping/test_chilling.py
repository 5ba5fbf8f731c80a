"""Days to chilling injury against published figures, and the crops that have none.

AH-66: USDA Agriculture Handbook 66 (2016 revision). The other sources are in SOURCES.md by key.
Between a published figure and the next nothing is tested here: see injury_days.
"""

import math

import pytest

from inventory.keeping import load_reference
from inventory.keeping.chilling import (
    TOLERANCE_C,
    injury_days,
    injury_used,
    is_too_cold,
    published_injury,
)

REFERENCE = load_reference()


@pytest.mark.parametrize(
    ("key", "celsius", "days"),
    [
        ("basil", 0, 1),  # lc94: 1 day at 0 °C
        ("basil", 5, 3),  # lc94: 3 days at 5 °C
        ("cucumber", 4.5, 2),  # prod04: 2 days below 5 °C
        ("cucumber", 7, 2.5),  # ucd: 2 to 3 days at 7.2 °C; AH-66 page 303: below 10 °C
        ("summer-squash", 4.5, 3),  # ucd: 3 to 4 days below 5 °C; usu: 2 to 3 below 7 °C
        ("okra", 2, 2),  # AH-66 page 431: as little as 2 days at 2 °C
        ("okra", 5, 7),  # AH-66 page 431: shows after 7 days at 5 °C
        ("watermelon", 0, 7),  # prod04: 7 days at 0 °C
        ("cantaloupe", 0, 15),  # prod04: 15 days at 0 to 2.5 °C
        ("honeydew", 2.5, 15),  # prod04: 15 days at 0 to 2.5 °C
        ("sweet-potato", 1.5, 1),  # msu15: a single day at 35 °F
        ("sweet-potato", 10, 3),  # msu15: as little as 3 days at 50 °F
        ("tomato-mature-green", 2.5, 3),  # hr44 page 261: soft after 3 days at 2.5 °C
        ("tomato-mature-green", 7.5, 7),  # hr44 page 261: blotchy after a week at 7 to 8 °C
        ("tomato-mature-green", 10, 7.5),  # hr44 page 261: soft after 7 to 8 days at 10 °C
        ("tomato-ripe", 2.5, 3),  # hr44 page 261
        ("tomato-ripe", 5, 7),  # ucd: 6 to 8 days at 5 °C
        ("potato-early", 0, 21),  # AH-66 page 508: a few weeks at 0 °C
        ("potato-late", 0, 21),
        ("pumpkin", 5, 30),  # AH-66 page 515: 1 month at 5 °C
        ("winter-squash-acorn", 5, 30),
        ("winter-squash-butternut", 5, 30),
        ("winter-squash-buttercup", 5, 30),
        ("winter-squash-hubbard", 5, 30),
        ("pepper-sweet", 0, 3),  # AH-66 page 482: a few days at 0 °C
        ("pepper-sweet", 5, 10),  # ashs11: 10 to 14 days at 5 °C; AH-66 page 482: 2 weeks
        ("pepper-hot", 0, 3),  # AH-66 page 482: chili peppers as sweet ones
        ("pepper-hot", 5, 10),
        ("snap-bean", 2.5, 4),  # AH-66 page 231: 4 days at 2.5 °C
        ("snap-bean", 5, 6),  # AH-66 page 231: 6 to 10 days at 5 °C; aus: 6 to 8
        ("tomatillo", 5, 21),  # AH-66 page 579: after 3 weeks at 5 °C
        ("asparagus", 0, 10),  # AH-66 page 211: after about 10 days at 0 °C
        ("eggplant", 0, 1.5),  # AH-66 page 323, Table 1: 1 to 2 days
        ("eggplant", 7.5, 12),  # AH-66 page 323, Table 1
    ],
)
def test_published_days_to_injury(key, celsius, days):
    assert injury_days(REFERENCE[key], celsius) == pytest.approx(days)


def test_a_night_in_a_fridge_uses_a_third_of_what_basil_stands():
    """lc94: 3 days at 5 °C; about 12 days at 15 °C, where nothing is hurt."""
    assert injury_used(REFERENCE["basil"], [(1, 5), (12, 15)]) == pytest.approx(1 / 3)


def test_where_no_days_are_published_none_are_told():
    """AH-66 page 63 gives mango and ginger a lowest safe temperature, but no days."""
    for key in ("mango", "ginger"):
        assert is_too_cold(REFERENCE[key], 5)
        assert injury_days(REFERENCE[key], 5) is None


@pytest.mark.parametrize("key", sorted(REFERENCE))
def test_published_days_lie_in_the_cold_that_hurts(key):
    """A pair nobody can reach, or one at a safe temperature, would be a slip in crops.csv."""
    crop = REFERENCE[key]
    for celsius, days in published_injury(crop):
        assert celsius <= crop.chilling_c + TOLERANCE_C
        assert 0 < days < math.inf
