"""Days to chilling injury against published figures, and the crops that have none.

AH-66: USDA Agriculture Handbook 66 (2016 revision). The other sources are in SOURCES.md by key.
Between a published figure and the next nothing is tested here: see injury_days.
"""

import math
from dataclasses import replace

import pytest

from inventory.keeping import life_days, load_reference, sound_days
from inventory.keeping.chilling import (
    TOLERANCE_C,
    cold_degrees,
    days_to_injury,
    freezing_c,
    injury_days,
    injury_speed,
    injury_used,
    is_frozen,
    is_too_cold,
    must_be_looked_at,
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


@pytest.mark.parametrize(("key", "safe_c"), [("basil", 12), ("mango", 10), ("eggplant", 7)])
def test_a_degree_below_the_lowest_safe_temperature_is_allowed_and_no_more(key, safe_c):
    """Mango, eggplant: AH-66 pages 63-64, Table 1; basil: ucd. A store varies by 1 °C (AH-66)."""
    crop = REFERENCE[key]
    assert not is_too_cold(crop, safe_c - 1)
    assert is_too_cold(crop, safe_c - 1.01)


def test_what_the_cold_does_not_hurt_is_never_too_cold():
    assert not is_too_cold(REFERENCE["kale"], -3)
    assert published_injury(REFERENCE["kale"]) == []
    hardy = replace(REFERENCE["eggplant"], chilling_c=None)
    assert published_injury(hardy) == []
    assert injury_used(REFERENCE["kale"], [(9, 0)]) is None


def test_colder_than_the_coldest_published_figure_its_days_are_kept():
    assert injury_days(REFERENCE["eggplant"], -2) == 1.5


def test_between_published_days_the_logarithm_is_interpolated():
    """By hand: eggplant 4.5 days at 2.5 °C and 6.5 at 5; at 4, 4.5 · (6.5 / 4.5)^0.6 = 5.61."""
    assert injury_days(REFERENCE["eggplant"], 4) == pytest.approx(5.611, abs=0.001)


def test_from_the_mildest_published_figure_to_the_safe_temperature_its_days_are_kept():
    """Basil: published at 5 °C, safe from 12 °C less 1."""
    basil = REFERENCE["basil"]
    assert [injury_days(basil, celsius) for celsius in (5.1, 10.9)] == [3, 3]
    assert injury_days(basil, 11) == math.inf


def test_the_clock_of_injury_stands_still_where_it_is_warm_enough():
    basil = REFERENCE["basil"]
    assert injury_speed(basil, 5) == pytest.approx(1 / 3)
    assert injury_speed(basil, 11) == 0
    assert injury_speed(REFERENCE["mango"], 5) == 0
    # Eggplant's mildest published figure, 7.5 °C, lies within the degree that is allowed.
    assert injury_speed(REFERENCE["eggplant"], 7.5) == 0


def test_degrees_count_towards_the_mean_of_an_exposure_only_where_it_is_too_cold():
    mango = REFERENCE["mango"]
    assert [cold_degrees(mango, celsius) for celsius in (3.5, 9, 12)] == [3.5, 0, 0]


# The buyer's fridge.


def test_the_sound_days_of_eggplant_are_those_to_injury():
    """By hand as above: 5.6 at 4 °C, where decay alone would leave its whole life, 7 days."""
    eggplant = REFERENCE["eggplant"]
    assert life_days(eggplant, 4) == 7
    assert sound_days(eggplant, 4) == pytest.approx(5.611, abs=0.001)


@pytest.mark.parametrize(("celsius", "days"), [(0, 1), (5, 3)])
def test_the_sound_days_of_basil(celsius, days):
    """Lange and Cameron 1994, HortScience 29(2):102-103: 1 day at 0 °C, 3 at 5 °C."""
    assert sound_days(REFERENCE["basil"], celsius) == pytest.approx(days)


def test_where_nothing_is_hurt_the_sound_days_are_those_of_decay():
    """Lange and Cameron 1994 give basil about 12 days at 15 °C; ours is the cautious end, 7."""
    basil, kale = REFERENCE["basil"], REFERENCE["kale"]
    assert sound_days(basil, 15) == life_days(basil, 15) == 7
    assert sound_days(kale, 4) == life_days(kale, 4)


def test_decay_may_come_before_injury():
    """Asparagus: hurt after ten days at 0 °C (AH-66 page 211); with a farm's own life of eight."""
    assert sound_days(REFERENCE["asparagus"].with_life(8), 0) == 8
    assert sound_days(REFERENCE["asparagus"], 0) == 10


def test_where_no_days_to_injury_are_published_there_are_no_sound_days_to_tell():
    mango = REFERENCE["mango"]
    assert sound_days(mango, 4) is None
    assert days_to_injury(mango, 4) is None
    assert days_to_injury(mango, 9) == math.inf
    assert sound_days(mango, 9) == life_days(mango, 9)


# Looking at what has no published days.


@pytest.mark.parametrize(
    ("exposure", "looked_at", "must"),
    [
        (0.99, None, False),
        (1.0, None, True),  # a day in all: ours, no source
        (2.99, 1.0, False),
        (3.0, 1.0, True),  # as much again, but two days at least
        (3.99, 2.0, False),
        (4.0, 2.0, True),
        (9.99, 5.0, False),
        (10.0, 5.0, True),
        (1.99, 0.0, False),  # looked at before it ever was too cold
        (2.0, 0.0, True),
    ],
)
def test_when_it_must_be_looked_at(exposure, looked_at, must):
    assert must_be_looked_at(exposure, looked_at) is must


# Freezing.


def test_a_freezing_point_is_the_published_one_else_assumed():
    """hb66, as in crops.csv: kale -0.5 °C; arugula, chard and cilantro have none."""
    assert freezing_c(REFERENCE["kale"]) == -0.5
    for key in ("arugula", "swiss-chard", "cilantro"):
        assert freezing_c(REFERENCE[key]) == -0.2


def test_at_exactly_its_freezing_point_it_freezes():
    kale, arugula = REFERENCE["kale"], REFERENCE["arugula"]
    assert [is_frozen(kale, celsius) for celsius in (-0.49, -0.5)] == [False, True]
    assert [is_frozen(arugula, celsius) for celsius in (-0.19, -0.2)] == [False, True]
