"""What should not stand together, against the published groups and mixed-load rules.

AH-66: USDA Agriculture Handbook 66 (2016), compatible groups, pages 54-58. NC State Extension,
HIL-803 Mixed Loads (1995).
"""

import pytest

from inventory.keeping import load_reference
from inventory.keeping.neighbours import (
    feels_ethylene,
    gives_ethylene,
    neighbour_warnings,
    room_warnings,
)

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


# AH-66 pages 55-56, the dagger: sensitive to ethylene damage. Rows that are in the table by name.
MARKED_SENSITIVE = """
    arugula asparagus broccoli brussels-sprouts cabbage-early cabbage-late carrot-topped
    cauliflower celery chicory-witloof chives cilantro collards cucumber daikon dill
    eggplant endive-escarole fennel grapefruit green-onion kale kiwifruit leek lemon lettuce-head
    lettuce-leaf lettuce-romaine lime mint mustard-greens napa-cabbage okra parsley pea-pod
    persimmon plum quince shallot snow-pea spinach summer-squash sweet-potato swiss-chard
    turnip-greens watercress winter-squash-acorn winter-squash-butternut
"""
# AH-66 page 56, the double dagger: produces significant ethylene.
MARKED_PRODUCER = "apple apricot avocado banana cantaloupe honeydew kiwifruit mango"
# AH-66 page 55: no mark, and no chapter says otherwise.
UNMARKED = """
    artichoke beet-topped celeriac garlic ginger horseradish jerusalem-artichoke kohlrabi
    onion-bulb pepper-sweet potato-late radish-topped rhubarb rutabaga salsify sprouts-mung turnip
"""


@pytest.mark.parametrize("key", MARKED_SENSITIVE.split())
def test_what_the_handbook_marks_sensitive_feels_ethylene(key):
    assert feels_ethylene(REFERENCE[key])


@pytest.mark.parametrize("key", MARKED_PRODUCER.split())
def test_what_the_handbook_marks_a_producer_gives_ethylene(key):
    assert gives_ethylene(REFERENCE[key])


@pytest.mark.parametrize("key", UNMARKED.split())
def test_what_the_handbook_leaves_unmarked_does_neither(key):
    assert not feels_ethylene(REFERENCE[key])
    assert not gives_ethylene(REFERENCE[key])


@pytest.mark.parametrize("key", ["kiwifruit", "plum"])
def test_what_is_marked_both_ways_ages_others_and_is_aged(key):
    """AH-66 pages 56 and 374: kiwifruit, both marks; plum: sensitive there, a source in HIL-803."""
    (gives,) = neighbour_warnings(REFERENCE[key], REFERENCE["kale"])
    assert (gives.kind, gives.giver, gives.taker) == ("ethylene", key, "kale")
    (takes,) = neighbour_warnings(REFERENCE[key], REFERENCE["banana"])
    assert (takes.kind, takes.giver, takes.taker) == ("ethylene", "banana", key)


# (gives the odour, takes it, source as in neighbours.py); pages are those of AH-66.
PUBLISHED_ODOURS = [
    ("apple", "cabbage-late", "ncsu"),
    ("apple", "carrot-topped", "ncsu"),
    ("apple", "celery", "ncsu"),
    ("apple", "onion-bulb", "ncsu"),
    ("apple", "potato-late", "ncsu"),
    ("pear", "celery", "ncsu"),
    ("asian-pear", "carrot-bunched", "ncsu"),
    ("onion-bulb", "celery", "ncsu"),
    ("onion-bulb", "apple", "ncsu"),
    ("onion-bulb", "pear", "ncsu"),
    ("onion-bulb", "orange", "ncsu"),  # strongly scented vegetables with citrus
    ("onion-bulb", "potato-late", "ncsu"),  # onions, citrus and potatoes: each best alone
    ("orange", "potato-late", "ncsu"),
    ("garlic", "lemon", "ncsu"),
    ("carrot-topped", "celery", "ncsu"),
    ("potato-late", "apple", "ncsu"),
    ("potato-late", "pear", "ncsu"),
    ("potato-late", "asian-pear", "ncsu"),
    ("ginger", "eggplant", "hb66"),  # page 323
    ("onion-bulb", "eggplant", "hb66"),
    ("onion-bulb", "okra", "hb66"),  # page 431
    ("potato-late", "okra", "hb66"),
    ("cantaloupe", "okra", "hb66"),
    ("rutabaga", "apple", "hb66"),  # page 537: to fruits and leafy vegetables
    ("rutabaga", "strawberry", "hb66"),
    ("rutabaga", "kale", "hb66"),
    ("green-onion", "fig", "ah668"),
    ("green-onion", "grape-table", "ah668"),
    ("green-onion", "mushroom", "ah668"),
    ("green-onion", "rhubarb", "ah668"),
    ("green-onion", "sweet-corn", "ah668"),
    ("leek", "fig", "ah668"),
    ("leek", "grape-american", "ah668"),
    ("apple", "fig", "ucmix"),
    ("pepper-sweet", "snap-bean", "ucmix"),
    ("pepper-sweet", "avocado", "ucmix"),
]
# Given, and no crop of the table takes it: avocado taints pineapples (ucmix).
WITHOUT_PARTNER = {"avocado"}


@pytest.mark.parametrize(("giver", "taker", "source"), PUBLISHED_ODOURS)
def test_every_published_odour_pair_fires_with_its_source(giver, taker, source):
    found = neighbour_warnings(REFERENCE[giver], REFERENCE[taker])
    (odour,) = (warning for warning in found if warning.kind == "odour")
    assert (odour.giver, odour.taker, odour.source) == (giver, taker, source)


def test_every_odour_given_is_taken_by_some_crop_and_the_other_way_round():
    given = {word for row in REFERENCE.values() for word in row.odour_gives}
    taken = {word for row in REFERENCE.values() for word in row.odour_takes}
    assert given - taken == WITHOUT_PARTNER
    assert taken - given == set()


@pytest.mark.parametrize("key", ["potato-late", "kiwifruit", "apple"])
def test_a_crop_does_its_own_kind_no_harm(key):
    assert neighbour_warnings(REFERENCE[key], REFERENCE[key]) == []
