"""GS1 barcodes of bought-in cases against the GS1 General Specifications' examples.

Sources: GS1 Barcode Syntax Dictionary and the tests of its Syntax Engine (2026); General
Specifications, sections 3 and 7.12, second-hand; GS1 Digital Link: URI Syntax 1.2 (2021) and its
test vectors.
"""

import datetime as dt
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import biip
import pytest

from inventory.labels.cases import (
    FAR,
    CaseCode,
    NoCase,
    Pallet,
    case_in_picture,
    far_off,
    read_case,
)
from tests.labels.barcodes import LINEAR, drawn, photo

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
    picture = drawn(kind, f"(01){GTIN}(13)250714(10)ABC123", 4)
    assert case_in_picture(picture) == CaseCode(GTIN, "ABC123", date(2025, 7, 14))


@pytest.mark.parametrize(
    ("kind", "digits"), [("EAN13", "9520123456788"), ("ITF", "12345678901231")]
)
def test_a_trade_item_number_alone_is_read_from_a_picture(kind, digits):
    assert case_in_picture(drawn(kind, digits)) == CaseCode(digits.zfill(14))


@pytest.mark.parametrize("digits", ["4011", "9520123456788"])
def test_a_plain_number_code_is_not_taken_for_one(digits):
    """Somebody's own number in Code 128 may happen to have a right check digit."""
    with pytest.raises(NoCase):
        case_in_picture(drawn("Code128", digits, 4))


@pytest.mark.parametrize(("kind", "text"), LINEAR)
def test_a_linear_symbol_is_read_at_every_angle(kind, text):
    label, told = drawn(kind, text), read_case(text)
    found = [case_in_picture(photo(label, turned=angle)) for angle in range(0, 91, 15)]
    assert found == [told] * 7


@pytest.mark.parametrize("angle", [10, 50, 100])
def test_a_databar_that_is_read_in_two_ways_is_taken_as_the_one_seen_often(angle):
    """At these angles this one was read as number 09520123471200 and lot AE1O23 too."""
    label = drawn("DataBarExp", f"(01){GTIN}(13)250714(10)ABC123")
    assert case_in_picture(photo(label, turned=angle)) == CaseCode(
        GTIN, "ABC123", date(2025, 7, 14)
    )


@pytest.mark.parametrize("angle", [0, 33, 90])
def test_a_part_of_a_number_is_not_taken_for_another(angle):
    """An ITF symbol has no mark of its length: a part of it may be read, here with a right check
    digit. Those of cases have 14 digits (General Specifications, section 5; from memory)."""
    digits = "123123123125"
    assert read_case(digits)
    with pytest.raises(NoCase):
        case_in_picture(photo(drawn("ITF", digits), turned=angle))


NUMBER = f"(01){GTIN}"
BESIDE = "(15)280426(10)HO-77"
BOTH = CaseCode(GTIN, "HO-77", best_before=date(2028, 4, 26), best_before_kind="best before")


@pytest.mark.parametrize("turned", [0, 10, 38, 90])
@pytest.mark.parametrize(
    "labels",
    [
        [("Code128", NUMBER), ("Code128", BESIDE)],
        [("Code128", BESIDE), ("Code128", NUMBER)],
        [("EAN13", GTIN[1:]), ("Code128", NUMBER + BESIDE)],
        [("EAN13", GTIN[1:]), ("DataMatrix", BESIDE)],
        [("Code128", NUMBER + "(15)280426"), ("Code128", NUMBER + "(10)HO-77")],
        [("Code128", "(00)123456789012345675"), ("Code128", NUMBER + BESIDE)],
        [("Code128", NUMBER + BESIDE), ("Code128", NUMBER + BESIDE)],
    ],
)
def test_what_two_barcodes_of_a_case_say_is_put_together(labels, turned):
    """Data of one trade item in several symbols: GS1 General Specifications, section 4 (from
    memory); EAN-13 and GS1-128 side by side: common practice, no source."""
    assert case_in_picture(photo(*(drawn(*label) for label in labels), turned=turned)) == BOTH


@pytest.mark.parametrize("turned", [10, 41, 49, 80])
def test_a_long_symbol_beside_a_short_one_is_read_at_every_angle(turned):
    """The short one is read further from level than the long one."""
    text = f"{NUMBER}{BESIDE}(3102)001810"
    labels = drawn("EAN13", GTIN[1:]), drawn("Code128", text)
    assert case_in_picture(photo(*labels, turned=turned)) == read_case(text)


@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize(
    "other",
    [
        ("Code128", "(01)12312312312326"), ("ITF", "12312312312326"), ("Code128", NUMBER + "(10)A"),
        ("Code128", "(15)280427"), ("Code128", "(01)12312312312326(10)HO-77"),
    ],
)  # fmt: skip
def test_of_two_that_contradict_each_other_the_fuller_is_taken_and_it_is_said(other, swapped):
    labels = [drawn("Code128", NUMBER + BESIDE), drawn(*other)]
    if swapped:
        labels.reverse()
    assert case_in_picture(photo(*labels)) == replace(BOTH, differs=True)


def test_a_case_with_two_numbers_goes_by_the_one_with_an_indicator():
    """1 to 8 is a group of items, 0 the item (General Specifications, section 2.1; from memory)."""
    labels = drawn("EAN13", GTIN[1:]), drawn("ITF", "19520123456785")
    assert case_in_picture(photo(*labels)) == CaseCode("19520123456785", differs=True)


@pytest.mark.parametrize(
    ("text", "refusal"),
    [(BESIDE, NoCase), ("(00)123456789012345675", Pallet), (f"(02){GTIN}(37)24", Pallet)],
)
def test_a_picture_without_a_cases_number_is_refused(text, refusal):
    with pytest.raises(NoCase) as told:
        case_in_picture(photo(drawn("Code128", text)))
    assert type(told.value) is refusal


@pytest.mark.parametrize(
    "text",
    [
        "(00)123456789012345675", "https://id.gs1.org/00/123456789012345675",
        "]C100123456789012345675", "123456789012345675", f"(02){GTIN}(37)24",
    ],
)  # fmt: skip
def test_a_pallet_is_told_from_what_is_nothing(text):
    """SSCC and CONTENT: General Specifications, sections 3.3 and 3.4; the SSCC is the Syntax
    Dictionary's."""
    with pytest.raises(Pallet):
        read_case(text)


@pytest.mark.parametrize("text", ["(00)123456789012345674", "123456789012345674", "(10)ABC"])
def test_what_is_nothing_is_no_pallet(text):
    with pytest.raises(NoCase) as told:
        read_case(text)
    assert type(told.value) is NoCase


@pytest.mark.parametrize(
    "element",
    ["(7007)250714", "(7007)250714250716", "(7007)240229", "(7006)250714", "(7003)2507141200"],
)
def test_a_harvest_of_one_day_or_two_is_passed_over(element):
    """Syntax Dictionary: 7007 is yymmdd, once or from and to."""
    assert read_case(NUMBER + element) == CaseCode(GTIN)


@pytest.mark.parametrize(
    "element",
    [
        "(7007)250700", "(7007)250714250700", "(7007)250230", "(7006)250700", "(7003)2513141200",
    ],
)  # fmt: skip
def test_the_day_of_a_harvest_is_never_nought(element):
    """Syntax Dictionary: 7006 and 7007 are yymmdd; only dates like 15 may leave the day out
    (yymmd0)."""
    with pytest.raises(NoCase):
        read_case(NUMBER + element)


TODAY = date(2026, 11, 25)


@pytest.mark.parametrize(
    ("packed_on", "best_before", "far"),
    [
        (None, None, []),
        (date(1977, 1, 1), None, ["packed_on"]),
        (TODAY - FAR, TODAY - FAR, []),
        (TODAY, TODAY + FAR, []),
        (TODAY + timedelta(1), None, ["packed_on"]),
        (TODAY - FAR - timedelta(1), TODAY + FAR + timedelta(1), ["packed_on", "best_before"]),
        (None, date(2016, 2, 29), ["best_before"]),
    ],
)
def test_dates_that_can_hardly_be(packed_on, best_before, far):
    """More than two years off, or packed after today: common practice, no source."""
    code = CaseCode(GTIN, packed_on=packed_on, best_before=best_before)
    assert far_off(code, TODAY) == {name: getattr(code, name) for name in far}
