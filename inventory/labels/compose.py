"""What stands where on one label, in printer dots. Drawing only fills this in."""

from dataclasses import dataclass, replace
from functools import cache, lru_cache
from pathlib import Path

import font_source_sans_pro
import qrcode
from PIL import ImageFont

MM_PER_INCH = 25.4
QUIET_MODULES = 4
LEAST_MODULE_MM = 0.5  # for a phone in a dim room
MARGIN_MM = 1.5
# Two symbols at opposite ends, if this much is left for words between them.
LEAST_TEXT_MM = 25.0
LARGEST_SYMBOL_MM = 34.0
_FONT = Path(font_source_sans_pro.font_directory) / "SourceSansPro-Bold.ttf"
_LINE_HEIGHT = 1.12
_MEASURE_SIZE = 200
_HINTING = 1.02  # small sizes come out up to this much wider than scaled
_LEAST_LETTERS_MM = 1.7  # what can still be read close up
_SMALLEST_SHARE = 0.7  # of that, before a label is refused as too small for its words
_ROOM_SHARE = 0.9  # of the size of everything else, that a line may cost which only fills room
_LEVELS = (qrcode.constants.ERROR_CORRECT_Q, qrcode.constants.ERROR_CORRECT_H)


class TooSmall(ValueError):
    """A label has no room for a symbol and words that can be read."""


@dataclass(frozen=True)
class LabelText:
    """The words of one label, most important first, and what its symbol holds.

    code: shown with its last four biggest. lines: (text, size) with sizes relative to the
    headline's 1. link: the address of the crate, or the bare code. if_room: one line more, left
    out where it would make the others much smaller.
    """

    headline: str
    code: str
    lines: tuple[tuple[str, float], ...]
    link: str
    if_room: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Symbol:
    """A QR code: its top left corner without quiet zone, dots per module, rows of modules."""

    x: int
    y: int
    dots: int
    modules: tuple[tuple[bool, ...], ...]


@dataclass(frozen=True)
class Words:
    x: int
    y: int
    size: int
    text: str


@dataclass(frozen=True)
class Composed:
    """A whole label: its size in dots, its symbols, its runs of words."""

    width: int
    height: int
    symbols: tuple[Symbol, ...]
    words: tuple[Words, ...]


def dots(millimetres: float, dpi: int) -> int:
    return round(millimetres / MM_PER_INCH * dpi)


@lru_cache(maxsize=64)
def font(size: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(_FONT), size)


@lru_cache(maxsize=4096)
def width_of(text: str, size: int) -> float:
    """Return how wide a text is at a size, in dots. Measured once, large, and scaled."""
    return font(_MEASURE_SIZE).getlength(text) * size / _MEASURE_SIZE * _HINTING


@cache
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


def compose(label: LabelText, width_mm: float, height_mm: float, dpi: int) -> Composed:
    """Return where everything goes on a label of this size.

    Lying labels have their symbols left and right, standing ones at the top and the bottom;
    where there is no room for two there is one. Words take what is left, as big as they fit.
    Raises TooSmall where no symbol or no words fit that can be read.
    """
    width, height = dots(width_mm, dpi), dots(height_mm, dpi)
    margin = dots(MARGIN_MM, dpi)
    modules = qr_modules(label.link)
    standing = height_mm > 1.2 * width_mm
    long_mm, short_mm = (height_mm, width_mm) if standing else (width_mm, height_mm)
    size, count = _symbol_size(len(modules), long_mm, short_mm, dpi)
    side = size * (len(modules) + 2 * QUIET_MODULES)
    quiet = size * QUIET_MODULES
    corners = _corners(width, height, side, count, standing)
    symbols = tuple(Symbol(x + quiet, y + quiet, size, modules) for x, y in corners)
    box = _text_box(width, height, side, count, standing, margin)
    words = _fit_more(label, box, dots(_LEAST_LETTERS_MM, dpi))
    return Composed(width, height, symbols, words)


def _symbol_size(modules: int, long_mm: float, short_mm: float, dpi: int) -> tuple[int, int]:
    """Return (dots per module, symbols): two as big as leave room for words, else one."""
    whole = modules + 2 * QUIET_MODULES
    dot_mm = MM_PER_INCH / dpi
    least = -int(-LEAST_MODULE_MM // dot_mm)
    for count in (2, 1):
        room_mm = min(short_mm, LARGEST_SYMBOL_MM, (long_mm - LEAST_TEXT_MM) / count)
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


def _text_box(
    width: int, height: int, side: int, count: int, standing: bool, margin: int
) -> tuple[int, int, int, int]:
    """Return (x, y, width, height) of what the symbols leave for words."""
    far = side if count == 2 else margin
    if standing:
        return margin, side, width - 2 * margin, height - side - far
    return side, margin, width - side - far, height - 2 * margin


Box = tuple[int, int, int, int]


def _fit_more(label: LabelText, box: Box, least: int) -> tuple[Words, ...]:
    """Set the words as big as they fit, with what is only for where there is room."""
    words = _fit(label, box, least)
    if not label.if_room:
        return words
    fuller = replace(label, lines=(*label.lines, *label.if_room))
    more = _largest(fuller, box, least, words_break=False)
    return more if more and more[0].size >= _ROOM_SHARE * words[0].size else words


def _fit(label: LabelText, box: Box, least: int) -> tuple[Words, ...]:
    """Set the words as big as they fit: every line wrapped at spaces, none cut off.

    least: size below which smaller lines do not shrink along. A word too wide even then is
    broken, and only what would still not fit shrinks below it. Raises TooSmall.
    """
    for words_break in (False, True):
        found = _largest(label, box, least, words_break)
        if found:
            return found
    for size in range(least - 1, int(least * _SMALLEST_SHARE), -1):
        found = _set(label, box, size, size, words_break=True)
        if found:
            return found
    raise TooSmall


def _largest(label: LabelText, box: Box, least: int, words_break: bool) -> tuple[Words, ...]:
    """Return the words at the largest headline size that fits, or nothing if none does."""
    low, high = least, max(box[3] // 2, least + 1)
    while high - low > 1:
        middle = (low + high) // 2
        if _set(label, box, middle, least, words_break):
            low = middle
        else:
            high = middle
    return _set(label, box, low, least, words_break)


def _set(label: LabelText, box: Box, size: int, least: int, words_break: bool) -> tuple[Words, ...]:
    """Return the words at a headline size, or nothing if they do not fit."""
    x, y, width, height = box
    runs: list[Words] = []
    top = y
    parts = ((label.headline, 1.0), *label.lines)
    for number, (text, share) in enumerate(parts):
        if number == min(2, len(label.lines)):
            top = _set_code(runs, label.code, x, top, max(size, least))
        letters = max(round(size * share), least)
        for line in _wrapped(text, letters, width, words_break):
            runs.append(Words(x, top, letters, line))
            top += round(letters * _LINE_HEIGHT)
    too_wide = any(run.x + width_of(run.text, run.size) > x + width for run in runs)
    return () if top > y + height or too_wide else tuple(runs)


def _set_code(runs: list[Words], code: str, x: int, top: int, size: int) -> int:
    """Set a code with its last four biggest, on one line; return where the next line goes."""
    head, tail = code[:-4], code[-4:]
    small, big = round(size * 0.55), round(size * 0.8)
    runs.append(Words(x, top + big - small, small, head))
    runs.append(Words(x + round(width_of(head, small)) + small // 4, top, big, tail))
    return top + round(big * _LINE_HEIGHT)


def _wrapped(text: str, size: int, width: int, words_break: bool) -> list[str]:
    lines = [""]
    for word in text.split(" "):
        wider = f"{lines[-1]} {word}".strip()
        if width_of(wider, size) <= width:
            lines[-1] = wider
        elif words_break and width_of(word, size) > width:
            lines += _broken(word, size, width)
        else:
            lines.append(word)
    return [line for line in lines if line]


def _broken(word: str, size: int, width: int) -> list[str]:
    pieces = [""]
    for character in word:
        if pieces[-1] and width_of(pieces[-1] + character, size) > width:
            pieces.append("")
        pieces[-1] += character
    return pieces
