"""What should not stand together, against the published groups and mixed-load rules.

AH-66: USDA Agriculture Handbook 66 (2016), compatible groups, pages 54-58. NC State Extension,
HIL-803 Mixed Loads (1995).
"""

import pytest

from inventory.keeping import load_reference
from inventory.keeping.neighbours import neighbour_warnings, room_warnings

REFERENCE = load_reference()


@pytest.mark.parametrize(
    ("one", "other", "kinds"),
    [
        ("apple", "carrot-topped", ["ethylene", "odour"]),  # HIL-803
        ("celery", "onion-bulb", ["odour"]),  # HIL-803
        ("lettuce-leaf", "tomato-ripe", ["ethylene"]),  # AH-66 pages 54-57; tomato: HIL-803
        ("broccoli", "cabbage-early", []),  # AH-66 pages 54-57: both group 1A
        ("beet-topped", "tomato-ripe", []),  # AH-66 pages 54-57: beet is not marked
        ("apple", "pear", []),  # both give it off
        ("kale", "kale", []),
    ],
)
def test_pairs(one, other, kinds):
    for first, second in ((one, other), (other, one)):
        found = neighbour_warnings(REFERENCE[first], REFERENCE[second])
        assert sorted(warning.kind for warning in found) == kinds
        assert all(warning.source for warning in found)


@pytest.mark.parametrize(
    ("key", "celsius", "kinds"),
    [
        ("cucumber", 3, ["cold"]),  # AH-66 pages 63-64, Table 1: 7 °C
        ("cucumber", 11, []),
        ("onion-bulb", 2, ["dry"]),  # AH-66: 65-75 % RH
        ("peach", 5, ["stone-fruit"]),
        ("peach", 0, []),
        ("kale", 2, []),
    ],
)
def test_rooms(key, celsius, kinds):
    assert [warning.kind for warning in room_warnings(REFERENCE[key], celsius)] == kinds
