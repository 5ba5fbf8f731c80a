"""Finding by what people say: a crop in either language, a field, a supplier, a buyer, a place."""

import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from typing import TypeVar

from django.db.models import Q

from inventory.codes import is_tail
from inventory.models import Crop, Farm, Movement, Outlet, Position, Room, Source
from inventory.queries.book import BookOrder, read_book
from inventory.queries.crates import Crate, by_tail, crates_here, totals
from inventory.queries.crops import crop_names, folded
from inventory.queries.tags import Hanging, tags_ending

LATELY = timedelta(days=14)
MOST_GONE = 12  # entries of what went to a buyer
_LEAST_BEGINNING = 2  # letters of a word that are enough
_Row = TypeVar("_Row", Outlet, Room, Source)
_WORD = re.compile(r"[^\W_]+")


@dataclass(frozen=True)
class InAll:
    """What there is of a crop. free: (unit, sum) of what may be used; held: of what may not."""

    crop: Crop
    free: list[tuple[str, Decimal]]
    held: list[tuple[str, Decimal]]


@dataclass(frozen=True)
class InHouse:
    """What was named, a crop or a source, and its crates in the house, oldest first in a crop."""

    named: Crop | Source
    crates: list[Crate]
    sums: list[InAll]

    @property
    def name(self) -> str:
        return str(self.named)


@dataclass(frozen=True)
class Buyer:
    """A buyer, its orders that are open, and what went to it lately, latest first."""

    outlet: Outlet
    orders: list[BookOrder]
    gone: list[Movement]


@dataclass(frozen=True)
class Found:
    """Everything that answers to what was typed.

    by_code: crates whose code, or whose tag's, ends in it; tags: the tags whose code does.
    """

    by_code: list[Crate] = field(default_factory=list)
    tags: list[Hanging] = field(default_factory=list)
    in_house: list[InHouse] = field(default_factory=list)
    buyers: list[Buyer] = field(default_factory=list)
    places: list[Position] = field(default_factory=list)
    rooms: list[Room] = field(default_factory=list)

    def __bool__(self) -> bool:
        return any((self.places, *self._others))

    @property
    def only_place(self) -> Position | None:
        """The place, where it alone was found."""
        return self.places[0] if self.places and not any(self._others) else None

    @property
    def _others(self) -> tuple[list, ...]:
        return self.by_code, self.tags, self.in_house, self.buyers, self.rooms


def find(typed: str, farm: Farm, at: datetime) -> Found:
    """Return what was named, or the crates whose code ends in what was typed."""
    return Found(
        by_code=by_tail(typed, farm, at) if is_tail(typed) else [],
        tags=tags_ending(typed) if is_tail(typed) else [],
        in_house=_in_house(typed, farm, at),
        buyers=[_buyer(outlet, farm, at) for outlet in _buyers_named(typed)],
        places=[place for place in Position.objects.all() if is_label(typed, place)],
        rooms=_named(Room.objects.all(), typed),
    )


def _buyers_named(typed: str) -> list[Outlet]:
    return _named(Outlet.objects.filter(in_use=True), typed)


def matches(typed: str, name: str) -> bool:
    """Return whether every word typed is a word of a name or begins one.

    Accents and case do not count, nor does a plural. Example: matches("tomates", "Tomate, verde").
    """
    words = _words(name)
    return bool(_words(typed)) and all(
        any(_is_word(typed_word, word) for word in words) for typed_word in _words(typed)
    )


def is_label(typed: str, place: Position) -> bool:
    """Return whether this is the name on a place's label: A3, a 3."""
    return "".join(_words(typed)) == "".join(_words(place.name))


def _words(text: str) -> list[str]:
    return _WORD.findall(folded(text))


def _is_word(typed: str, word: str) -> bool:
    if typed == word or typed in _plurals(word) or word in _plurals(typed):
        return True
    # A figure is meant whole: bed 1 is not bed 12.
    whole = typed.isdigit() or len(typed) < _LEAST_BEGINNING
    return not whole and word.startswith(typed)


def _plurals(word: str) -> set[str]:
    """Return a word's plurals as English and Spanish make them."""
    plurals = {f"{word}s", f"{word}es"}
    if word.endswith("y"):
        plurals.add(f"{word[:-1]}ies")
    if word.endswith("z"):
        plurals.add(f"{word[:-1]}ces")
    return plurals


def _named(rows: Iterable[_Row], typed: str) -> list[_Row]:
    return [row for row in rows if matches(typed, row.name)]


def _in_house(typed: str, farm: Farm, at: datetime) -> list[InHouse]:
    """Return crops, then fields and suppliers of that name; given up ones only with crates."""
    crops = [
        crop
        for crop in Crop.objects.all()
        if any(matches(typed, name) for name in crop_names(crop))
    ]
    sources = _named(Source.objects.all(), typed)
    if not (crops or sources):
        return []
    crates = crates_here(farm, at, None if sources else Q(crop__in=crops))
    of_crops = [
        _summed(crop, [crate for crate in crates if crate.lot.crop_id == crop.pk], farm)
        for crop in sorted(crops, key=lambda crop: crop.shown_name.lower())
    ]
    of_sources = [
        _summed(source, [crate for crate in crates if source in crate.lot.origins], farm)
        for source in sources
    ]
    return [found for found in (*of_crops, *of_sources) if found.crates or _is_used(found.named)]


def _is_used(named: Crop | Source) -> bool:
    return named.grown if isinstance(named, Crop) else named.in_use


def _summed(named: Crop | Source, crates: list[Crate], farm: Farm) -> InHouse:
    by_crop: dict[Crop, list[Crate]] = defaultdict(list)
    for crate in crates:
        by_crop[crate.lot.crop].append(crate)
    sums = [
        InAll(
            crop,
            free=_total((crate for crate in of_crop if not crate.lot.held), farm),
            held=_total((crate for crate in of_crop if crate.lot.held), farm),
        )
        for crop, of_crop in by_crop.items()
    ]
    return InHouse(named, crates, sorted(sums, key=lambda row: row.crop.shown_name.lower()))


def _total(crates: Iterable[Crate], farm: Farm) -> list[tuple[str, Decimal]]:
    return totals(((crate.lot.unit, crate.lot.quantity) for crate in crates), farm.weight_unit)


def _buyer(outlet: Outlet, farm: Farm, at: datetime) -> Buyer:
    gone = (
        Movement.objects.filter(
            kind=Movement.Kind.OUT,
            outlet=outlet,
            undone_by__isnull=True,
            occurred_at__gte=at - LATELY,
        )
        .select_related("lot__crop", "lot__intake")
        .order_by("-occurred_at", "-pk")
    )
    orders = [order for order in read_book(farm, at) if order.outlet == outlet]
    return Buyer(outlet, orders, list(gone[:MOST_GONE]))
