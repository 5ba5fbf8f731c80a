"""Racks drawn as one stands before them: a row a shelf, a box a crate, dashes where there is room.

A shelf is drawn in bays of four boxes, which a page sets side by side as its width allows: two on
a phone, so that a shelf of eight is one row and a longer one goes on below.
"""

from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from itertools import groupby

from django.utils.html import format_html

from inventory.models import Position
from inventory.queries.crates import Crate
from inventory.queries.rooms import Place, Rack
from inventory.rotation import Worklist

BAY_BOXES = 4
MOST_EMPTY = 16  # boxes of a shelf that are drawn for the room on it; more is told as a figure

# In units of the drawing: about a pixel each on a phone 360 wide.
CELL, BOX_WIDTH, BOX_HEIGHT = 38, 36, 44
TOP = 4
PART_FILL = 28  # of a part crate; its figure fits in
BOARD = TOP + BOX_HEIGHT + 2
NAMES, BAY_HEIGHT = BOARD + 13, BOARD + 18
LETTERS = 5  # of a crop's name under one box


class Mark(StrEnum):
    """What is seen of a crate before its figure is read."""

    NONE = ""
    PAST = "!"
    FIRST = "•"
    LOOK = "?"
    KEPT = "✓"
    HELD = "‖"


_MARKS = {
    Worklist.NONE: Mark.NONE,
    Worklist.DISCARD: Mark.PAST,
    Worklist.SELL_FIRST: Mark.FIRST,
    Worklist.LOOK: Mark.LOOK,
    Worklist.KEPT: Mark.KEPT,
}


@dataclass(frozen=True)
class Box:
    """One place on a shelf. x: its left edge. crate: None where there is room for one."""

    x: int
    crate: Crate | None = None
    mark: Mark = Mark.NONE
    figure: str = ""
    part: bool = False

    y = TOP
    width = BOX_WIDTH
    height = BOX_HEIGHT

    @property
    def middle(self) -> int:
        return self.x + BOX_WIDTH // 2

    @property
    def outline(self) -> str:
        """Its rectangle, as attributes of SVG."""
        return _rect(self.x, self.y, self.width, self.height)

    @property
    def fill_height(self) -> int:
        """How far it is filled, from below."""
        return PART_FILL if self.part else self.height

    @property
    def fill_y(self) -> int:
        return self.y + self.height - self.fill_height

    @property
    def fill(self) -> str:
        """The rectangle of what is in it, as attributes of SVG."""
        return _rect(self.x, self.fill_y, self.width, self.fill_height)

    @property
    def hit(self) -> str:
        """The rectangle that a thumb may hit."""
        return _rect(self.x, 0, CELL, BAY_HEIGHT)

    @property
    def kind(self) -> str:
        """What the stylesheet calls it: its mark by name, part or room."""
        if not (self.figure or self.mark):
            return "room"
        name = self.mark.name.lower()
        return f"{name} part" if self.part else name


@cache
def _rect(x: int, y: int, width: int, height: int) -> str:
    # Whole, as a drawing has a handful of them and boxes by the hundred.
    return format_html('x="{}" y="{}" width="{}" height="{}"', x, y, width, height)


@dataclass(frozen=True)
class Name:
    """A crop's name under the boxes that hold it, cut to their width."""

    x: int
    text: str


@dataclass(frozen=True)
class Bay:
    """A piece of shelf. board: how far it runs."""

    boxes: list[Box]
    names: list[Name]

    width = BAY_BOXES * CELL
    height = BAY_HEIGHT
    board_y = BOARD
    names_y = NAMES

    @property
    def board(self) -> int:
        return len(self.boxes) * CELL


@dataclass(frozen=True)
class Shelf:
    """A place drawn. over: crates more than it holds. more: room that is not drawn."""

    position: Position
    bays: list[Bay]
    over: int
    more: int


def draw_rack(rack: Rack) -> list[Shelf]:
    """Return a rack's shelves from the top down, as they are numbered."""
    places = sorted(rack.places, key=lambda place: (place.position.shelf, place.position.place))
    return [draw_shelf(place) for place in places]


def draw_shelf(place: Place) -> Shelf:
    """Return a place with every crate on it, however crowded, and the room beside them."""
    standing, capacity = len(place.crates), place.position.capacity
    drawn = max(standing, min(capacity, MOST_EMPTY))
    return Shelf(
        position=place.position,
        bays=draw_crates(place.crates, drawn),
        over=max(standing - capacity, 0),
        more=max(capacity - drawn, 0),
    )


def draw_crates(crates: list[Crate], places: int = 0) -> list[Bay]:
    """Return crates as boxes in bays, with empty ones up to so many places."""
    standing: list[Crate | None] = [*crates]
    standing += [None] * (places - len(crates))
    return [
        _bay(standing[start : start + BAY_BOXES]) for start in range(0, len(standing), BAY_BOXES)
    ]


def _bay(standing: list[Crate | None]) -> Bay:
    boxes = [_box(number * CELL, crate) for number, crate in enumerate(standing)]
    runs = groupby(boxes, key=lambda box: box.crate and box.crate.lot.crop)
    names = [_name(crop.shown_name, list(run)) for crop, run in runs if crop]
    return Bay(boxes, names)


def _box(x: int, crate: Crate | None) -> Box:
    if crate is None:
        return Box(x)
    mark = Mark.HELD if crate.lot.held else _MARKS[crate.verdict.worklist]
    figure = "" if mark == Mark.HELD else _figure(crate)
    return Box(x, crate, mark, figure, crate.lot.is_part)


def _figure(crate: Crate) -> str:
    """Return the days left, or with a minus the days over."""
    return f"−{crate.days_over}" if crate.days_over else str(crate.days_left)


def _name(text: str, boxes: list[Box]) -> Name:
    room = LETTERS * len(boxes) + len(boxes) - 1
    return Name(boxes[0].x, text if len(text) <= room else f"{text[: room - 1].rstrip(' ,(')}…")


def bays_of(shelves: list[Shelf]) -> list[Bay]:
    return [bay for shelf in shelves for bay in shelf.bays]


def key_of(bays: list[Bay]) -> list[Box]:
    """Return a sample box of each mark that is met, of a part crate and of room for one."""
    boxes = [box for bay in bays for box in bay.boxes]
    met = {box.mark for box in boxes}
    samples = [Box(0, mark=mark, figure=figure) for mark, figure in _SAMPLES.items() if mark in met]
    if any(box.part for box in boxes):
        samples.append(Box(0, figure="9", part=True))
    return [*samples, Box(0)]


_SAMPLES = {Mark.PAST: "−3", Mark.FIRST: "1", Mark.LOOK: "9", Mark.KEPT: "−3", Mark.HELD: ""}
