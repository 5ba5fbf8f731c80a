"""What stands where on one label, in printer dots. Drawing only fills this in."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby

import qrcode

from inventory.labels.setting import (
    MM_PER_INCH,
    Box,
    LabelText,
    TooSmall,
    Words,
    dots,
    has_room,
    set_words,
)

PRINTED_DPI = (203, 300)
QUIET_MODULES = 4
LEAST_MODULE_MM = 0.5  # for a phone in a dim room
MARGIN_MM = 1.5
# Two symbols at opposite ends, if this much is left for words between them.
LEAST_TEXT_MM = 25.0
LARGEST_SYMBOL_MM = 34.0
LARGEST_SHARE = 0.42  # of the short side of a big label
_LEVELS = (qrcode.constants.ERROR_CORRECT_Q, qrcode.constants.ERROR_CORRECT_H)


@dataclass(frozen=True)
class Symbol:
    """A QR code: its top left corner without quiet zone, dots per module, rows of modules."""

    x: int
    y: int
    dots: int
    modules: tuple[tuple[bool, ...], ...]


@dataclass(frozen=True)
class Composed:
    """A whole label: its size in dots, its symbols, its runs of words."""

    width: int
    height: int
    symbols: tuple[Symbol, ...]
    words: tuple[Words, ...]


@lru_cache(maxsize=512)
def qr_modules(text: str) -> tuple[tuple[bool, ...], ...]:
    """Return the symbol of a text, level Q, or H where that makes it no larger.

    Capitals, digits and : / . - keep it in the small alphanumeric mode (ISO/IEC 18004).
    """
    made = [_qr(text, level) for level in _LEVELS]
    best = made[1] if len(made[1]) == len(made[0]) else made[0]
    return tuple(tuple(row) for row in best)


def _qr(text: str, level: int) -> list[list[bool]]:
    code = qrcode.QRCode(error_correction=level, border=0)
    code.add_data(text)
    code.make(fit=True)
    return code.get_matrix()


def qr_outline(text: str) -> tuple[int, str]:
    """Return a text's symbol for a drawing: its side in modules with the quiet zone, and the path
    of its dark ones.
    """
    rows = qr_modules(text)
    path = "".join(
        f"M{start + QUIET_MODULES} {y + QUIET_MODULES}h{length}v1h-{length}z"
        for y, row in enumerate(rows)
        for start, length in _dark_runs(row)
    )
    return len(rows) + 2 * QUIET_MODULES, path


def _dark_runs(row: Sequence[bool]) -> Iterator[tuple[int, int]]:
    """Yield where each run of dark modules begins, and how long it is."""
    start = 0
    for dark, run in groupby(row):
        length = len(list(run))
        if dark:
            yield start, length
        start += length


def compose(label: LabelText, width_mm: float, height_mm: float, dpi: int) -> Composed:
    """Return where everything goes on a label of this size.

    Lying labels have their symbols left and right, standing ones at the top and the bottom;
    where there is no room for two there is one. Words fill what is left.
    Raises TooSmall where no symbol or no words fit that can be read.
    """
    width, height = dots(width_mm, dpi), dots(height_mm, dpi)
    symbols, box = _around(label.link, width_mm, height_mm, dpi)
    is_centred = len(symbols) == 2 or _stands(width_mm, height_mm)
    words = set_words(label, box, dpi, is_centred=is_centred)
    return Composed(width, height, symbols, words)


def fits(label: LabelText, width_mm: float, height_mm: float) -> bool:
    """Return whether a label can be printed at this size, however fine the printer."""
    try:
        boxes = {dpi: _around(label.link, width_mm, height_mm, dpi)[1] for dpi in PRINTED_DPI}
    except TooSmall:
        return False
    return all(has_room(label, box, dpi) for dpi, box in boxes.items())


def _stands(width_mm: float, height_mm: float) -> bool:
    return height_mm > 1.2 * width_mm


def _around(
    link: str, width_mm: float, height_mm: float, dpi: int
) -> tuple[tuple[Symbol, ...], Box]:
    """Return the symbols of a label, and the box they leave for words. Raises TooSmall."""
    width, height = dots(width_mm, dpi), dots(height_mm, dpi)
    modules = qr_modules(link)
    standing = _stands(width_mm, height_mm)
    long_mm, short_mm = (height_mm, width_mm) if standing else (width_mm, height_mm)
    size, count = _symbol_size(len(modules), long_mm, short_mm, dpi)
    side = size * (len(modules) + 2 * QUIET_MODULES)
    quiet = size * QUIET_MODULES
    corners = _corners(width, height, side, count, standing)
    symbols = tuple(Symbol(x + quiet, y + quiet, size, modules) for x, y in corners)
    return symbols, _text_box(width, height, side, count, standing, dots(MARGIN_MM, dpi))


def _symbol_size(modules: int, long_mm: float, short_mm: float, dpi: int) -> tuple[int, int]:
    """Return (dots per module, symbols): two as big as leave room for words, else one."""
    whole = modules + 2 * QUIET_MODULES
    dot_mm = MM_PER_INCH / dpi
    least = -int(-LEAST_MODULE_MM // dot_mm)
    for count in (2, 1):
        largest = max(LARGEST_SYMBOL_MM, LARGEST_SHARE * short_mm)
        room_mm = min(short_mm, largest, (long_mm - LEAST_TEXT_MM) / count)
        size = int(room_mm / whole / dot_mm)
        if size >= least:
            return size, count
    if least * whole * dot_mm > short_mm:
        raise TooSmall
    return least, 1


def _corners(
    width: int, height: int, side: int, count: int, standing: bool
) -> list[tuple[int, int]]:
    if standing:
        x = (width - side) // 2
        return [(x, 0), (x, height - side)][:count]
    y = (height - side) // 2
    return [(0, y), (width - side, y)][:count]


def _text_box(width: int, height: int, side: int, count: int, standing: bool, margin: int) -> Box:
    """Return what the symbols leave for words."""
    far = side if count == 2 else margin
    if standing:
        return margin, side, width - 2 * margin, height - side - far
    return side, margin, width - side - far, height - 2 * margin
