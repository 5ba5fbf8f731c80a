"""What the barcode of a bought-in case says: GS1-128, DataBar, DataMatrix or a Digital Link;
or a plain trade item number, as EAN-13, UPC-A and ITF-14 hold it.

Element strings are parsed by biip after the GS1 General Specifications: check digits, FNC1
ends, two-digit years 49 back to 50 ahead, day 00 as the last of the month.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

import biip
import zxingcpp
from biip.gs1_element_strings import GS1ElementString as Element
from PIL import Image

Found = dict[str, Element]  # by its identifier

# Symbols that hold a trade item number and nothing else.
_NUMBERS = (
    zxingcpp.BarcodeFormat.EAN13,
    zxingcpp.BarcodeFormat.UPCA,
    zxingcpp.BarcodeFormat.ITF,
)
_FORMATS = (
    zxingcpp.BarcodeFormat.Code128,
    zxingcpp.BarcodeFormat.DataBar,
    zxingcpp.BarcodeFormat.DataBarExp,
    zxingcpp.BarcodeFormat.DataBarLtd,
    zxingcpp.BarcodeFormat.DataMatrix,
    zxingcpp.BarcodeFormat.QRCodeModel2,
    *_NUMBERS,
)
_PLAIN_LENGTHS = (12, 13, 14)  # of a trade item number that stands alone
_PACKED = ("13", "11")
# GS1 General Specifications: 15 best before, 16 sell by, 17 expiry, which is a use by.
_KINDS = {"15": "best before", "16": "sell by", "17": "use by"}


class NoCase(ValueError):
    """The text or picture is no GS1 barcode of a trade item with a right check digit."""


@dataclass(frozen=True)
class CaseCode:
    """What a case says of itself. gtin: 14 digits. weight: net, in `weight_unit`.

    careless: the label says a count that belongs to something else; nothing of it is taken.
    best_before: the packer's date; best_before_kind: "best before", "sell by" or "use by".
    """

    gtin: str
    lot: str = ""
    packed_on: date | None = None
    best_before: date | None = None
    best_before_kind: str = ""
    careless: bool = False
    weight: Decimal | None = None
    weight_unit: str = ""


def read_case(text: str) -> CaseCode:
    """Return what a scanned or typed code says; brackets, a symbology prefix, or neither.

    Elements that exclude each other (GS1 Barcode Syntax Dictionary) are refused. A count (37)
    without the number it counts (02) is passed over, with a warning: careless labels have it.

    Raises NoCase. Example: "(01)09520123456788(10)ABC123" → gtin and lot
    """
    text = text.strip()
    try:
        if text.isascii() and text.isdigit() and len(text) in _PLAIN_LENGTHS:
            return CaseCode(biip.gtin.Gtin.parse(text).as_gtin_14())
        elements = _elements(text)
    except (biip.ParseError, ValueError) as error:
        raise NoCase(text) from error
    found = {element.ai.ai: element for element in elements}
    if _contradict(elements, found):
        raise NoCase(text)
    item = found.get("01")
    if item is None or item.gtin is None:
        raise NoCase(text)
    return CaseCode(
        gtin=item.gtin.as_gtin_14(),
        lot=found["10"].value if "10" in found else "",
        packed_on=_first_date(found, _PACKED),
        careless="37" in found,
        **_dated(found),
        **_weight(found),
    )


def _contradict(elements: list[Element], found: Found) -> bool:
    """Return whether elements exclude each other, or one stands twice and differs."""
    pallet = "01" in found and "02" in found
    weights = max(sum(ai.startswith(unit) for ai in found) for unit in ("310", "320"))
    twice = any(found[element.ai.ai].value != element.value for element in elements)
    return pallet or weights > 1 or twice


def _elements(text: str) -> list[Element]:
    if text.startswith("("):
        return biip.gs1_messages.GS1Message.parse_hri(text).element_strings
    parsed = biip.parse(_plain_link(text))
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


def case_in_picture(image: Image.Image) -> CaseCode:
    """Return the first case code in a grey picture. Raises NoCase."""
    for barcode in zxingcpp.read_barcodes(image, formats=_FORMATS):
        # What is no GS1 barcode may still look like one: "4011" reads as an identifier 401.
        bare = barcode.format in _NUMBERS or barcode.text.lower().startswith("http")
        if barcode.content_type != zxingcpp.ContentType.GS1 and not bare:
            continue
        text = barcode.text if bare else barcode.symbology_identifier + barcode.bytes.decode()
        try:
            return read_case(text)
        except NoCase:
            continue
    raise NoCase("")
