"""A pasted order read against the farm's own crops, each line in the crates' own unit."""

from dataclasses import dataclass

from django.conf import settings
from django.utils.translation import gettext, override

from inventory.keeping import load_reference
from inventory.measures import NeedsCase, NeedsFigure, own_unit, plain
from inventory.models import Crop
from inventory.order_text import Doubt, Known, ReadLine, read_order
from inventory.queries.book import Wanted
from inventory.queries.orders import usual_case

# Said beside a line where a figure of the farm's lacks: no part of reading it.
NEEDS_WEIGHT, NEEDS_CASE = "needs-weight", "needs-case"


@dataclass(frozen=True)
class ReadWanted:
    """One piece of a pasted text. wanted: as understood, None where a person must look.

    doubts: why; crops: those it could mean. matters: whether it is about an order at all.
    """

    text: str
    wanted: Wanted | None
    doubts: tuple[str, ...] = ()
    crops: tuple[Crop, ...] = ()

    @property
    def matters(self) -> bool:
        return Doubt.NOT_AN_ORDER not in self.doubts


def read_wanted(text: str) -> list[ReadWanted]:
    """Return every piece of a text as it was understood."""
    crops = {crop.pk: crop for crop in Crop.objects.filter(grown=True)}
    known = [Known(crop.pk, _names(crop), crop.unit) for crop in crops.values()]
    return [_in_own_unit(line, crops) for line in read_order(text, known)]


def _names(crop: Crop) -> tuple[str, ...]:
    """Return everything a crop is called, in every language of the program."""
    reference = load_reference()[crop.reference_key]
    names = {crop.name, reference.name}
    for language, _name in settings.LANGUAGES:
        with override(language):
            names |= {crop.shown_name, crop.full_name, gettext(reference.short_name)}
    return tuple(sorted(filter(None, names)))


def _in_own_unit(line: ReadLine, crops: dict[int, Crop]) -> ReadWanted:
    could = tuple(crops[key] for key in line.candidates if key in crops)
    if line.doubts or line.crop is None or line.quantity is None or line.unit is None:
        return ReadWanted(line.text, None, tuple(line.doubts), could)
    crop = crops[line.crop]
    case = usual_case(crop, crop.unit) if line.unit == "case" else None
    try:
        quantity = own_unit(line.quantity, line.unit, crop.unit, crop.piece_weight_kg, case)
    except NeedsCase:
        return ReadWanted(line.text, None, (NEEDS_CASE,), (crop,))
    except NeedsFigure:
        return ReadWanted(line.text, None, (NEEDS_WEIGHT,), (crop,))
    asked = "" if line.unit == crop.unit else f"{plain(line.quantity)} {line.unit}"
    return ReadWanted(line.text, Wanted(crop, crop.unit, quantity, asked))
