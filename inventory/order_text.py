"""Reading an order pasted or typed as plain text. Pure.

Every piece of the text comes back once, as understood; what is not exact carries its doubts, and
a person settles them. Nothing is guessed in silence.
"""

import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from itertools import pairwise

from inventory import measures, order_words

MOST_LETTERS = 5_000
MOST_LINES = 200
MOST_CANDIDATES = 6
MOST_QUANTITY = 1_000_000


class Doubt(StrEnum):
    """What a person must look at in a line, in the order it is told."""

    NOT_AN_ORDER = "not-an-order"  # neither a number nor a crop: a greeting
    NOT_READ = "not-read"  # past the most letters or lines
    NO_CROP = "no-crop"
    SEVERAL_CROPS = "several-crops"
    CROP_NOT_EXACT = "crop-not-exact"
    NO_QUANTITY = "no-quantity"
    SEVERAL_QUANTITIES = "several-quantities"
    QUANTITY_UNCLEAR = "quantity-unclear"  # "1,500", "1/3 kg", "-6", "kilo y medio"
    QUANTITY_ZERO = "quantity-zero"
    QUANTITY_BIG = "quantity-big"
    NO_UNIT = "no-unit"  # the crop's own is offered
    SEVERAL_UNITS = "several-units"
    BUNCH_OR_BUSHEL = "bunch-or-bushel"
    UNIT_UNKNOWN = "unit-unknown"  # a unit that no crate is counted in
    DOZEN_OF_WHAT = "dozen-of-what"  # the crop's own is offered
    NOT_WHOLE = "not-whole"  # half a bunch
    OTHER_WORDS = "other-words"  # "red kale" where there is only kale; "for Friday"


@dataclass(frozen=True)
class Known:
    """What the farm sells. names: in both languages, its own too. unit: its crates' own.

    A name's second part tells it from others, and may stand first or be left out: of
    "Lettuce (romaine)" and "Lettuce, romaine" also "romaine lettuce" and "lettuce" are names.
    """

    key: int
    names: tuple[str, ...]
    unit: str


@dataclass(frozen=True)
class ReadLine:
    """One piece of an order as understood. Without doubts it is exact and complete.

    unit: "kg", "lb", "bunch", "head", "piece" or "case". crop: the key of a Known, also where
    it carries a doubt and is only the likeliest. candidates: keys, the likeliest first.
    """

    text: str
    quantity: Decimal | None = None
    unit: str | None = None
    crop: int | None = None
    doubts: tuple[Doubt, ...] = ()
    candidates: tuple[int, ...] = ()


def read_order(text: str, crops: Iterable[Known]) -> list[ReadLine]:
    """Return the order's lines in the order of the text; never raises.

    What is past MOST_LETTERS or MOST_LINES comes back as one last line, not read.
    Example: "6 kg kale, 10 bu radish" → 6 kg of kale; 10 bunches of radish, if sold by the bunch.
    """
    names = _Names(crops)
    pieces, end = _pieces(text, names)
    lines = [_read(piece, names) for piece in pieces]
    rest = text[end:].strip()
    return [*lines, ReadLine(rest, doubts=(Doubt.NOT_READ,))] if rest else lines


_Span = tuple[int, int]

# Where one piece ends: at a new line, a mark between, a comma that is no decimal, a full stop
# before a number, and before "and 2 cs …" where the and is not the one of "2 and 1/2".
_A_NUMBER = rf"(?:[0-9{order_words.FRACTION_SIGNS}]|(?:{{words}})\b)".format(
    words="|".join(word for word, number in order_words.NUMBERS.items() if number >= 1)
)
_BREAK = re.compile(
    r"[\n\r\v\f\x1c-\x1e\x85\u2028\u2029;•·]|(?<![0-9]),|,(?![0-9])"
    rf"|(?<=[^\W\d_])\.(?=\s+{_A_NUMBER})"
    rf"|(?<![0-9{order_words.FRACTION_SIGNS}])\s(?=(?:and|y|&|\+|/|\|)\s+{_A_NUMBER})",
    re.IGNORECASE,
)


def _pieces(text: str, names: "_Names") -> tuple[list[str], int]:
    """Return the pieces to read, and where in the text the rest begins."""
    limit = len(text)
    if limit > MOST_LETTERS:
        breaks = [found.end() for found in _BREAK.finditer(text, 0, MOST_LETTERS)]
        # A comma that is the last letter looked at may be a decimal one.
        limit = max((end for end in breaks if end < MOST_LETTERS), default=0)
    pieces: list[_Span] = []
    amounts_first = False  # "6 kg, kale, 4 kg, apples": the kale's is not the 4 kg
    for start, end, after_comma in _spans(text, limit):
        amounts_first = after_comma and (
            amounts_first or _is_an_amount(text[slice(*pieces[-1])], names)
        )
        if after_comma and not amounts_first and _belongs(text, pieces[-1], (start, end), names):
            pieces[-1] = (pieces[-1][0], end)
        elif len(pieces) == MOST_LINES:
            return [text[slice(*piece)].strip() for piece in pieces], start
        else:
            pieces.append((start, end))
    return [text[slice(*piece)].strip() for piece in pieces], limit


def _spans(text: str, limit: int) -> Iterator[tuple[int, int, bool]]:
    """Yield each piece that is not blank: start, end, whether only commas part it from the last."""
    start, comma = 0, False
    for found in (*_BREAK.finditer(text, 0, limit), None):
        end = found.start() if found else limit
        blank = not text[start:end].strip()
        if not blank:
            yield start, end, comma
        if found:
            start, comma = found.end(), found.group() == "," and (comma or not blank)


def _is_an_amount(piece: str, names: "_Names") -> bool:
    parts = _take_apart(piece, names)
    return bool(parts.numbers or parts.units or parts.dozens) and not (parts.crops or parts.others)


def _belongs(text: str, piece: _Span, following: _Span, names: "_Names") -> bool:
    """Whether "kale" and then "6 kg" after a comma are one line: "kale, 6 kg" or "kale,6,kg"."""
    first = _take_apart(text[slice(*piece)], names)
    second = _take_apart(text[slice(*following)], names)
    twice = (
        (first.numbers and second.numbers)
        or (first.units and second.units)
        or (first.dozens and second.dozens)
    )
    return bool(first.crops) and not twice and _is_an_amount(text[slice(*following)], names)


@dataclass(frozen=True)
class _Name:
    key: int
    words: tuple[str, ...]
    whole: bool  # nothing left out


@dataclass(frozen=True)
class _Found:
    """A name found in a piece: from the start-th word, so many words long, of these crops."""

    start: int
    length: int
    keys: tuple[int, ...]


class _Names:
    """The names of what the farm sells, to be found in a row of words."""

    def __init__(self, crops: Iterable[Known]):
        self.units: dict[int, str] = {}
        self._exact: dict[str, list[_Name]] = defaultdict(list)
        self._slipped: dict[str, list[_Name]] = defaultdict(list)
        self._holding: dict[str, dict[int, None]] = defaultdict(dict)
        for crop in crops:
            self.units[crop.key] = crop.unit
            for name in crop.names:
                self._learn(crop.key, name)

    def _learn(self, key: int, text: str) -> None:
        for words, whole in _forms(text):
            name = _Name(key, words, whole)
            for letters in order_words.singulars(words[0]):
                self._exact[letters].append(name)
            for letters in order_words.slips(words[0]):
                self._slipped[letters].append(name)
            for word in filter(order_words.names_something, words):
                for letters in order_words.singulars(word):
                    self._holding[letters][key] = None

    def exact(self, words: list[str]) -> list[_Found]:
        """Return the names that stand in a row of words: case, accent and plural aside."""
        return list(_find(words, self._exact, order_words.singulars))

    def slipped(self, words: list[str]) -> list[_Found]:
        """Return the names that stand there with a slip of the finger in any of their words."""
        return list(_find(words, self._slipped, order_words.slips))

    def holding(self, words: Iterable[str]) -> list[int]:
        """Return the crops whose names hold any of these words, most words first."""
        counted: Counter[int] = Counter()
        for word in words:
            keys = [self._holding.get(letters, {}) for letters in order_words.singulars(word)]
            counted.update({key for found in keys for key in found})
        order = {key: place for place, key in enumerate(self.units)}
        return sorted(counted, key=lambda key: (-counted[key], order[key]))


def _forms(text: str) -> Iterator[tuple[tuple[str, ...], bool]]:
    """Yield the word rows a name is known by, and whether nothing is left out of it."""
    first, second, *_ = *re.split(r"[(,]", text, maxsplit=1), ""
    seen = set()
    for form, whole in ((f"{first} {second}", True), (f"{second} {first}", True), (first, False)):
        words = tuple(order_words.words_of(form))
        if any(map(order_words.says_something, words)) and words not in seen:
            seen.add(words)
            yield words, whole


def _find(
    words: list[str], index: dict[str, list[_Name]], alike: Callable[[str], frozenset[str]]
) -> Iterator[_Found]:
    """Yield the longest name at each place, from left to right."""
    at = 0
    while at < len(words):
        names = {name for letters in alike(words[at]) for name in index.get(letters, ())}
        fit = [name for name in names if _stands_at(name, words, at, alike)]
        length = max((len(name.words) for name in fit), default=0)
        fit = [name for name in fit if len(name.words) == length]
        if fit:
            whole = any(name.whole for name in fit)
            keys = sorted({name.key for name in fit if name.whole == whole})
            yield _Found(at, length, tuple(keys))
        at += max(length, 1)


def _stands_at(
    name: _Name, words: list[str], at: int, alike: Callable[[str], frozenset[str]]
) -> bool:
    there = words[at : at + len(name.words)]
    return len(there) == len(name.words) and all(
        alike(word) & alike(other) for word, other in zip(name.words, there, strict=True)
    )


@dataclass
class _Parts:
    """A piece taken apart. Numbers: None is one that can't be read for certain."""

    crops: list[_Found]
    numbers: list[Fraction | Doubt]
    units: list[tuple[str, Fraction]]
    dozens: int
    others: list[str]
    minus: bool


def _take_apart(piece: str, names: _Names) -> _Parts:
    words = order_words.words_of(piece)
    crops = names.exact(words)
    left: list[str | None] = list(words)
    for found in crops:
        left[found.start : found.start + found.length] = [None] * found.length
    rest = [word or "" for word in left]
    pounds = [
        at > 0 and word == order_words.POUND_SIGN and order_words.is_number(rest[at - 1])
        for at, word in enumerate(rest)
    ]
    units = [order_words.UNITS[word] for word in rest if word in order_words.UNITS]
    return _Parts(
        crops=crops,
        numbers=_numbers(rest),
        units=list(dict.fromkeys(units + [order_words.UNITS["lb"]] * sum(pounds))),
        dozens=sum(word in order_words.DOZENS for word in rest),
        others=[
            word
            for word, pound in zip(rest, pounds, strict=True)
            if word and not pound and order_words.says_something(word)
        ],
        minus=re.search(r"(?<!\S)[-−–][0-9.]", piece) is not None,
    )


def _numbers(words: list[str]) -> list[Fraction | Doubt]:
    """Return the numbers that stand in a row of words, "1 1/2" and "2 y media" as one."""
    numbers: list[Fraction | Doubt] = []
    last = -2  # where the last number stood
    for at, word in enumerate(words):
        if not order_words.is_number(word):
            continue
        number = _number(word)
        before = _before(words, at)
        joined = bool(order_words.AND & set(words[before + 1 : at]))
        if isinstance(number, Fraction) and order_words.is_fraction(word):
            whole = numbers[-1] if before == last else None
            # "6 half cases" are not six and a half.
            if isinstance(whole, Fraction) and (joined or "/" in word) and whole.denominator == 1:
                number += whole
                numbers.pop()
            elif joined and before >= 0:
                number = Doubt.QUANTITY_UNCLEAR  # "kilo y medio" is one and a half
        numbers.append(number)
        last = at
    return numbers or _one(words)


def _number(word: str) -> Fraction | Doubt:
    try:
        return order_words.number_of(word)
    except order_words.NotRead as error:
        return Doubt.QUANTITY_BIG if error.reason == "big" else Doubt.QUANTITY_UNCLEAR


def _before(words: list[str], at: int) -> int:
    """Return where the word before stands, an "and a" between left out; -1 for none."""
    at -= 1
    while at >= 0 and words[at] in order_words.AND | order_words.ONES:
        at -= 1
    return at


def _one(words: list[str]) -> list[Fraction | Doubt]:
    """Return the one of "a case of apples" and of "una docena" where no number is said."""
    measured = order_words.UNITS.keys() | order_words.DOZENS
    said = any(
        word in order_words.ONES and following in measured for word, following in pairwise(words)
    )
    return [Fraction(1)] if said else []


def _read(piece: str, names: _Names) -> ReadLine:
    parts = _take_apart(piece, names)
    if not (parts.numbers or parts.crops):
        return ReadLine(piece, doubts=(Doubt.NOT_AN_ORDER,))
    crop, candidates, doubts = _crop(piece, parts, names)
    own = names.units[crop] if crop is not None else None
    unit, unit_doubts = _unit(parts, own)
    quantity, quantity_doubts = _quantity(parts, unit)
    found = {*doubts, *unit_doubts, *quantity_doubts}
    return ReadLine(
        text=piece,
        quantity=quantity,
        unit=unit,
        crop=crop,
        doubts=tuple(doubt for doubt in Doubt if doubt in found),
        candidates=tuple(candidates[:MOST_CANDIDATES]),
    )


def _crop(piece: str, parts: _Parts, names: _Names) -> tuple[int | None, list[int], set[Doubt]]:
    """Return the crop, the crops it might be, and the doubts."""
    if not parts.crops:
        return _crop_not_exact(piece, parts, names)
    sets = [set(found.keys) for found in parts.crops]
    keys = set.intersection(*sets) or set.union(*sets)
    likely = [key for key in names.holding(parts.others) if key in keys]
    candidates = list(dict.fromkeys([*likely, *sorted(keys)]))
    doubts = {Doubt.OTHER_WORDS} if parts.others else set()
    if len(keys) > 1:
        return None, candidates, doubts | {Doubt.SEVERAL_CROPS}
    if parts.others:
        candidates = list(dict.fromkeys([*candidates, *names.holding(parts.others)]))
    return candidates[0], candidates if parts.others else [], doubts


def _crop_not_exact(
    piece: str, parts: _Parts, names: _Names
) -> tuple[int | None, list[int], set[Doubt]]:
    """Of a name with a slip in it the crop, marked; of a part of a name only candidates."""
    meant = [word if word in parts.others else "" for word in order_words.words_of(piece)]
    slipped = names.slipped(meant)
    keys = sorted({key for found in slipped for key in found.keys})
    if len(keys) == 1 and sum(found.length for found in slipped) == len(parts.others):
        return keys[0], keys, {Doubt.CROP_NOT_EXACT}
    candidates = list(dict.fromkeys([*keys, *names.holding(parts.others)]))
    if not candidates:
        return None, [], {Doubt.NO_CROP}
    return None, candidates, {Doubt.SEVERAL_CROPS if candidates[1:] else Doubt.CROP_NOT_EXACT}


def _unit(parts: _Parts, own: str | None) -> tuple[str | None, set[Doubt]]:
    """Return the unit and the doubts. own: the crop's, where one is known."""
    if len(parts.units) > 1:
        return None, {Doubt.SEVERAL_UNITS}
    if not parts.units:
        return _dozens_unit(own) if parts.dozens else (own, {Doubt.NO_UNIT})
    unit, _ = parts.units[0]
    if unit == order_words.NO_UNIT_OF_OURS:
        return None, {Doubt.UNIT_UNKNOWN}
    if unit == order_words.BUNCH_OR_BUSHEL:
        return ("bunch", set()) if own == "bunch" else (None, {Doubt.BUNCH_OR_BUSHEL})
    return unit, set()


def _dozens_unit(own: str | None) -> tuple[str, set[Doubt]]:
    """A dozen is twelve pieces; of what is sold by the bunch or head perhaps twelve of those."""
    if own in ("bunch", "head"):
        return own, {Doubt.DOZEN_OF_WHAT}
    return "piece", set()


def _quantity(parts: _Parts, unit: str | None) -> tuple[Decimal | None, set[Doubt]]:
    numbers = parts.numbers or [Fraction(1)] * parts.dozens
    if len(numbers) != 1 or parts.dozens > 1:
        return None, {Doubt.SEVERAL_QUANTITIES if numbers else Doubt.NO_QUANTITY}
    number = numbers[0]
    if isinstance(number, Doubt):
        return None, {number}
    share = parts.units[0][1] if len(parts.units) == 1 else Fraction(1)
    number *= share * 12**parts.dozens
    if (number / Fraction(measures.PLACES)).denominator > 1:
        return None, {Doubt.QUANTITY_UNCLEAR}
    doubts = {
        Doubt.QUANTITY_UNCLEAR: parts.minus,
        Doubt.QUANTITY_ZERO: number == 0,
        Doubt.QUANTITY_BIG: number > MOST_QUANTITY,
        Doubt.NOT_WHOLE: measures.is_count(unit or "") and number.denominator > 1,
    }
    quantity = Decimal(number.numerator) / number.denominator
    return quantity, {doubt for doubt, held in doubts.items() if held}
