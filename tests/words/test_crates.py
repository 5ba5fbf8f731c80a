"""A crate in words: the fridge, the cold, frost, and how warm it came in."""

from types import SimpleNamespace

import pytest
from django.utils import translation

from inventory.keeping import load_reference
from inventory.keeping.cooling import Cooling, StartFrom
from inventory.keeping.reference import load_sources
from inventory.queries.crates import FridgeDays
from inventory.words.crates import (
    _UNTITLED,
    far_past_among_words,
    far_past_words,
    freezing_words,
    fridge_words,
    reference_words,
    start_words,
    whole_past_words,
    why_words,
)

REFERENCE = load_reference()


@pytest.fixture(autouse=True)
def _in_english():
    with translation.override("en"):
        yield


@pytest.mark.parametrize(
    ("found", "unit", "said"),
    [
        (FridgeDays(5, 4.0, True), "C", "In a buyer's fridge at 4 °C: 5 days."),
        (FridgeDays(1, 4.0, True), "F", "In a buyer's fridge at 39 °F: 1 day."),
        (FridgeDays(14, 10, False), "C", "Not in the fridge: 14 days at 10 °C."),
        (FridgeDays(14, 12.5, False), "C", "Not in the fridge: 14 days at 13 °C."),
    ],
)
def test_a_crate_keeps_so_long_in_a_fridge_or_is_not_for_it(found, unit, said):
    assert fridge_words(found, unit) == said


def test_in_spanish_it_is_not_for_the_fridge_either():
    with translation.override("es"):
        assert fridge_words(FridgeDays(14, 10, False), "C").startswith("No en el refrigerador")


def crate(key: str, **life):
    lot = SimpleNamespace(crop=SimpleNamespace(reference=REFERENCE[key]), kept_until=None)
    return SimpleNamespace(lot=lot, life=SimpleNamespace(**life))


@pytest.mark.parametrize(
    ("key", "then"),
    [
        # USDA Agriculture Handbook 66 (2016), page 65, Table 2.
        ("lettuce-leaf", "One light freeze ruins it."),
        ("spinach", "It recovers from one or two light freezes."),
        ("kale", "It stands several light freezes."),
        ("salad-mix", ""),
    ],
)
def test_frost_is_told_with_its_point_its_hours_and_what_one_freeze_does(key, then):
    found = crate(key, frozen_h=1.5, freezing_assumed=False)
    point = REFERENCE[key].freezing_c
    said = f"It was at or below its freezing point, {point:g} °C, for 1 h 30 min. {then}"
    assert freezing_words(found, "C") == said.strip()


def test_an_assumed_freezing_point_is_said_to_be_assumed():
    found = crate("arugula", frozen_h=8.0, freezing_assumed=True)
    assert freezing_words(found, "C") == (
        "It was at or below -0.2 °C for 8 h. No freezing point of it is published: this one is "
        "assumed."
    )


@pytest.mark.parametrize(
    ("chill_used", "chill_days", "said"),
    [
        (1.1, 5.0, "Hurt by cold (5 days at 3 °C): look before you sell;"),
        (None, 1.2, "Too cold for 1 day, at 3 °C: look before you sell;"),
        (None, 19.9, "Too cold for 20 days, at 3 °C: look before you sell;"),
    ],
)
def test_what_the_cold_did_is_known_or_asked_for(chill_used, chill_days, said):
    found = crate("mango", chill_used=chill_used, chill_days=chill_days, chill_c=3.0)
    found.verdict = SimpleNamespace(why="chilled")
    assert why_words(found, "C") == said


@pytest.mark.parametrize(
    ("start_from", "said"),
    [
        (StartFrom.MEASURED, "It came in at 27.2 °C inside, measured."),
        (
            StartFrom.PROBES,
            "It came in at about 27.2 °C inside, reckoned back from its first probe.",
        ),
        (StartFrom.ASSUMED, "It came in at 27.2 °C inside: assumed, not measured."),
    ],
)
def test_how_warm_it_came_says_how_that_is_known(start_from, said):
    cooling = Cooling(0.0, 27.2, 2.0, 3.0, measured=True, start_from=start_from)
    assert start_words(cooling, "C") == said


def past(*days_over: int) -> list:
    """Crates so many days over; those of 0 are not past their time."""
    return [SimpleNamespace(days_over=days, is_over=days > 0) for days in days_over]


@pytest.mark.parametrize(
    ("days", "far", "said"),
    [
        (1, False, ""),
        (1, True, "It is 1 day past its time. Take it out all the same?"),
        (19, True, "It is 19 days past its time. Take it out all the same?"),
    ],
)
def test_what_is_asked_before_a_crate_far_past_goes_out(days, far, said):
    assert far_past_words(SimpleNamespace(days_over=days, is_far_past=far)) == said


def test_of_several_those_far_past_are_named():
    crates = [SimpleNamespace(code="5SR2TS1"), SimpleNamespace(code="P8J8RPJ")]
    asked = "Far past their time: 5SR2TS1, P8J8RPJ. Take them out all the same?"
    assert (far_past_among_words(crates), far_past_among_words([])) == (asked, "")


@pytest.mark.parametrize(
    ("crates", "said"),
    [
        (past(0, 0), ""),
        (past(3, 19), ""),  # each counts so already
        (past(0, 1), "The whole would count as 1 day over. Put them together all the same?"),
        (past(0, 3, 19), "The whole would count as 19 days over. Put them together all the same?"),
    ],
)
def test_what_is_asked_before_a_whole_counts_as_past_its_time(crates, said):
    assert whole_past_words(crates) == said


def test_printed_titles_stay_and_what_has_none_is_told_in_the_readers_language():
    broccoli, scapes = REFERENCE["broccoli"], REFERENCE["garlic-scapes"]
    said = {}
    for language in ("en", "es"):
        with translation.override(language):
            assert reference_words(broccoli) == "; ".join(broccoli.source_titles)
            said[language] = reference_words(scapes)
    assert said["en"] == (
        "Two growers' web pages on garlic scapes; No printed source found for the rest"
    )
    assert said["es"] == (
        "Dos páginas web de productores sobre tallos de flor de ajo; "
        "Para lo demás no se encontró fuente impresa"
    )


@pytest.mark.parametrize(
    ("key", "last"),
    [
        ("pea-shoots", "No printed source found"),
        ("chervil", "No printed source found for the rest"),
    ],
)
def test_what_nothing_printed_was_found_for_is_said_last(key, last):
    told = reference_words(REFERENCE[key]).split("; ")
    assert told[-1] == last
    assert len(told) == len(REFERENCE[key].source_titles)


def test_what_has_no_printed_title_is_called_as_the_list_of_sources_calls_it():
    for key, words in _UNTITLED.items():
        with translation.override("en"):
            assert str(words) == load_sources()[key]
