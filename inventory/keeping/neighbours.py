"""What should not stand together, and why. Advice, never a block.

Rules as read in: USDA Agriculture Handbook 66 (2016), compatible groups, pages 54-58, after
Thompson, Kader and Sylva 1996, and its chapters ("hb66"); NC State Extension, Mixed Loads,
HIL-803, 1995 ("ncsu"); USDA Agriculture Handbook 668, 1989, in an extract ("ah668"); a list of
odours that carriers quote as that of UC Davis ("ucmix").
"""

from collections.abc import Iterable
from dataclasses import dataclass

from inventory.keeping.chilling import is_too_cold
from inventory.keeping.reference import Reference

_GIVES = frozenset({"high", "very-high"})
_FEELS = frozenset({"moderate", "high"})
# Strong sources by the handbook's marks or an extension list, whatever class a table puts them in
# (hb66, ncsu).
_KNOWN_SOURCES = frozenset(
    {
        "apple",
        "apple-chilling-sensitive",
        "apricot",
        "avocado",
        "banana",
        "cantaloupe",
        "honeydew",
        "kiwifruit",
        "mango",
        "nectarine",
        "peach",
        "pear",
        "plum",
        "tomato-mature-green",
        "tomato-ripe",
    }
)
# Of two that give it off neither is warned of, but for those named as giving and suffering: the
# handbook marks kiwifruit both ways (page 56) and plums sensitive, which HIL-803 has as a source.
_GIVES_AND_SUFFERS = frozenset({"kiwifruit", "plum"})
# Who says which odour passes to which crops: (source, words, keys that start so). The first that
# fits; what is left is in the list of HIL-803 ("ncsu").
_ODOUR_SOURCES = (
    ("hb66", {"ginger", "onion"}, ("eggplant",)),
    ("hb66", {"melon", "onion", "potato"}, ("okra",)),
    ("hb66", {"rutabaga"}, ("",)),
    ("ah668", {"green onion", "leek"}, ("fig", "grape-", "mushroom", "rhubarb", "sweet-corn")),
    ("ucmix", {"apple", "pear"}, ("fig",)),
    ("ucmix", {"pepper"}, ("",)),
)
_DRY_BELOW_PCT = 80.0
STONE_FRUIT = frozenset({"peach", "nectarine", "apricot"})
STONE_FRUIT_BAND_C = (2.0, 8.0)


@dataclass(frozen=True)
class Warning:
    """Why something stands badly. kind: "ethylene", "odour", "cold", "dry" or "stone-fruit".

    giver, taker: crop keys; for a crop in the wrong room they are the same.
    """

    kind: str
    giver: str
    taker: str
    source: str


def neighbour_warnings(one: Reference, other: Reference) -> list[Warning]:
    """Return what two crops in one room do to each other, each kind of harm once.

    Example: apple and topped carrots → ethylene and odour, both from the apple
    """
    found: dict[str, Warning] = {}
    for giver, taker in ((one, other), (other, one)):
        for warning in (*_ethylene(giver, taker), *_odour(giver, taker)):
            found.setdefault(warning.kind, warning)
    return list(found.values())


def _ethylene(giver: Reference, taker: Reference) -> list[Warning]:
    if not gives_ethylene(giver) or giver.key == taker.key or not feels_ethylene(taker):
        return []
    if gives_ethylene(taker) and taker.key not in _GIVES_AND_SUFFERS:
        return []
    return [Warning("ethylene", giver.key, taker.key, "hb66")]


def gives_ethylene(reference: Reference) -> bool:
    return reference.ethylene_production in _GIVES or reference.key in _KNOWN_SOURCES


def feels_ethylene(reference: Reference) -> bool:
    return reference.ethylene_sensitivity in _FEELS


def _odour(giver: Reference, taker: Reference) -> list[Warning]:
    words = set(giver.odour_gives) & set(taker.odour_takes)
    if giver.key == taker.key or not words:
        return []
    return [Warning("odour", giver.key, taker.key, _odour_source(words, taker.key))]


def _odour_source(words: set[str], taker: str) -> str:
    for source, said_of, takers in _ODOUR_SOURCES:
        if words & said_of and taker.startswith(takers):
            return source
    return "ncsu"


def room_warnings(reference: Reference, room_c: float, damp: bool = True) -> list[Warning]:
    """Return what a room does to a crop. damp: the room is as moist as greens need it."""
    found = []
    if is_too_cold(reference, room_c):
        found.append(Warning("cold", reference.key, reference.key, "hb66"))
    low, high = STONE_FRUIT_BAND_C
    if reference.key in STONE_FRUIT and low <= room_c <= high:
        found.append(Warning("stone-fruit", reference.key, reference.key, "hb66"))
    humidity = reference.humidity_high_pct
    if damp and humidity is not None and humidity < _DRY_BELOW_PCT:
        found.append(Warning("dry", reference.key, reference.key, "hb66"))
    return found


def company_warnings(one: Reference, others: Iterable[Reference]) -> list[Warning]:
    """Return what a crop and those that stand in a room would do to each other.

    Example: kale into a room with apples and carrots → ethylene from the apples
    """
    return [warning for other in others for warning in neighbour_warnings(one, other)]


def is_news(came_with_it: bool, somewhere_better: bool) -> bool:
    """Return whether a warning is worth saying as crates are put away.

    Once, when these crates bring it about, and for as long as something can be done about it. In
    one small room nothing can: said at each visit it would only teach people not to read.
    """
    return came_with_it or somewhere_better
