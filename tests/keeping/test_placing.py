"""Where a crop may stand: freezing corners, the cold, and how long it keeps there.

AH-66: USDA Agriculture Handbook 66 (2016 revision). The other sources are in SOURCES.md by key.
"""

import pytest

from inventory.keeping import Harm, life_days, load_reference, placing

REFERENCE = load_reference()


@pytest.mark.parametrize(
    ("key", "celsius", "harm"),
    [
        ("kale", -0.5, Harm.FREEZES),  # hb66, as in crops.csv: at exactly its point
        ("kale", -0.4, Harm.NONE),
        ("arugula", -0.2, Harm.FREEZES),  # none is published: assumed, ours
        ("arugula", -0.1, Harm.NONE),
        ("basil", -1, Harm.FREEZES),  # worse than the cold
        ("basil", 2, Harm.CHILLS),  # ucd, as in crops.csv: lowest safe 12 °C, less 1
        ("basil", 10.9, Harm.CHILLS),
        ("basil", 11, Harm.NONE),
        ("mango", 3, Harm.CHILLS),  # without published days to injury, too
    ],
)
def test_what_a_place_does_to_a_crop(key, celsius, harm):
    found = placing(REFERENCE[key], celsius)
    assert found.harm == harm
    assert found.fits == (harm == Harm.NONE)


@pytest.mark.parametrize(
    ("key", "harm"),
    [
        ("parsnip", Harm.NONE),  # AH-66 page 65, Table 2: least
        ("turnip", Harm.NONE),
        ("apple", Harm.COLD_SPOT),  # moderate: stands one or two, not more
        ("lettuce-leaf", Harm.COLD_SPOT),  # most
        ("arugula", Harm.COLD_SPOT),  # in no class
        ("kale", Harm.COLD_SPOT),  # least, but leaves: common practice, no source
    ],
)
def test_a_known_freezing_corner_is_for_what_stands_several_light_freezes(key, harm):
    assert placing(REFERENCE[key], 2, cold_spot=True).harm == harm
    assert placing(REFERENCE[key], 2).harm == Harm.NONE


def test_a_place_too_cold_is_called_so_before_its_corner():
    assert placing(REFERENCE["basil"], 2, cold_spot=True).harm == Harm.CHILLS


def test_how_long_it_keeps_is_by_the_places_own_temperature():
    """AH-66 pages 68-69, Table 2: three times as fast at 10 °C; kale 14 days at 0."""
    assert placing(REFERENCE["kale"], 10).life_days == pytest.approx(14 / 3)
    assert placing(REFERENCE["kale"], 2).life_days == life_days(REFERENCE["kale"], 2)
