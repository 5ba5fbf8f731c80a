"""Keeping life against published figures.

AH-66: USDA Agriculture Handbook 66 (2016 revision), "Respiratory Metabolism", pages 68-69, and
its commodity chapters.
"""

import math
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.keeping import Reference, life_days, life_used, load_reference, placing, rate
from inventory.keeping.life import kinks_c

REFERENCE = load_reference()


def q10_crop(days: float = 100) -> Reference:
    """A crop without published lives or respiration: the handbook's Q10 alone."""
    return Reference(
        key="x", name="x", group="x", temp_low_c=0, temp_high_c=0, humidity_low_pct=None,
        humidity_high_pct=None, life_low_days=days, life_high_days=days, freezing_c=None,
        chilling_c=None, other_lives=(), respiration=(), source="", evidence="",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("celsius", "expected"), [(0, 1), (10, 3), (20, 7.5), (30, 15), (40, 22.5)]
)
def test_q10_gives_the_handbook_rates(celsius, expected):
    """AH-66 page 69, Table 2."""
    assert rate(q10_crop(), celsius) == pytest.approx(expected)


@pytest.mark.parametrize(("celsius", "expected"), [(0, 100), (10, 33), (20, 13), (30, 7), (40, 4)])
def test_q10_gives_the_handbook_shelf_lives(celsius, expected):
    """AH-66 page 69, Table 2: relative shelf life."""
    assert life_days(q10_crop(), celsius) == pytest.approx(expected, abs=0.5)


def test_life_of_a_fortnight_crop_at_5_and_10_degrees():
    """Computed from the Q10 of 3 between 0 and 10 °C, AH-66 pages 68-69."""
    assert life_days(q10_crop(14), 5) == pytest.approx(8.083, abs=0.01)
    assert life_days(q10_crop(14), 10) == pytest.approx(4.667, abs=0.01)


def test_two_warm_days_and_five_cold_ones_add_up():
    """Additivity, Tijskens and Polderdijk 1996 (from memory)."""
    used = life_used(q10_crop(21), [(2, 10), (5, 0)])
    assert used == pytest.approx(0.5238, abs=0.001)
    assert (1 - used) * life_days(q10_crop(21), 0) == pytest.approx(10.0, abs=0.01)


def test_thirteen_days_at_20_are_32_and_a_half_at_10():
    """Computed from AH-66 page 69, Table 2: 7.5 / 3 times as long."""
    crop = q10_crop(13 * rate(q10_crop(), 20))
    assert life_days(crop, 20) == pytest.approx(13)
    assert life_days(crop, 10) == pytest.approx(32.5, abs=0.5)


def test_apple_at_20_degrees_keeps_3_twentieths_of_its_cold_life():
    """AH-66 Table 1, pages 7-10: apple respires 3 mg/(kg h) at 0 °C and 20 at 20 °C."""
    apple = REFERENCE["apple"]
    assert life_days(apple, 20) / life_days(apple, 0) == pytest.approx(3 / 20)


def test_sweet_corn_respiration_is_interpolated_in_the_logarithm():
    """AH-66 page 10: 41 and 105 mg/(kg h) at 0 and 10 °C; printed 63 at 5 °C."""
    assert rate(REFERENCE["sweet-corn"], 10) == pytest.approx(105 / 41)
    assert 41 * rate(REFERENCE["sweet-corn"], 5) == pytest.approx(65.6, rel=0.05)


@pytest.mark.parametrize(
    ("key", "low", "high", "best_c"),
    [
        ("broccoli", 14, 21, 0),  # chapter Broccoli
        ("carrot-topped", 210, 270, 0),  # chapter Carrot: 7 to 9 months
        ("kale", 14, 21, 0),  # chapter Greens for cooking
        ("snap-bean", 8, 12, 7.5),  # chapter Bean, snap
        ("cauliflower", 21, 21, 0),  # chapter Cauliflower
    ],
)
def test_storage_lives_equal_the_handbooks(key, low, high, best_c):
    """AH-66, the commodity chapters named beside each row."""
    crop = REFERENCE[key]
    assert (life_days(crop, best_c), crop.generous_days) == (low, high)


def test_published_lives_at_other_temperatures_are_met():
    """AH-66, chapter Broccoli: about 5 days at 10 °C against 14 to 21 (middle 17.5) at 0 °C."""
    assert rate(REFERENCE["broccoli"], 10) == pytest.approx(17.5 / 5)
    assert rate(REFERENCE["broccoli"], 20) == pytest.approx(17.5 / 5 * 2.5)


def test_leek_ages_by_one_trial_and_not_by_two_mixed():
    """AH-66 page 379, film bags: 12 days at 10 °C, 6 at 21; 2 to 3 months (middle 75) at 0 °C."""
    assert rate(REFERENCE["leek"], 10) == pytest.approx(75 / 12)
    assert rate(REFERENCE["leek"], 21) == pytest.approx(75 / 6)


def test_parsnips_keep_two_and_a_half_times_shorter_at_5_degrees():
    """aus: 6 weeks at 0 °C, 2 to 3 weeks (middle 2.5) at 5 °C."""
    assert rate(REFERENCE["parsnip"], 5) == pytest.approx(6 / 2.5, rel=0.01)


@pytest.mark.parametrize(
    ("key", "celsius", "low", "high"),
    [
        ("broccoli", 10, 4, 5),  # AH-66 page 248: about 5 days
        ("pak-choi", 0, 21, 40),  # aus: 3 weeks; ucd: up to 40 days
        ("pak-choi", 5, 10, 14),  # aus: 10 to 14 days at 5 °C
        ("leek", 5, 21, 28),  # aus: 3 to 4 weeks at 5 °C, 12 weeks at 0
        ("leek", 10, 7, 13),  # AH-66 page 379: 1 week unlined, 12 in film bags, 13 lined
        ("green-onion", 5, 7, 21),  # AH-66 page 437: 1 week; aus: 2 to 3 weeks
        ("green-onion", 10, 7, 10),  # ucd: 7 to 10 days at 10 °C
        ("strawberry", 10, 2, 4),  # abj25: 3 days use 46 %; shin: 4 days still sound
        ("tomato-ripe", 8, 2, 5),  # ncsutom: 2 to 4 days when red; ucd: 3 to 5 days
        # lives end
    ],
)
def test_lives_lie_in_the_published_spread(key, celsius, low, high):
    """The source is beside each row; where several differ, low and high are of all of them."""
    assert low <= life_days(REFERENCE[key], celsius) <= high


@pytest.mark.parametrize("key", sorted(REFERENCE))
def test_every_row_is_sane_and_never_keeps_longer_when_warmer(key):
    crop = REFERENCE[key]
    lives = [life_days(crop, half_degrees / 2) for half_degrees in range(-10, 91)]
    assert all(math.isfinite(days) and days > 0 for days in lives)
    assert all(warmer <= colder + 1e-9 for colder, warmer in pairwise(lives))
    assert crop.temp_low_c <= crop.temp_high_c
    assert 0 < crop.life_low_days <= crop.life_high_days
    assert crop.source
    assert crop.evidence in {"read", "mixed", "memory"}


@pytest.mark.parametrize("key", sorted(REFERENCE))
def test_different_published_temperatures_give_different_lives(key):
    crop = REFERENCE[key]
    warm = [c for c, _ in crop.other_lives if c > crop.temp_high_c]
    lives = [life_days(crop, celsius) for celsius in [crop.temp_high_c, *warm]]
    assert sorted(set(lives), reverse=True) == lives


def test_every_row_names_its_sources():
    """The keys of crops.csv are those of the table in SOURCES.md."""
    for row in REFERENCE.values():
        assert all(row.source_titles), row.key
        assert row.evidence in {"read", "mixed", "memory"}
    assert REFERENCE["kale"].source_titles[0].endswith("ars.usda.gov")


def test_no_crop_gains_by_being_colder_than_its_range():
    """AH-66 page 69: the rule is not valid below the safe temperature."""
    for key in ("basil", "cucumber", "tomato-ripe", "snap-bean"):
        crop = REFERENCE[key]
        assert life_days(crop, 0) == life_days(crop, crop.temp_low_c)


LEAFY = [key for key, row in REFERENCE.items() if row.group == "leafy"]


@pytest.mark.parametrize("key", LEAFY)
def test_leaves_cut_on_tuesday_are_good_on_saturday(key):
    """Common practice, no source: greens cut on Tuesday sell at Saturday's market."""
    assert life_used(REFERENCE[key], [(4.5, 2)]) < 1


def test_a_case_of_apples_keeps_a_month_cold_and_a_week_but_not_a_month_warm():
    """Common practice, no source: ten days from the tree, then bought in."""
    apple = REFERENCE["apple"]
    ten_days = (10, 2)
    assert life_used(apple, [ten_days, (30, 2)]) < 1
    assert life_used(apple, [ten_days, (7, 20)]) < 1
    assert life_used(apple, [ten_days, (30, 20)]) >= 1


def test_the_farms_own_life_moves_the_life_but_not_the_rate():
    kale = REFERENCE["kale"]
    assert life_days(kale.with_life(10), 0) == 10
    assert rate(kale.with_life(10), 7) == rate(kale, 7)
    assert kale.with_life(30).generous_days == 30


def test_a_negative_period_is_a_mistake():
    with pytest.raises(ValueError, match="-1"):
        life_used(REFERENCE["kale"], [(-1, 2)])


@given(st.lists(st.tuples(st.floats(0, 50), st.floats(-5, 45)), max_size=6), st.randoms())
def test_the_order_of_the_periods_does_not_matter(periods, chance):
    mixed = list(periods)
    chance.shuffle(mixed)
    crop = REFERENCE["spinach"]
    assert life_used(crop, mixed) == pytest.approx(life_used(crop, periods))


@pytest.mark.parametrize(
    ("key", "celsius", "cold_spot", "harm"),
    [
        ("cucumber", 3, False, "chills"),  # AH-66 pages 63-64, Table 1: 7 °C
        ("cucumber", 11, False, ""),
        ("basil", 2, False, "chills"),
        ("kale", -1, False, "freezes"),  # AH-66 pages 65-66
        ("lettuce-head", -1, False, "freezes"),
        ("lettuce-head", 2, True, "cold-spot"),
        ("parsnip", 2, True, ""),  # AH-66 page 66: least hurt by a light freeze
        ("tomato-ripe", 6.5, False, ""),  # within the ±1 °C a store can be held to
    ],
)
def test_a_place_is_judged_by_what_it_does_to_the_crop(key, celsius, cold_spot, harm):
    assert placing(REFERENCE[key], celsius, cold_spot).harm == harm


# Which published figures the rate goes by, on crops made for it; each figure by hand.


def made(**figures) -> Reference:
    """A crop of 100 days at 0 °C, otherwise as told."""
    return replace(q10_crop(), **figures)


@pytest.mark.parametrize("celsius", [-5, 7, 7.5])
def test_within_its_range_and_below_a_crop_ages_at_rate_1(celsius):
    """AH-66 pages 63 and 230: snap bean 7 to 7.5 °C."""
    assert rate(REFERENCE["snap-bean"], celsius) == 1
    assert rate(REFERENCE["snap-bean"], 7.6) > 1


def test_respiration_counts_from_what_it_is_at_the_top_of_the_range():
    """Mango respires 35, 58 and 113 mg/(kg h) at 10, 15 and 20 °C (pd05, hb66), best to 13 °C."""
    at_13 = 35 * (58 / 35) ** 0.6
    assert rate(REFERENCE["mango"], 15) == pytest.approx(58 / at_13)
    assert rate(REFERENCE["mango"], 20) == pytest.approx(113 / at_13)


def test_respiration_published_only_above_the_range_is_carried_down_by_q10():
    crop = made(respiration=((5, 10), (10, 20)))
    assert rate(crop, 5) == pytest.approx(3**0.5)
    assert rate(crop, 10) == pytest.approx(2 * 3**0.5)


def test_respiration_published_only_below_the_range_leaves_q10():
    crop = made(temp_low_c=30, temp_high_c=30, respiration=((5, 10), (10, 20)))
    assert rate(crop, 40) == pytest.approx(1.5)


def test_a_single_figure_of_respiration_tells_nothing_and_two_do():
    assert rate(made(respiration=((10, 99),)), 10) == pytest.approx(3)
    assert rate(made(respiration=((0, 10), (10, 20))), 10) == pytest.approx(2)


def test_published_lives_come_before_respiration():
    crop = made(other_lives=((10, 20),), respiration=((0, 10), (10, 20)))
    assert rate(crop, 10) == pytest.approx(100 / 20)


def test_a_published_life_is_set_against_the_middle_of_the_range_of_lives():
    crop = made(life_low_days=50, life_high_days=100, other_lives=((10, 25),))
    assert rate(crop, 10) == pytest.approx(75 / 25)


@pytest.mark.parametrize(("at_c", "expected"), [(1, 4), (2, 3**0.6 * 2.5**0.4)])
def test_figures_below_the_range_are_of_injury_and_from_its_low_end_on_of_life(at_c, expected):
    """Range 2 to 4 °C: a pair at 1 °C leaves respiration (10 to 40), one at 2 °C is a life."""
    crop = made(
        temp_low_c=2, temp_high_c=4, other_lives=((at_c, 3),), respiration=((4, 10), (14, 40))
    )
    assert rate(crop, 14) == pytest.approx(expected)


def test_a_life_published_at_the_top_of_the_range_is_the_ranges_own():
    crop = made(temp_high_c=4, other_lives=((4, 50), (14, 10)))
    assert rate(crop, 9) == pytest.approx(10**0.5)


def test_a_longer_life_when_warmer_is_not_believed():
    assert rate(made(other_lives=((10, 10), (20, 30))), 20) == pytest.approx(10)


def test_past_the_last_published_point_the_q10_bands_go_on():
    crop = made(other_lives=((15, 10),))
    assert rate(crop, 7.5) == pytest.approx(10**0.5)
    assert rate(crop, 20) == pytest.approx(10 * 2.5**0.5)
    assert rate(crop, 25) == pytest.approx(10 * 2.5**0.5 * 2**0.5)
    assert rate(crop, 35) == pytest.approx(10 * 2.5**0.5 * 2 * 1.5**0.5)


def test_the_rate_bends_at_published_points_and_where_a_q10_band_ends():
    assert kinks_c(REFERENCE["kale"]) == (0, 10, 20, 30)
    assert kinks_c(REFERENCE["broccoli"]) == (0, 5, 10, 20, 30)
    assert kinks_c(made(other_lives=((20, 10),))) == (0, 20, 30)


def test_a_farms_own_life_is_counted_with_at_every_temperature():
    own = q10_crop(14).with_life(10)
    assert life_days(own, 10) == pytest.approx(10 / 3)
    assert (own.base_days, own.generous_days) == (10, 10)
    assert life_used(own, [(5, 0)]) == 0.5


def test_no_time_at_all_uses_no_life():
    assert life_used(REFERENCE["kale"], [(0, 20)]) == 0
    assert life_used(REFERENCE["kale"], []) == 0
