"""The figures of crops.csv against the passages they were read in.

AH-66: USDA Agriculture Handbook 66 (2016 revision). The other sources are in SOURCES.md by key.
"""

import re

import pytest

from inventory.keeping import FreezingClass, load_reference, placing
from inventory.keeping.reference import _pairs, load_sources

REFERENCE = load_reference()


def keys_of(freezing_class: FreezingClass) -> set[str]:
    return {key for key, row in REFERENCE.items() if row.freezing_class is freezing_class}


MOST = """
    apricot asparagus avocado banana snap-bean strawberry raspberry blackberry blueberry
    currant-black currant-red gooseberry cucumber eggplant lemon lettuce-head lettuce-romaine
    lettuce-leaf lime okra peach nectarine pepper-sweet plum potato-early potato-late
    summer-squash sweet-potato tomato-mature-green tomato-ripe tomato-cherry
"""
MODERATE = """
    apple apple-chilling-sensitive broccoli cabbage-early carrot-topped carrot-young-topped
    carrot-bunched cauliflower celery cranberry grapefruit grape-table grape-american onion-bulb
    onion-sweet orange parsley pear pea-pod snow-pea sugar-snap-pea radish-topped radish-bunched
    spinach winter-squash-acorn winter-squash-butternut winter-squash-buttercup
    winter-squash-hubbard
"""
LEAST = "beet-topped brussels-sprouts cabbage-late kale kohlrabi parsnip rutabaga salsify turnip"


@pytest.mark.parametrize(
    ("name", "keys"), [("most", MOST), ("moderate", MODERATE), ("least", LEAST)]
)
def test_freezing_classes_are_the_handbooks(name, keys):
    """AH-66 page 65, Table 2; early cabbage: prod04, Table 4."""
    assert keys_of(FreezingClass(name)) == set(keys.split())


def test_crops_the_handbook_does_not_class_have_no_class():
    """AH-66 page 65, Table 2, names neither."""
    assert REFERENCE["arugula"].freezing_class is FreezingClass.UNKNOWN
    assert REFERENCE["cilantro"].freezing_class is FreezingClass.UNKNOWN


@pytest.mark.parametrize(
    ("key", "harm"),
    [
        ("salsify", ""),  # AH-66 page 65: least
        ("turnip", ""),
        ("carrot-topped", "cold-spot"),  # moderate: gets over one or two, not more
        ("kale", "cold-spot"),  # least, but the trade keeps leaves away: common practice, no source
    ],
)
def test_a_freezing_corner_is_for_what_stands_several_light_freezes(key, harm):
    assert placing(REFERENCE[key], 2, cold_spot=True).harm == harm


@pytest.mark.parametrize(
    ("key", "low_c", "high_c", "safe_c"),
    [
        ("eggplant", 10, 12, 7),  # AH-66 pages 322 and 63
        ("snap-bean", 7, 7.5, 7),  # AH-66 page 63: lowest safe 7 °C; page 230: up to 7.5
        ("tomatillo", 7, 10, 7),  # AH-66 page 55: group 2, 7 to 10 °C
        ("asparagus", 2, 2, 2),  # ucd: 14 to 21 days at 2 °C; AH-66 page 63: lowest safe 0 to 2
        ("pak-choi", 0, 2, None),  # aus: 2 °C; AH-66 page 243: as cold as can be
        ("parsnip", 0, 1, None),  # AH-66 page 457: 0 to 1 °C
        ("winter-squash-acorn", 10, 13, 10),  # AH-66 page 515: all winter squash 10 to 13 °C
        ("winter-squash-butternut", 10, 13, 10),
        # ranges end
    ],
)
def test_recommended_range_and_lowest_safe_temperature(key, low_c, high_c, safe_c):
    crop = REFERENCE[key]
    assert (crop.temp_low_c, crop.temp_high_c, crop.chilling_c) == (low_c, high_c, safe_c)


def test_a_row_is_read_with_all_its_figures():
    """Broccoli, hb66: range, humidity, life and freezing point, and Table 1, pages 7-10."""
    row = REFERENCE["broccoli"]
    assert (row.key, row.name, row.group) == ("broccoli", "Broccoli", "brassica")
    assert (row.temp_low_c, row.temp_high_c) == (0, 0)
    assert (row.humidity_low_pct, row.humidity_high_pct) == (98, 100)
    assert (row.life_low_days, row.life_high_days) == (14, 21)
    assert (row.freezing_c, row.freezing_class) == (-0.6, FreezingClass.MODERATE)
    assert (row.chilling_c, row.own_days) == (None, None)
    assert (row.ethylene_production, row.ethylene_sensitivity) == ("very-low", "high")
    assert row.other_lives == ((5, 14), (10, 5))
    assert row.respiration == ((0, 21), (5, 34), (10, 81), (15, 170), (20, 300))
    assert (row.source, row.evidence) == ("hb66;ucd", "read")


def test_gaps_in_a_row_are_none_or_nothing():
    """hb66, Table 1: peach at 0, 10 and 20 °C; leek to 25 °C. Arugula has no freezing point."""
    assert REFERENCE["peach"].respiration == ((0, 5), (10, 20), (20, 87))
    assert REFERENCE["leek"].respiration[-1] == (25, 113)
    assert REFERENCE["kale"].respiration == ()
    assert (REFERENCE["arugula"].freezing_c, REFERENCE["arugula"].other_lives) == (None, ())
    assert (REFERENCE["mango"].chilling_c, REFERENCE["peach"].temp_low_c) == (10, -0.5)
    assert (REFERENCE["apple"].odour_gives, REFERENCE["kale"].odour_gives) == (("apple",), ())
    assert REFERENCE["apple"].odour_takes[:2] == ("potato", "onion")


def test_published_lives_are_in_order_of_temperature_however_they_are_written():
    assert _pairs("10:5;0:1.5;5:3") == ((0, 1.5), (5, 3), (10, 5))
    for row in REFERENCE.values():
        assert list(row.other_lives) == sorted(row.other_lives)


def test_the_farms_own_life_takes_the_place_of_the_range_and_leaves_the_rest():
    kale = REFERENCE["kale"]
    assert (kale.base_days, kale.generous_days) == (14, 21)
    own = kale.with_life(9.5)
    assert (own.base_days, own.generous_days, own.life_low_days) == (9.5, 9.5, 14)
    assert own.key == "kale"


def test_sources_are_told_by_title_the_main_one_first():
    titles = REFERENCE["broccoli"].source_titles
    assert titles == [load_sources()["hb66"], load_sources()["ucd"]]
    used = {key for row in REFERENCE.values() for key in row.source.split(";")}
    assert used <= set(load_sources())
    assert "key" not in load_sources()


def test_titles_are_about_the_source_never_about_who_remembered_or_compiled_it():
    """Common practice, no source: how each was seen stands in the column beside."""
    assert len(load_sources()) > 20
    for title in load_sources().values():
        assert not re.search(r"memory|compiler|repository|not checked|not shown", title), title
