"""Sets the words of one label in what room there is: as big as they fit, and full.

Fitted by the ink that is printed, not by the boxes of letters: nothing hangs out of the room.
"""

from dataclasses import dataclass
from functools import cache, cached_property, lru_cache
from itertools import pairwise
from pathlib import Path

import font_source_sans_pro
from PIL import ImageFont

MM_PER_INCH = 25.4
_FONT = Path(font_source_sans_pro.font_directory) / "SourceSansPro-Bold.ttf"
_MEASURE_SIZE = 200
LEAST_CAPITALS_MM = 1.5  # what can still be read at arm's length
# From baseline to baseline, in sizes of the row above and of the row below.
_BELOW, _ABOVE = 0.26, 0.78
_HEADROOM = 0.35  # how far above its share of the headline a line may grow
_LEADING = 0.5  # of a row's size, that may be added above it where there is room
_CODE_SHARE, _CODE_HEAD = 0.8, 0.69  # its last four against the headline, the rest against them
UNBROKEN = "\N{NO-BREAK SPACE}"  # between words that stay on one row


class TooSmall(ValueError):
    """A label has no room for a symbol and words that can be read."""


@dataclass(frozen=True)
class LabelText:
    """The words of one label as they are printed, and what its symbol holds.

    code: shown with its last four biggest. lines: (text, size) with sizes relative to the
    headline's 1. link: the address of the crate, or the bare code.

    Some of the lines may be left out. if_room: (text, share), what would leave another less than
    this share of its size. After all of that spare, the least needed first: what has no room at
    the smallest letters.
    """

    headline: str
    code: str
    lines: tuple[tuple[str, float], ...]
    link: str
    spare: tuple[str, ...] = ()
    if_room: tuple[tuple[str, float], ...] = ()

    @property
    def by_hand(self) -> list[str]:
        """The lines for a pen, which breaks them where it likes."""
        return [text.replace(UNBROKEN, " ") for text, _size in self.lines]


@dataclass(frozen=True)
class Words:
    """A run of words: the left end of its baseline."""

    x: int
    y: int
    size: int
    text: str


def dots(millimetres: float, dpi: int) -> int:
    return round(millimetres / MM_PER_INCH * dpi)


@lru_cache(maxsize=512)
def font(size: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(_FONT), size)


@cache
def least_size(dpi: int) -> int:
    """Return the size whose capitals are as high as the smallest letters may be."""
    size = dots(LEAST_CAPITALS_MM, dpi)
    while -ink_of("H", size)[1] * MM_PER_INCH / dpi < LEAST_CAPITALS_MM:
        size += 1
    return size


@lru_cache(maxsize=4096)
def width_of(text: str, size: float) -> float:
    """Return about how wide a text is at a size, in dots. Measured once, large, and scaled."""
    return _measured(text) * size / _MEASURE_SIZE


@lru_cache(maxsize=4096)
def _measured(text: str) -> float:
    return font(_MEASURE_SIZE).getlength(text)


@lru_cache(maxsize=4096)
def ink_of(text: str, size: int) -> tuple[int, int, int, int]:
    """Return (left, top, right, bottom) of a printed text, from its baseline's left end. [dots]"""
    left, top, right, bottom = font(size).getbbox(text, mode="1", anchor="ls")
    return int(left), int(top), int(right), int(bottom)


def ink_width(text: str, size: int) -> int:
    left, _top, right, _bottom = ink_of(text, size)
    return right - left


Room = tuple[int, int]  # width and height in dots
Box = tuple[int, int, int, int]  # x, y, width and height in dots


@dataclass(frozen=True)
class _Part:
    """Words that may take several rows, or a code, which takes one. share: see LabelText."""

    text: str
    share: float
    is_code: bool = False

    @cached_property
    def widest(self) -> float:
        """The width of what is never broken, at size 1."""
        if self.is_code:
            return _code_width(self.text, _MEASURE_SIZE) / _MEASURE_SIZE
        return max(width_of(word, _MEASURE_SIZE) for word in self.text.split(" ")) / _MEASURE_SIZE


@dataclass(frozen=True)
class _Row:
    """One row of runs (x, size, text) on one baseline. ends: the last of its part."""

    runs: tuple[tuple[int, int, str], ...]
    ends: bool

    @cached_property
    def size(self) -> int:
        return max(size for _x, size, _text in self.runs)

    @cached_property
    def ink(self) -> tuple[int, int, int, int]:
        """(left, top, right, bottom) of what is printed, from the baseline's left end."""
        boxes = [(x, ink_of(text, size)) for x, size, text in self.runs]
        return (
            min(x + left for x, (left, _, _, _) in boxes),
            min(top for _, (_, top, _, _) in boxes),
            max(x + right for x, (_, _, right, _) in boxes),
            max(bottom for _, (_, _, _, bottom) in boxes),
        )


@dataclass(frozen=True)
class _Setting:
    """All rows of a label, and how big each part of it is set."""

    rows: tuple[_Row, ...]
    sizes: dict[_Part, int]

    def spares(self, other: "_Setting", share: float) -> bool:
        """Return whether whatever stands in another setting has here this share of its size."""
        return all(self.sizes[part] >= share * size for part, size in other.sizes.items())

    def steps(self) -> list[int]:
        """Return from each row's baseline to the next, in dots."""
        return [
            max(
                round(before.size * _BELOW + after.size * _ABOVE),
                before.ink[3] - after.ink[1] + 1,
            )
            for before, after in pairwise(self.rows)
        ]

    def height(self) -> int:
        return sum(self.steps()) + self.rows[-1].ink[3] - self.rows[0].ink[1]

    def width(self) -> int:
        return max(row.ink[2] - row.ink[0] for row in self.rows)


def set_words(label: LabelText, box: Box, dpi: int, *, is_centred: bool) -> tuple[Words, ...]:
    """Return the words of a label where they go in a box. Raises TooSmall."""
    return _placed(_fit(label, box[2:], least_size(dpi)), box, is_centred)


def has_room(label: LabelText, box: Box, dpi: int) -> bool:
    """Return whether at least what is needed of a label can be set in a box."""
    needed = _parts(label, {*label.spare, *(text for text, _share in label.if_room)})
    least = least_size(dpi)
    return _set(needed, box[2:], least, least) is not None


def _fit(label: LabelText, room: Room, least: int) -> _Setting:
    """Set the words as big as they fit: none cut off, no more left out than must be.

    least: the smallest size. Raises TooSmall.
    """
    only_if_room = {text for text, _share in label.if_room}
    for count in range(len(label.spare) + 1):
        left_out = only_if_room | set(label.spare[:count])
        found = _largest(_parts(label, left_out), room, least)
        if found and count:
            return found
        if found:
            return _fuller(label, room, least, found, left_out)
    raise TooSmall


def _fuller(
    label: LabelText, room: Room, least: int, setting: _Setting, left_out: set[str]
) -> _Setting:
    """Return a setting with what is only for where there is room, where it costs little."""
    for text, share in reversed(label.if_room):
        found = _largest(_parts(label, left_out - {text}), room, least)
        if found and found.spares(setting, share):
            setting, left_out = found, left_out - {text}
    return setting


def _parts(label: LabelText, left_out: set[str]) -> list[_Part]:
    """Return what is set, from the top. The code comes after the first line."""
    lines = [_Part(text, share) for text, share in label.lines if text not in left_out]
    code = _Part(label.code, _CODE_SHARE, is_code=True)
    if not label.headline:
        return [code, *lines]
    return [_Part(label.headline, 1.0), *lines[:1], code, *lines[1:]]


def _largest(parts: list[_Part], room: Room, least: int) -> _Setting | None:
    """Return the setting at the largest scale that fits, or None if none does."""
    low, high = least, max(room[1], least + 1)
    best = _set(parts, room, low, least)
    while best and high - low > 1:
        middle = (low + high) // 2
        found = _set(parts, room, middle, least)
        if found:
            best, low = found, middle
        else:
            high = middle
    return best


def _set(parts: list[_Part], room: Room, scale: int, least: int) -> _Setting | None:
    """Return the rows at a scale, or None if they do not fit.

    What is as wide as the room stops growing there, the rest grows on.
    """
    rows: list[_Row] = []
    sizes: dict[_Part, int] = {}
    for part in parts:
        headline = next(iter(sizes.values()), scale)
        sizes[part] = _size(part, scale, headline, least, room[0])
        rows += _rows(part, sizes[part], least, room[0])
    setting = _Setting(tuple(rows), sizes)
    return setting if setting.height() <= room[1] and setting.width() <= room[0] else None


def _size(part: _Part, scale: int, headline: int, least: int, width: int) -> int:
    """Return how big a part is set: against the scale, the headline and what room there is."""
    if part.is_code:
        least = round(least / _CODE_HEAD)
    most = round(headline * (part.share + _HEADROOM))
    size = max(min(round(scale * part.share), most), least)
    widest = int(width / part.widest)
    return min(size, widest) if widest >= least else size


def _rows(part: _Part, size: int, least: int, width: int) -> list[_Row]:
    if part.is_code:
        return [_Row(_code_runs(part.text, size, least), ends=True)]
    lines = _balanced(part.text, size, width)
    return [_Row(((0, size, line),), ends=line is lines[-1]) for line in lines]


def _code_runs(code: str, size: int, least: int) -> tuple[tuple[int, int, str], ...]:
    """Return a code with its last four biggest, on one row."""
    head, tail = code[:-4], code[-4:]
    small = max(round(size * _CODE_HEAD), least)
    return (0, small, head), (ink_of(head, small)[2] + small // 4, size, tail)


def _code_width(code: str, size: float) -> float:
    """Return about how wide a code is, its last four at this size."""
    small = size * _CODE_HEAD
    return width_of(code[:-4], small) + small / 4 + width_of(code[-4:], size)


def _balanced(text: str, size: int, width: int) -> list[str]:
    """Return a text in as few rows as need be, none much longer than the others."""
    rows = _wrapped(text, size, width)
    longest = max(ink_width(word, size) for word in text.split(" "))
    low, high = max(width // len(rows), longest if longest <= width else 0), width
    while len(rows) > 1 and high - low > size // 4:
        middle = (low + high) // 2
        narrower = _wrapped(text, size, middle)
        if len(narrower) > len(rows):
            low = middle
        else:
            high, rows = middle, narrower
    return rows


def _wrapped(text: str, size: int, width: int) -> list[str]:
    """Return a text in rows: broken at spaces, and within what is too wide by itself."""
    rows = [""]
    for word in text.split(" "):
        wider = f"{rows[-1]} {word}".strip()
        if ink_width(wider, size) <= width:
            rows[-1] = wider
        elif ink_width(word, size) <= width:
            rows.append(word)
        elif UNBROKEN in word:
            rows += _wrapped(word.replace(UNBROKEN, " "), size, width)
        else:
            rows += _broken(word, size, width)
    return [row for row in rows if row]


def _broken(word: str, size: int, width: int) -> list[str]:
    pieces = [""]
    for character in word:
        if pieces[-1] and ink_width(pieces[-1] + character, size) > width:
            pieces.append("")
        pieces[-1] += character
    return pieces


def _placed(setting: _Setting, box: Box, is_centred: bool) -> tuple[Words, ...]:
    """Return every run where it goes: the block in the middle, with room between its parts."""
    x, y, width, height = box
    leads = _leads(setting.rows, height - setting.height())
    steps = [step + lead for step, lead in zip(setting.steps(), leads, strict=True)]
    free = height - setting.height() - sum(leads)
    baseline = y + free // 2 - setting.rows[0].ink[1]
    words: list[Words] = []
    for row, step in zip(setting.rows, [*steps, 0], strict=True):
        left, _top, right, _bottom = row.ink
        start = x - left + ((width - (right - left)) // 2 if is_centred else 0)
        words += [Words(start + across, baseline, size, text) for across, size, text in row.runs]
        baseline += step
    return tuple(words)


def _leads(rows: tuple[_Row, ...], free: int) -> list[int]:
    """Return what is added above each row but the first: where a part begins, as room allows."""
    starts = sum(before.ends for before in rows[:-1])
    return [
        min(free // starts, round(after.size * _LEADING)) if before.ends else 0
        for before, after in pairwise(rows)
    ]
