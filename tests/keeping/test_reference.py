"""The figures of crops.csv against the passages they were read in.

AH-66: USDA Agriculture Handbook 66 (2016 revision). The other sources are in SOURCES.md by key.
"""

import pytest

from inventory.keeping import FreezingClass, load_reference, placing

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
