"""Choosing among all the crops there are: by kind, and by any of their names."""

import unicodedata
from collections.abc import Iterable

from django.conf import settings
from django.utils.translation import gettext, override

from inventory.keeping import load_reference
from inventory.models import Crop

# What else a crop is called where the shown name is another; only for looking. From memory.
_ALSO = {"Tomatoes": "tomate", "Cherry tomatoes": "tomate cherry"}


def by_name(crops: Iterable[Crop]) -> list[Crop]:
    return sorted(crops, key=lambda crop: folded(crop.full_name))


def by_group(crops: Iterable[Crop]) -> dict[str, list[Crop]]:
    """Return the crops of each kind that has any, by name. The key is the reference's group."""
    groups: dict[str, list[Crop]] = {row.group: [] for row in load_reference().values()}
    for crop in by_name(crops):
        groups[crop.reference.group].append(crop)
    return {group: found for group, found in groups.items() if found}


def called(text: str, crops: Iterable[Crop]) -> list[Crop]:
    """Return the crops of which some name holds every word that was typed."""
    words = folded(text).split()
    return [crop for crop in crops if all(word in names_of(crop) for word in words)]


def crop_names(crop: Crop) -> set[str]:
    """Return every name of a crop in each language: the farm's, the everyday, the handbook's."""
    reference = load_reference()[crop.reference_key]
    names = {crop.name, _ALSO.get(reference.short_name, "")}
    for language, _words in settings.LANGUAGES:
        with override(language):
            everyday = [gettext(part) for part in (reference.short_name, reference.variant) if part]
            names |= {" ".join(everyday), gettext(reference.name)}
    return names - {""}


def names_of(crop: Crop) -> str:
    """Return every name of a crop in one text, folded, to look for words in."""
    return folded(" ".join(sorted(crop_names(crop))))


def folded(text: str) -> str:
    """Return a text without capitals and accents, so that it is found however it is typed."""
    plain = unicodedata.normalize("NFKD", text)
    return "".join(letter for letter in plain if not unicodedata.combining(letter)).casefold()
