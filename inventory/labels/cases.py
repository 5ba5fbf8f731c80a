"""What the barcode of a bought-in case says: GS1-128, DataBar, DataMatrix or a Digital Link;
or a plain trade item number, as EAN-13, UPC-A and ITF-14 hold it.

Element strings are parsed by biip after the GS1 General Specifications: check digits, FNC1
ends, two-digit years 49 back to 50 ahead, day 00 as the last of the month.
"""

import contextlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

import biip
import zxingcpp
from biip.gs1_element_strings import GS1ElementString as Element
from PIL import Image

Found = dict[str, Element]  # what one symbol or several say, by its identifier

# Symbols that hold a trade item number and nothing else, and its digits. A part of an ITF-14 may
# be read as a shorter one.
_NUMBERS = {
    zxingcpp.BarcodeFormat.EAN13: 13,
    zxingcpp.BarcodeFormat.UPCA: 12,
    zxingcpp.BarcodeFormat.ITF: 14,
}
_LINEAR = (
    zxingcpp.BarcodeFormat.Code128,
    zxingcpp.BarcodeFormat.DataBar,
    zxingcpp.BarcodeFormat.DataBarExp,
    zxingcpp.BarcodeFormat.DataBarLtd,
    *_NUMBERS,
)
_SQUARE = (zxingcpp.BarcodeFormat.DataMatrix, zxingcpp.BarcodeFormat.QRCodeModel2)
# A long linear symbol is read within some ten degrees of level or upright, the longest within
# five; square ones at any angle. By trial on turned pictures.
_TURNS = (20, -20, 40, -40)
_TURNS_BETWEEN = (10, -10, 30, -30)
_GREY = 128
# A tilted one of these is at times read as another with a right check: of five turns a wrong one
# was seen in two at most, the right one in three or more (by trial on some 1,700 pictures).
_DOUBTFUL = (
    zxingcpp.BarcodeFormat.DataBarOmni,
    zxingcpp.BarcodeFormat.DataBarLtd,
    zxingcpp.BarcodeFormat.DataBarExp,
    zxingcpp.BarcodeFormat.DataBarExpStk,
)
_SURE = 3
_PLAIN_LENGTHS = (12, 13, 14)  # of a trade item number that stands alone
_PALLET_LENGTH = 18  # of a pallet's number that stands alone
_PACKED = ("13", "11")
# Dates whose day is never 00 (GS1 Barcode Syntax Dictionary: yymmdd). 7007 may be two, from and to.
_FULL_DAYS = ("7006", "7007")
_DATES = ("11", "12", "13", "15", "16", "17", "4324", "4325", "4326", "7003", "7011", "8008")
# Dates are looked at here: biip takes two of them in one for one with a time.
_READING = biip.ParseConfig(gs1_element_strings_verify_date=False)
# Produce that says it was packed or keeps until longer ago or ahead is asked about: common
# practice, no source.
FAR = timedelta(days=2 * 365)
# GS1 General Specifications: 15 best before, 16 sell by, 17 expiry, which is a use by.
_KINDS = {"15": "best before", "16": "sell by", "17": "use by"}


class NoCase(ValueError):
    """The text or picture is no GS1 barcode of a trade item with a right check digit."""


class Pallet(NoCase):
    """It is a pallet's: its own number (00), or the count of what it holds (02)."""


@dataclass(frozen=True)
class CaseCode:
    """What a case says of itself. gtin: 14 digits. weight: net, in `weight_unit`.

    careless: the label says a count that belongs to something else; nothing of it is taken.
    differs: the case has several barcodes that contradict each other; the fullest was taken.
    best_before: the packer's date; best_before_kind: "best before", "sell by" or "use by".
    """

    gtin: str
    lot: str = ""
    packed_on: date | None = None
    best_before: date | None = None
    best_before_kind: str = ""
    careless: bool = False
    differs: bool = False
    weight: Decimal | None = None
    weight_unit: str = ""


def read_case(text: str) -> CaseCode:
    """Return what a scanned or typed code says; brackets, a symbology prefix, or neither.

    Elements that exclude each other (GS1 Barcode Syntax Dictionary) are refused. A count (37)
    without the number it counts (02) is passed over, with a warning: careless labels have it.

    Raises NoCase. Example: "(01)09520123456788(10)ABC123" → gtin and lot
    """
    return _case(_found(text.strip()))


def _found(text: str) -> Found:
    """Return what one symbol says, were it but a part of what a case does. Raises NoCase."""
    try:
        elements = _elements(text)
    except (biip.ParseError, ValueError) as error:
        raise NoCase(text) from error
    found = {element.ai.ai: element for element in elements}
    if _contradict(elements, found) or not all(_is_dated_right(element) for element in elements):
        raise NoCase(text)
    if not found or ("01" in found and found["01"].gtin is None):
        raise NoCase(text)
    return found


def _is_pallets(found: Found) -> bool:
    numbered = "00" in found and found["00"].sscc is not None
    return "01" not in found and (numbered or "02" in found)


def _case(found: Found, differs: bool = False) -> CaseCode:
    item = found.get("01")
    if item is None or item.gtin is None:
        raise Pallet("") if _is_pallets(found) else NoCase("")
    return CaseCode(
        gtin=item.gtin.as_gtin_14(),
        lot=found["10"].value if "10" in found else "",
        packed_on=_first_date(found, _PACKED),
        careless="37" in found,
        differs=differs,
        **_dated(found),
        **_weight(found),
    )


def _is_dated_right(element: Element) -> bool:
    if element.ai.ai in _FULL_DAYS:
        days = [element.value[at : at + 6] for at in range(0, len(element.value), 6)]
        return all(_is_day(day) for day in days)
    return element.ai.ai not in _DATES or element.date is not None


def _is_day(digits: str) -> bool:
    try:
        datetime.strptime(digits, "%y%m%d")
    except ValueError:
        return False
    return True


def _contradict(elements: list[Element], found: Found) -> bool:
    """Return whether elements exclude each other, or one stands twice and differs."""
    pallet = "01" in found and "02" in found
    weights = max(sum(ai.startswith(unit) for ai in found) for unit in ("310", "320"))
    twice = any(found[element.ai.ai].value != element.value for element in elements)
    return pallet or weights > 1 or twice


def _elements(text: str) -> list[Element]:
    if text.isascii() and text.isdigit() and len(text) in _PLAIN_LENGTHS:
        text = f"(01){biip.gtin.Gtin.parse(text).as_gtin_14()}"
    elif text.isascii() and text.isdigit() and len(text) == _PALLET_LENGTH:
        text = f"(00){text}"
    if text.startswith("("):
        return biip.gs1_messages.GS1Message.parse_hri(text, config=_READING).element_strings
    parsed = biip.parse(_plain_link(text), config=_READING)
    source = parsed.gs1_digital_link_uri or parsed.gs1_message
    if source is None:
        raise NoCase(text)
    return source.element_strings


def _plain_link(text: str) -> str:
    """Return a link with scheme and host in small letters, as both read the same (RFC 3986)."""
    scheme, mark, rest = text.partition("://")
    host, slash, path = rest.partition("/")
    return f"{scheme.lower()}{mark}{host.lower()}{slash}{path}" if mark else text


def _first_date(found: Found, identifiers: Iterable[str]) -> date | None:
    dates = (found[ai].date for ai in identifiers if ai in found)
    return next((day for day in dates if day), None)


def _dated(found: Found) -> dict:
    """Return the packer's date and what it says; of several the strictest: use by, sell by."""
    for ai, kind in reversed(_KINDS.items()):
        day = _first_date(found, [ai])
        if day:
            return {"best_before": day, "best_before_kind": kind}
    return {}


def _weight(found: Found) -> dict:
    for ai, element in found.items():
        if ai[:3] in ("310", "320"):
            return {"weight": element.decimal, "weight_unit": "kg" if ai[:3] == "310" else "lb"}
    return {}


def far_off(code: CaseCode, today: date) -> dict[str, date]:
    """Return the dates of a case, by name, that can hardly be: to be asked about, not taken."""
    told = {"packed_on": code.packed_on, "best_before": code.best_before}
    far = {name: day for name, day in told.items() if day and abs(day - today) > FAR}
    if code.packed_on and code.packed_on > today:
        far["packed_on"] = code.packed_on
    return far


def case_in_picture(image: Image.Image) -> CaseCode:
    """Return what the barcodes of the case in a grey picture say together.

    It is turned and looked at again even when one was read: a longer one may stand beside it.

    Raises NoCase; Pallet when there is nothing but a pallet's.
    """
    readings = _read(image, (*_LINEAR, *_SQUARE))
    for turn in (*_TURNS, *_TURNS_BETWEEN):
        if turn in _TURNS_BETWEEN and _is_full(_sure(readings)):
            break
        turned = image.rotate(turn, Image.Resampling.BILINEAR, expand=True, fillcolor=_GREY)
        readings += _read(turned, _LINEAR)
    return _merged(_sure(readings))


def _read(image: Image.Image, formats: Sequence[zxingcpp.BarcodeFormat]) -> list[tuple[Found, int]]:
    """Return what each GS1 symbol in a picture says, and how much that counts."""
    readings: list[tuple[Found, int]] = []
    for barcode in zxingcpp.read_barcodes(image, formats=formats):
        with contextlib.suppress(NoCase, UnicodeDecodeError):
            reading = (_found(_text(barcode)), 1 if barcode.format in _DOUBTFUL else _SURE)
            readings += [reading] if reading not in readings else []
    return readings


def _sure(readings: list[tuple[Found, int]]) -> list[Found]:
    """Return what was read surely or often enough, each once."""
    sure: list[Found] = []
    for found, _counts in readings:
        often = sum(counts for other, counts in readings if other == found)
        if often >= _SURE and found not in sure:
            sure.append(found)
    return sure


def _text(barcode: zxingcpp.Barcode) -> str:
    """Return what a symbol holds, as it is parsed; "" of what is no GS1 symbol."""
    if barcode.format in _NUMBERS:
        return barcode.text if len(barcode.text) == _NUMBERS[barcode.format] else ""
    if barcode.text.lower().startswith("http"):
        return barcode.text
    # What is no GS1 barcode may still look like one: "4011" reads as an identifier 401.
    if barcode.content_type != zxingcpp.ContentType.GS1:
        return ""
    return barcode.symbology_identifier + barcode.bytes.decode()


def _merged(symbols: list[Found]) -> CaseCode:
    """Return what the symbols of one case say together, those left out that contradict the fullest.

    Data of a trade item may stand in several symbols (GS1 General Specifications, section 4;
    from memory). Of two numbers of the same weight the one with an indicator is the case's.
    """
    cases = sorted((found for found in symbols if not _is_pallets(found)), key=_says, reverse=True)
    numbered = [found for found in cases if "01" in found]
    if not numbered:
        raise Pallet("") if len(cases) < len(symbols) else NoCase("")
    told, differs = numbered[0], False
    for found in cases:
        if _agree(told, found):
            told = told | found
        else:
            differs = True
    return _case(told, differs)


def _is_full(symbols: list[Found]) -> bool:
    """Return whether number, lot and a date were read: then nothing more is looked for."""
    told = set().union(*symbols)
    return {"01", "10"} <= told and not told.isdisjoint({*_KINDS, *_PACKED})


def _says(found: Found) -> tuple[int, str]:
    return len(found), found["01"].value if "01" in found else ""


def _agree(one: Found, other: Found) -> bool:
    both = [*one.values(), *other.values()]
    return not _contradict(both, one | other)
