"""What is in the house as one walks along the shelves: the table of the look, of catching up and
of the sheet at the door."""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import chain, groupby
from uuid import UUID, uuid5

from django.db.models import Q

from inventory.models import Action, Farm, Position
from inventory.queries.book import plan_book
from inventory.queries.crates import Crate, crates_here
from inventory.queries.orders import OrderNow, order_now
from inventory.rotation import Worklist

TO_LOOK_AT = (Worklist.DISCARD, Worklist.LOOK)
MOST_AT_ONCE = 200  # crates something is said of in one form
SHEET_ROWS = 26  # of crates and orders on one page of paper, Letter or A4


@dataclass(frozen=True)
class PlaceRow:
    """The crates of one place; position: None for what is not put away."""

    position: Position | None
    crates: list[Crate]


def by_place(crates: Iterable[Crate]) -> list[PlaceRow]:
    """Return crates by place in the order one walks; what waits to be put away comes last."""
    ordered = sorted(crates, key=_walk)
    groups = groupby(ordered, key=lambda crate: crate.lot.position)
    return [PlaceRow(position, list(group)) for position, group in groups]


def _walk(crate: Crate) -> tuple:
    position = crate.lot.position
    there = (0, position.walk, position.pk) if position else (1, 0, "")
    return (*there, crate.lot.crop.shown_name.lower(), crate.key)


def read_all(farm: Farm, at: datetime) -> list[PlaceRow]:
    """Return every crate in the house by place."""
    return by_place(crates_here(farm, at))


def in_pages(rows: Iterable[PlaceRow]) -> list[list[PlaceRow]]:
    """Return places in pages of so many crates as one form holds.

    Only a place with more than that is torn apart.
    """
    pages: list[list[PlaceRow]] = [[]]
    held = 0
    for row in chain.from_iterable(map(_parts_of, rows)):
        if held and held + len(row.crates) > MOST_AT_ONCE:
            pages.append([])
            held = 0
        pages[-1].append(row)
        held += len(row.crates)
    return pages


def _parts_of(row: PlaceRow) -> Iterator[PlaceRow]:
    for start in range(0, len(row.crates), MOST_AT_ONCE):
        yield PlaceRow(row.position, row.crates[start : start + MOST_AT_ONCE])


def those_of(rows: Iterable[PlaceRow], codes: Collection[str]) -> list[PlaceRow]:
    """Return the places of these crates alone, with these alone."""
    found = [
        PlaceRow(row.position, [crate for crate in row.crates if crate.code in codes])
        for row in rows
    ]
    return [row for row in found if row.crates]


def read_to_look_at(farm: Farm, at: datetime) -> list[PlaceRow]:
    """Return what is past its time, or must be looked at, by place. What is held waits apart."""
    crates = crates_here(farm, at, Q(held=False))
    return by_place(crate for crate in crates if crate.verdict.worklist in TO_LOOK_AT)


@dataclass(frozen=True)
class Sheet:
    """The page at the door. left_out: crates to sell first that found no room on it."""

    look: list[Crate]
    first: list[Crate]
    orders: list[OrderNow]
    left_out: int


def read_sheet(farm: Farm, at: datetime) -> Sheet:
    """Return what to look at, what to sell first and today's orders, each as one walks."""
    free = crates_here(farm, at, Q(held=False))
    look = [crate for crate in free if crate.verdict.worklist in TO_LOOK_AT]
    first = [crate for crate in free if crate.verdict.worklist == Worklist.SELL_FIRST]
    first.sort(key=lambda crate: crate.life.keep_until)
    plan = plan_book(farm, at)
    today = [order_now(order, plan) for order in plan.orders if order.due <= plan.today]
    shown = first[: max(SHEET_ROWS - len(look) - len(today), 0)]
    return Sheet(
        look=sorted(look, key=_walk),
        first=sorted(shown, key=_walk),
        orders=today,
        left_out=len(first) - len(shown),
    )


def id_of(entry: UUID, number: int) -> UUID:
    """Return the id of one of the doings of a form about many; the first has the form's own."""
    return uuid5(entry, str(number)) if number else entry


def written_by(entry: UUID) -> list[Action]:
    """Return what one form about many wrote, in its order."""
    ids = [id_of(entry, number) for number in range(MOST_AT_ONCE)]
    rows = Action.objects.select_related("person", "undone_by")
    found = rows.prefetch_related("movements__lot__crop", "movements__position").in_bulk(ids)
    return [found[key] for key in ids if key in found]
