"""Which column of a logger's file is the room's temperature, and in which unit. Pure.

Whole words of a heading decide, or marks in the cells, and whether the numbers look like a room.
What that leaves open is said, so that a person is asked.
"""

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from itertools import pairwise

from inventory import measures
from inventory.keeping.log import COLDEST_C, WARMEST_C

# Headings in English, Spanish, French and German, accents left off. Units in whole words only:
# "temp_fridge" says nothing of °F.
_TEMPERATURES = ("temperature", "temperatura", "temperatur", "temperatures", "temperaturas")
_UNIT_NAMES = {
    "celsius": "C", "centigrade": "C", "centigrados": "C", "fahrenheit": "F",
}  # fmt: skip
_NAMES_IT = {"temp", "tmp", *_UNIT_NAMES}
# Other things that are measured in degrees, or stand beside them.
_OTHER_WORDS = {
    "dew", "wet", "bulb", "heat", "chill", "rh", "hr", "bat", "v", "mv", "min", "max", "minimum",
    "maximum", "minimo", "maximo", "minima", "maxima", "low", "high", "set", "soll", "flag",
    "state", "etat", "mkt", "rssi", "lux", "lx", "%", "hum", "hpa", "mbar", "ppm", "co",
}  # fmt: skip
_OTHER_PARTS = (
    "dewp", "taupunkt", "rocio", "rosee", "humid", "humed", "feucht", "batt", "bater", "akku",
    "volt", "alarm", "alert", "limit", "grenz", "thresh", "umbral", "seuil", "setp", "sollw",
    "consign", "pressure", "presion", "pression", "druck", "signal", "status", "estado",
)  # fmt: skip
# A number of something, unless a temperature is named too ("Temp no. 2").
_COUNTING_WORDS = {
    "#", "no", "nr", "num", "number", "numero", "nummer", "index", "count", "counter", "contador",
    "compteur", "zahler", "record", "id", "serial", "serie", "row", "line", "elapsed",
}  # fmt: skip

_ODD_MARKS = str.maketrans({"º": "°", "˚": "°", "\ufffd": "°", "℃": "°C", "℉": "°F"})
_WORD = re.compile(r"[A-Z]?[a-z]+|[A-Z]+(?![a-z])|\d+|[^\s\w.,:;/-]")
_DEGREES = r"°|deg|degree|degrees|grado|grados|grad|degre|degres"
_UNIT_AFTER = re.compile(
    rf"(?:^| )(?:{_DEGREES}|t|temp|tmp|\w*temperatur[ae]?s?)(?: \d+)? ([cf])\b"
)
_UNIT_IN_BRACKETS = re.compile(r"[(\[] ([cf]) [)\]]")
_BOTH_UNITS = re.compile(r"\b(?:c f|f c)\b")
_CELL = re.compile(r"(.*?) *(?:(?:°|deg|degrees)? *([CF])|°)", re.IGNORECASE)
_LONGEST_CELL = 40

# °C and °F of one probe, both rounded to whole degrees, differ by up to 1.4 °F.
_SAME_WITHIN_F = Decimal("1.5")


class Kind(StrEnum):
    TEMPERATURE = "temperature"
    OTHER = "other"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Figures:
    """A column of numbers. unit: as its heading or its cells say, else "". None: no number."""

    column: int
    kind: Kind
    unit: str
    values: tuple[Decimal | None, ...]

    @property
    def numbers(self) -> list[Decimal]:
        return [value for value in self.values if value is not None]


@dataclass(frozen=True)
class Choice:
    """The column taken for the temperature; what about it is a guess that nothing tells."""

    column: int
    unit: str
    figure_unsure: bool
    unit_unsure: bool


def read_figure(cell: str) -> tuple[Decimal, str]:
    """Return the number in a cell and the unit written beside it, "" for none.

    Raises NotANumber. Example: read_figure("38.3 °F") → (Decimal("38.3"), "F")
    """
    if len(cell) > _LONGEST_CELL:
        raise measures.NotANumber(cell, "number")
    try:
        return measures.read_decimal(cell), ""
    except measures.NotANumber:
        marked = _CELL.fullmatch(_with_plain_marks(cell).strip())
        if not marked:
            raise
        return measures.read_decimal(marked[1]), (marked[2] or "").upper()


def unit_in(heading: str) -> str:
    """Return "C" or "F" if a heading names one of them and not both, else ""."""
    words = _words(heading)
    text = " ".join(words)
    found = {_UNIT_NAMES[word] for word in words if word in _UNIT_NAMES}
    for pattern in (_UNIT_AFTER, _UNIT_IN_BRACKETS):
        found |= {letter.upper() for letter in pattern.findall(text)}
    return found.pop() if len(found) == 1 and not _BOTH_UNITS.search(text) else ""


def kind_of(heading: str) -> Kind:
    words = _words(heading)
    if any(word in _OTHER_WORDS or _has_part(word) for word in words):
        return Kind.OTHER
    if unit_in(heading) or any(_names_temperature(word) for word in words):
        return Kind.TEMPERATURE
    return Kind.OTHER if _COUNTING_WORDS & set(words) else Kind.UNKNOWN


def figures_of(column: int, heading: str, cells: Sequence[str]) -> Figures | None:
    """Return a column as numbers, or None where fewer than half of its cells are any."""
    read = [_read_or_none(cell) for cell in cells]
    if 2 * sum(found is not None for found in read) < len(read):
        return None
    kind, named = kind_of(heading), {unit_in(heading)}
    marks = {found[1] for found in read if found is not None and found[1]}
    if marks and kind == Kind.UNKNOWN:
        kind = Kind.TEMPERATURE
    units = (marks | named) - {""}
    unit = units.pop() if len(units) == 1 else ""
    return Figures(column, kind, unit, tuple(found and found[0] for found in read))


def choose(columns: Sequence[Figures], farm_unit: str) -> Choice:
    """Return the column of the room's temperature. columns: at least one.

    Sure is the only one so named, or without any telling name, whose numbers look like a room;
    or two that say the same in °C and °F.
    """
    rivals = [
        each for each in columns
        if each.kind == Kind.TEMPERATURE or (each.kind == Kind.UNKNOWN and _is_room(each))
    ]  # fmt: skip
    rooms = sorted(filter(_is_room, rivals), key=lambda each: each.kind != Kind.TEMPERATURE)
    likely = rooms or rivals or list(columns)
    first = likely[0]
    sure = len(rooms) == len(rivals) > 0 and all(
        _same_temperature(first, other) for other in rooms[1:]
    )
    units = {first.unit} if sure else {each.unit for each in likely}
    return Choice(first.column, first.unit or farm_unit, not sure, "" in units or len(units) > 1)


def _words(heading: str) -> list[str]:
    """Return the words of a heading, small and without accents: "T1 °F" → t, 1, °, f."""
    decomposed = unicodedata.normalize("NFKD", _with_plain_marks(heading[:200]))
    letters = "".join(each for each in decomposed if not unicodedata.combining(each))
    return [word.lower() for word in _WORD.findall(letters.replace("_", " "))]


def _with_plain_marks(text: str) -> str:
    return text.replace("Â°", "°").translate(_ODD_MARKS)


def _has_part(word: str) -> bool:
    return any(part in word for part in _OTHER_PARTS)


def _names_temperature(word: str) -> bool:
    # Compounds too, as German writes them: "Lufttemperatur".
    return word in _NAMES_IT or word == "°" or word.endswith(_TEMPERATURES)


def _read_or_none(cell: str) -> tuple[Decimal, str] | None:
    try:
        return read_figure(cell)
    except measures.NotANumber:
        return None


def _is_room(figures: Figures) -> bool:
    units = (figures.unit,) if figures.unit else ("C", "F")
    numbers = figures.numbers
    inside = [
        any(COLDEST_C <= measures.to_celsius(number, unit) <= WARMEST_C for unit in units)
        for number in numbers
    ]
    fewest = 4 if figures.kind == Kind.TEMPERATURE else 2
    counting = len(numbers) >= fewest and _counts(numbers)
    return 2 * sum(inside) > len(inside) and not counting and not _is_flag(numbers)


def _counts(numbers: list[Decimal]) -> bool:
    """Return whether whole numbers only rise, or step evenly as a countdown does."""
    if any(number != int(number) for number in numbers):
        return False
    steps = {later - number for number, later in pairwise(numbers)}
    return all(step > 0 for step in steps) or (len(steps) == 1 and 0 not in steps)


def _is_flag(numbers: list[Decimal]) -> bool:
    return len(numbers) > 1 and set(numbers) <= {0, 1}


def _same_temperature(one: Figures, other: Figures) -> bool:
    if {one.unit, other.unit} != {"C", "F"}:
        return False
    pairs = [
        (one_value, other_value)
        for one_value, other_value in zip(one.values, other.values, strict=True)
        if one_value is not None and other_value is not None
    ]
    return bool(pairs) and all(
        abs(_in_f(one_value, one.unit) - _in_f(other_value, other.unit)) <= _SAME_WITHIN_F
        for one_value, other_value in pairs
    )


def _in_f(value: Decimal, unit: str) -> Decimal:
    return value if unit == "F" else measures.from_celsius(value, "F")
