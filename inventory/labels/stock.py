"""Label stock by its dimensions alone. All in mm; printers shift by one or two, so nudge."""

from collections.abc import Iterator
from dataclasses import dataclass

SMALLEST_MM, LARGEST_MM = 20.0, 300.0


@dataclass(frozen=True)
class Stock:
    """A sheet of labels, or a roll, whose page is one label.

    left, top: from the page's edge to the first label. pitch: from one label to the next.
    """

    key: str
    page_w: float
    page_h: float
    label_w: float
    label_h: float
    columns: int = 1
    rows: int = 1
    left: float = 0.0
    top: float = 0.0
    pitch_x: float = 0.0
    pitch_y: float = 0.0

    @property
    def per_page(self) -> int:
        return self.columns * self.rows

    def cells(self) -> Iterator[tuple[float, float]]:
        """Yield (x, y) of each label on a page, row by row from the top left. [mm]"""
        for row in range(self.rows):
            for column in range(self.columns):
                yield self.left + column * self.pitch_x, self.top + row * self.pitch_y


def _roll(key: str, width: float, height: float) -> Stock:
    return Stock(key, width, height, width, height)


# Dimensions cross-read against an open collection of label sizes; makers differ by about 1 mm.
STOCKS = {
    stock.key: stock
    for stock in (
        Stock("a4-3x8", 210, 297, 70, 37, 3, 8, 0, 0.5, 70, 37),
        Stock("a4-2x7", 210, 297, 99.1, 38.1, 2, 7, 4.65, 15.15, 101.6, 38.1),
        Stock("a4-3x7", 210, 297, 63.5, 38.1, 3, 7, 7.2, 15.15, 66, 38.1),
        Stock("letter-2x5", 215.9, 279.4, 101.6, 50.8, 2, 5, 3.97, 12.7, 106.36, 50.8),
        Stock("letter-3x10", 215.9, 279.4, 66.675, 25.4, 3, 10, 4.7625, 12.7, 69.85, 25.4),
        _roll("roll-102x152", 101.6, 152.4),
        _roll("roll-62x100", 62, 100),
        _roll("roll-57x32", 57.15, 31.75),
    )
}


# The sheet of each paper that takes a label's words best: nearest to 100 by 40 mm.
A4, LETTER = "a4-2x7", "letter-2x5"


def custom_stock(width_mm: float, height_mm: float) -> Stock:
    """Return a roll of the farm's own size. Raises ValueError outside 20 to 300 mm."""
    if not all(SMALLEST_MM <= side <= LARGEST_MM for side in (width_mm, height_mm)):
        raise ValueError(f"a label is {SMALLEST_MM} to {LARGEST_MM} mm, not {width_mm}x{height_mm}")
    return _roll("custom", width_mm, height_mm)
