"""What should not stand together, against the published groups and mixed-load rules.

AH-66: USDA Agriculture Handbook 66 (2016), compatible groups, pages 54-58. NC State Extension,
HIL-803 Mixed Loads (1995).
"""

from dataclasses import replace
from itertools import product

import pytest

from inventory.keeping import load_reference
from inventory.keeping.neighbours import (
    Warning,
    company_warnings,
    feels_ethylene,
    gives_ethylene,
    is_news,
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


# Kale neither gives nor feels by name: only its classes tell.
def kale(gives="", feels=""):
    return replace(REFERENCE["kale"], ethylene_production=gives, ethylene_sensitivity=feels)


CLASSES = ("", "very-low", "low", "moderate", "high", "very-high")


@pytest.mark.parametrize("gives", CLASSES)
def test_ethylene_is_given_by_the_two_highest_classes_of_production(gives):
    """AH-66 pages 54-58: those that produce much stand apart from those that are sensitive."""
    assert gives_ethylene(kale(gives=gives)) is (gives in {"high", "very-high"})


@pytest.mark.parametrize("feels", CLASSES[:-1])
def test_ethylene_is_felt_by_the_moderately_and_the_highly_sensitive(feels):
    """AH-66 pages 54-58: those marked in the compatible groups."""
    assert feels_ethylene(kale(feels=feels)) is (feels in {"moderate", "high"})
    warnings = neighbour_warnings(REFERENCE["apple"], kale(feels=feels))
    assert [warning.kind for warning in warnings] == (
        ["ethylene"] if feels in {"moderate", "high"} else []
    )


@pytest.mark.parametrize(
    "key",
    [
        "apple", "apple-chilling-sensitive", "apricot", "avocado", "banana", "cantaloupe",
        "honeydew", "kiwifruit", "mango", "nectarine", "peach", "pear", "plum",
        "tomato-mature-green", "tomato-ripe",
    ],
)  # fmt: skip
def test_the_sources_that_lists_name_give_whatever_their_class(key):
    """HIL-803; AH-66 pages 54-58."""
    assert gives_ethylene(replace(REFERENCE[key], ethylene_production="low"))


def test_odours_pass_by_the_words_that_two_rows_share_and_never_within_a_crop():
    giver = replace(REFERENCE["kale"], key="leek", odour_gives=("leek",))
    taker = replace(REFERENCE["kale"], key="fig", odour_takes=("onion", "leek"))
    assert neighbour_warnings(taker, giver) == [Warning("odour", "leek", "fig", "ah668")]
    assert neighbour_warnings(taker, replace(giver, key="fig")) == []


@pytest.mark.parametrize(
    ("word", "taker", "source"),
    [
        ("ginger", "eggplant", "hb66"),
        ("onion", "eggplant", "hb66"),
        ("melon", "okra", "hb66"),
        ("onion", "okra", "hb66"),
        ("potato", "okra", "hb66"),
        ("melon", "eggplant", "ncsu"),
        ("rutabaga", "fig", "hb66"),
        *product(
            ("green onion", "leek"),
            ("fig", "grape-table", "grape-american", "mushroom", "rhubarb", "sweet-corn"),
            ["ah668"],
        ),
        ("leek", "celery", "ncsu"),
        ("apple", "fig", "ucmix"),
        ("pear", "fig", "ucmix"),
        ("apple", "celery", "ncsu"),
        ("pepper", "celery", "ucmix"),
    ],
)
def test_each_odour_names_who_says_so(word, taker, source):
    """AH-66 pages 323, 431 and 537; AH-668; the carriers' list: the key of each is its source."""
    giver = replace(kale(), key="x", odour_gives=(word,))
    (found,) = neighbour_warnings(giver, replace(kale(), key=taker, odour_takes=(word,)))
    assert (found.giver, found.taker, found.source) == ("x", taker, source)


def test_each_harm_is_told_once_and_from_whom():
    found = neighbour_warnings(REFERENCE["carrot-topped"], REFERENCE["apple"])
    assert {(warning.kind, warning.giver, warning.taker) for warning in found} == {
        ("ethylene", "apple", "carrot-topped"), ("odour", "apple", "carrot-topped"),
    }  # fmt: skip
    assert {warning.source for warning in found if warning.kind == "ethylene"} == {"hb66"}


@pytest.mark.parametrize("key", ["peach", "nectarine", "apricot"])
@pytest.mark.parametrize(
    ("celsius", "hurt"), [(1.9, False), (2, True), (5, True), (8, True), (8.1, False)]
)
def test_stone_fruit_is_hurt_most_from_two_to_eight_degrees(key, celsius, hurt):
    """AH-66, chapter Peach: internal breakdown is worst between 2.2 and 7.6 °C (from memory)."""
    kinds = [warning.kind for warning in room_warnings(REFERENCE[key], celsius)]
    assert ("stone-fruit" in kinds) is hurt
    assert "stone-fruit" not in [w.kind for w in room_warnings(REFERENCE["plum"], celsius)]


@pytest.mark.parametrize(
    ("high_pct", "damp", "dry"),
    [(79, True, True), (80, True, False), (75, False, False), (None, True, False)],
)
def test_what_wants_it_dry_is_told_in_a_damp_room(high_pct, damp, dry):
    """Below 80 % RH: ours, no source; onions and squash at most 75 (AH-66)."""
    crop = replace(REFERENCE["onion-bulb"], humidity_high_pct=high_pct)
    assert [warning.kind for warning in room_warnings(crop, 2, damp)] == ["dry"] * dry


def test_a_room_is_damp_unless_said_otherwise_and_each_warning_names_the_crop():
    assert room_warnings(REFERENCE["onion-bulb"], 2) == [
        Warning("dry", "onion-bulb", "onion-bulb", "hb66")
    ]
    assert room_warnings(REFERENCE["cucumber"], 3) == [
        Warning("cold", "cucumber", "cucumber", "hb66")
    ]
    assert room_warnings(REFERENCE["peach"], 5) == [
        Warning("stone-fruit", "peach", "peach", "hb66")
    ]


def test_what_a_crop_does_and_takes_in_a_room_of_several():
    """Kale: AH-66 pages 54-57, with apples as in HIL-803; carrots do it nothing."""
    room = [REFERENCE[key] for key in ("apple", "carrot-topped", "kale")]
    (aged,) = company_warnings(REFERENCE["kale"], room)
    assert (aged.kind, aged.giver, aged.taker) == ("ethylene", "apple", "kale")
    found = company_warnings(REFERENCE["apple"], room)
    assert {(warning.giver, warning.taker) for warning in found} == {
        ("apple", "carrot-topped"), ("apple", "kale"),
    }  # fmt: skip
    assert company_warnings(REFERENCE["kale"], []) == []


@pytest.mark.parametrize(
    ("came_with_it", "somewhere_better", "said"),
    [(True, True, True), (True, False, True), (False, True, True), (False, False, False)],
)
def test_what_nobody_can_follow_is_said_once(came_with_it, somewhere_better, said):
    assert is_news(came_with_it, somewhere_better) == said
