"""Kinds of crop and handbook names in words; what growers say is told apart in both languages."""

from collections import Counter

import pytest
from django.utils import translation

from inventory.keeping import load_reference
from inventory.models import Crop
from inventory.words.crops import GROUPS, group_words, handbook_words, search_names

ROWS = list(load_reference().values())
LANGUAGES = pytest.mark.parametrize("language", ["en", "es"])


@LANGUAGES
def test_every_kind_has_words_of_its_own(language):
    assert set(GROUPS) == {row.group for row in ROWS}
    with translation.override(language):
        words = [group_words(group) for group in GROUPS]
    assert len(set(words)) == len(words)


@LANGUAGES
def test_no_two_crops_have_one_full_name(language):
    with translation.override(language):
        names = Counter(Crop(reference_key=row.key).full_name for row in ROWS)
    assert [name for name, crops in names.items() if crops > 1] == []


@LANGUAGES
def test_the_same_crops_share_a_short_name_in_both_languages(language):
    """So that a variant stands beside a name exactly where the name alone would not do."""
    with translation.override(language):
        shared = Counter(translation.gettext(row.short_name) for row in ROWS)
        for row in ROWS:
            several = shared[translation.gettext(row.short_name)] > 1
            assert several == (row.variant != "" or row.key == "apple"), row.key


@LANGUAGES
def test_short_names_are_short(language):
    """A line of a label and of a button; a variant of three words at most."""
    with translation.override(language):
        for row in ROWS:
            assert len(translation.gettext(row.short_name)) <= 28, row.key
            assert len(translation.gettext(row.variant).split() if row.variant else []) <= 3


def test_the_handbooks_name_is_in_the_readers_language():
    romaine = load_reference()["lettuce-romaine"]
    with translation.override("en"):
        assert handbook_words(romaine) == "Lettuce, romaine (cos)"
    with translation.override("es"):
        assert handbook_words(romaine) == "Lechuga orejona (romana)"


def test_the_search_box_knows_names_without_accents():
    names = search_names(Crop(reference_key="arugula"))
    assert "arugula" in names
    assert "rucula" in names
