"""GS1 barcodes of bought-in cases against the GS1 General Specifications' examples.

Sources: GS1 Barcode Syntax Dictionary and the tests of its Syntax Engine (2026); General
Specifications, sections 3 and 7.12, second-hand; GS1 Digital Link: URI Syntax 1.2 (2021) and its
test vectors. A pallet's number of 18 digits is none of a case and is refused like any other.
"""

import datetime as dt
from datetime import date
from decimal import Decimal

import biip
import pytest
import zxingcpp
from PIL import Image

from inventory.labels.cases import CaseCode, NoCase, case_in_picture, read_case

GTIN = "09520123456788"
FNC1 = "\x1d"


@pytest.mark.parametrize("digits", ["09520123456788", "12312312312326", "12345678901231"])
def test_check_digits(digits):
    """GS1's examples of 14 digits, weights 3 and 1 from the right."""
    assert read_case(f"(01){digits}").gtin == read_case(digits).gtin == digits
    for wrong in "0123456789":
        if wrong != digits[-1]:
            with pytest.raises(NoCase):
                read_case(f"(01){digits[:-1]}{wrong}")


def test_a_number_of_13_digits():
    """Of prefix 952, which GS1 keeps for examples (its list of prefixes, from memory)."""
    assert read_case("9520123456788").gtin == "09520123456788"
    with pytest.raises(NoCase):
        read_case("9520123456789")


@pytest.mark.parametrize(
    "elements",
    [
        f"(01){GTIN}(02){GTIN}(37)5",
        f"(01){GTIN}(3103)000195(3102)000195",
        f"(01){GTIN}(10)ABC(10)ABD",
        "(02)09520123456788(37)123(00)123456789012345675",
    ],
)
def test_elements_that_exclude_each_other_or_are_a_pallets(elements):
    """Pairs of the Syntax Dictionary; the last is valid, but no case."""
    with pytest.raises(NoCase):
        read_case(elements)


def test_a_careless_count_leaves_number_and_lot():
    """Syntax Dictionary: 37 requires 02 or 8026. Labels that break it are met; what they say of
    the case itself stands, and the count is warned of (common practice, no source)."""
    found = read_case("(01)12345678901231(10)ABC(37)123")
    assert (found.gtin, found.lot, found.careless) == ("12345678901231", "ABC", True)
    assert not read_case("(01)12345678901231(10)ABC").careless
    assert read_case(f"]C1011234567890123137123{FNC1}10ABC") == found


@pytest.mark.parametrize("elements", ["(02)12345678901231(37)5", "(37)5(10)ABC", "(01)37"])
def test_a_count_beside_no_number_is_still_no_case(elements):
    """What a count with its partner stands on is a pallet's."""
    with pytest.raises(NoCase):
        read_case(elements)


def test_a_weight_in_both_units_is_one_weight():
    found = read_case(f"(01){GTIN}(3102)001810(3202)003990")
    assert (found.weight, found.weight_unit) == (Decimal("18.1"), "kg")


def test_elements_end_by_their_length_or_by_fnc1():
    """Syntax Dictionary: a date has a set length, a lot has not. Built with python-stdnum."""
    plain = read_case(f"]C101{GTIN}1325071410ABC123")
    assert plain == CaseCode(GTIN, "ABC123", date(2025, 7, 14))
    weighed = read_case(f"]C101{GTIN}10ABC123{FNC1}3103000195")
    assert (weighed.lot, weighed.weight, weighed.weight_unit) == ("ABC123", Decimal("0.195"), "kg")


@pytest.mark.parametrize(
    ("element", "day"),
    [("(17)130200", date(2013, 2, 28)), ("(15)760101", date(2076, 1, 1)),
     ("(15)770101", date(1977, 1, 1)), ("(15)780101", date(1978, 1, 1))],
)  # fmt: skip
def test_centuries_and_day_nought(monkeypatch, element, day):
    """General Specifications 7.12: in 2026, 76 is 2076 and 77 is 1977; day 00 ends the month."""

    class In2026(dt.datetime):
        @classmethod
        def now(cls, tz=None):
            return cls(2026, 11, 25, tzinfo=tz)

    monkeypatch.setattr(biip.gs1_element_strings.dt, "datetime", In2026)
    assert read_case(f"(01){GTIN}{element}").best_before == day


@pytest.mark.parametrize(
    ("ai", "kind"), [("15", "best before"), ("16", "sell by"), ("17", "use by")]
)
def test_a_packers_date_is_of_the_kind_its_identifier_says(ai, kind):
    """General Specifications, section 3.4: BEST BEFORE, SELL BY, USE BY OR EXPIRY."""
    found = read_case(f"(01){GTIN}({ai})280426")
    assert (found.best_before, found.best_before_kind) == (date(2028, 4, 26), kind)


@pytest.mark.parametrize(
    ("elements", "day", "kind"),
    [
        ("(15)280430(16)280428(17)280426", 26, "use by"),
        ("(17)280430(15)280426", 30, "use by"),
        ("(15)280430(16)280428", 28, "sell by"),
    ],
)
def test_of_several_dates_the_strictest_kind_counts(elements, day, kind):
    """A use by before a sell by before a best before, whatever their order and their days."""
    found = read_case(f"(01){GTIN}{elements}")
    assert (found.best_before, found.best_before_kind) == (date(2028, 4, day), kind)


@pytest.mark.parametrize("element", ["", "(13)280426", "(11)280426", "(10)17"])
def test_without_a_packers_date_there_is_no_kind(element):
    found = read_case(f"(01){GTIN}{element}")
    assert (found.best_before, found.best_before_kind) == (None, "")


@pytest.mark.parametrize("element", ["(13)251300", "(13)250230"])
def test_impossible_dates_are_refused(element):
    """Syntax Dictionary: there is no month 13 and no 30 February."""
    with pytest.raises(NoCase):
        read_case(f"(01){GTIN}{element}")


def test_a_digital_link():
    """URI Syntax 1.2, after its test vectors."""
    link = f"https://id.gs1.org/01/{GTIN}/10/ABC1/21/12345?17=280426"
    capitals = link.replace("https://id.gs1.org", "HTTPS://ID.GS1.ORG")
    assert read_case(capitals) == read_case(link)
    assert read_case(link) == CaseCode(
        GTIN, "ABC1", best_before=date(2028, 4, 26), best_before_kind="use by"
    )


def test_a_digital_link_escapes_and_keeps_its_order():
    """URI Syntax 1.2, after its test vectors; 22 must come before 10."""
    link = "https://example.com/01/12312312312333/10/ABC%2B123?99=XYZ%2BQWERTY"
    assert read_case(link) == CaseCode("12312312312333", "ABC+123")
    with pytest.raises(NoCase):
        read_case(f"https://id.gs1.org/01/{GTIN}/10/ABC1/22/2A")


@pytest.mark.parametrize(
    "text", ["", "4011", "(10)ABC123", "hello", "🥬", "x" * 500, "https://farm.example/L/7K3M9Q4"]
)
def test_what_is_no_case_is_refused(text):
    with pytest.raises(NoCase):
        read_case(text)


@pytest.mark.parametrize("kind", ["Code128", "DataMatrix", "DataBarExp"])
def test_the_kinds_of_symbol_are_read_from_a_picture(kind):
    symbol = zxingcpp.create_barcode(
        f"(01){GTIN}(13)250714(10)ABC123", getattr(zxingcpp.BarcodeFormat, kind), gs1=True
    )
    drawn = Image.fromarray(zxingcpp.write_barcode_to_image(symbol, scale=4))
    picture = Image.new("L", (drawn.width + 80, drawn.height + 80), 255)
    picture.paste(drawn.convert("L"), (40, 40))
    assert case_in_picture(picture) == CaseCode(GTIN, "ABC123", date(2025, 7, 14))


@pytest.mark.parametrize(
    ("kind", "digits"), [("EAN13", "9520123456788"), ("ITF", "12345678901231")]
)
def test_a_trade_item_number_alone_is_read_from_a_picture(kind, digits):
    symbol = zxingcpp.create_barcode(digits, getattr(zxingcpp.BarcodeFormat, kind))
    drawn = Image.fromarray(zxingcpp.write_barcode_to_image(symbol, scale=3)).convert("L")
    picture = Image.new("L", (drawn.width + 80, drawn.height + 80), 255)
    picture.paste(drawn, (40, 40))
    assert case_in_picture(picture) == CaseCode(digits.zfill(14))


@pytest.mark.parametrize("digits", ["4011", "9520123456788"])
def test_a_plain_number_code_is_not_taken_for_one(digits):
    """Somebody's own number in Code 128 may happen to have a right check digit."""
    symbol = zxingcpp.create_barcode(digits, zxingcpp.BarcodeFormat.Code128)
    drawn = Image.fromarray(zxingcpp.write_barcode_to_image(symbol, scale=4)).convert("L")
    with pytest.raises(NoCase):
        case_in_picture(drawn)
