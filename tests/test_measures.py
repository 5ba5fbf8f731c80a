"""Units and typed figures against their legal definitions."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory import measures


def test_the_pound_is_exact():
    """NIST SP 811, appendix B.8: 1 lb = 0.453 592 37 kg exactly."""
    assert measures.convert_weight(Decimal(1), "lb", "kg") == Decimal("0.45359237")


def test_pounds_and_kilograms():
    """Computed from the exact pound, NIST SP 811, appendix B.8."""
    assert measures.convert_weight(Decimal(53), "lb", "kg") == pytest.approx(
        Decimal("24.040"), abs=Decimal("0.001")
    )
    assert measures.convert_weight(Decimal(20), "kg", "lb") == pytest.approx(
        Decimal("44.092"), abs=Decimal("0.001")
    )


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"), [("41", "5"), ("50", "10"), ("32", "0"), ("-40", "-40")]
)
def test_degrees(fahrenheit, celsius):
    """°F = 1.8 °C + 32, by definition (from memory)."""
    assert measures.to_celsius(Decimal(fahrenheit), "F") == Decimal(celsius)
    assert measures.from_celsius(Decimal(celsius), "F") == Decimal(fahrenheit)


def test_minus_one_point_one_celsius():
    """Computed from °F = 1.8 °C + 32."""
    assert measures.from_celsius(Decimal("-1.1"), "F") == Decimal("30.02")


@given(st.decimals(-50, 60, places=1))
def test_degrees_there_and_back(celsius):
    assert measures.to_celsius(measures.from_celsius(celsius, "F"), "F") == celsius


@pytest.mark.parametrize(
    ("typed", "number"),
    [("12", "12"), ("12.5", "12.5"), ("12,5", "12.5"), (" 0,250 ", "0.250"), ("-3", "-3"),
     ("−0.5", "-0.5"), (".5", "0.5")],
)  # fmt: skip
def test_a_point_or_a_comma_is_a_decimal(typed, number):
    assert measures.read_decimal(typed) == Decimal(number)


@pytest.mark.parametrize(
    "typed", ["", "abc", "1.2.3", "1,2,3", "NaN", "1e9", "Infinity", "½", "٣", "-", "."]
)
def test_what_is_no_number_is_refused(typed):
    with pytest.raises(measures.NotANumber) as refused:
        measures.read_decimal(typed)
    assert refused.value.reason == "number"


@pytest.mark.parametrize("typed", ["1,500", "12,000"])
def test_a_comma_that_may_mean_thousands_is_refused(typed):
    with pytest.raises(measures.NotANumber) as refused:
        measures.read_decimal(typed)
    assert refused.value.reason == "ambiguous"


@pytest.mark.parametrize(
    ("quantity", "share", "unit", "expected"),
    [("18", "half", "head", "9"), ("18", "quarter", "head", "5"), ("10", "quarter", "kg", "2.5"),
     ("1", "quarter", "bunch", "1"), ("0.001", "half", "kg", "0.001"), ("7", "all", "bunch", "7")],
)  # fmt: skip
def test_shares_of_counts_are_whole(quantity, share, unit, expected):
    assert measures.share_of(Decimal(quantity), share, unit) == Decimal(expected)


@pytest.mark.parametrize(
    ("celsius", "unit", "said"),
    [
        ("2.25", "C", "2.3 °C"),  # a half rounds up, and not to the even figure
        (2.25, "C", "2.3 °C"),
        ("2.35", "C", "2.4 °C"),
        ("-2.25", "C", "-2.3 °C"),  # away from zero
        ("2.24", "C", "2.2 °C"),
        ("3.25", "F", "37.9 °F"),  # 37.85
        ("4", "C", "4 °C"),
        (-0.04, "C", "0 °C"),
    ],
)
def test_a_half_rounds_up(celsius, unit, said):
    """As people do it (common practice, no source)."""
    assert measures.temperature_words(celsius, unit) == said


@pytest.mark.parametrize(("celsius", "said"), [(2.5, "3 °C"), (3.5, "4 °C"), (2.4, "2 °C")])
def test_in_whole_degrees_a_half_rounds_up_too(celsius, said):
    assert measures.temperature_words(celsius, "C", decimals=0) == said


@pytest.mark.parametrize(
    ("typed", "number"),
    [("0,125", "0.125"), ("-0,125", "-0.125"), (",125", "0.125"), ("1,5000", "1.5"),
     ("1,50", "1.5"), ("-7,5", "-7.5"), ("3.", "3")],
)  # fmt: skip
def test_a_comma_is_a_decimal_where_it_can_mean_nothing_else(typed, number):
    assert measures.read_decimal(typed) == Decimal(number)


@pytest.mark.parametrize(
    ("typed", "reason"),
    [("-1,500", "ambiguous"), ("12,0x0", "number"), ("--", "number"), ("3 4", "number")],
)
def test_a_refused_figure_says_what_was_typed_and_why(typed, reason):
    with pytest.raises(measures.NotANumber) as refused:
        measures.read_decimal(typed)
    assert (refused.value.typed, refused.value.reason) == (typed, reason)
    assert str(refused.value) == f"{typed!r}: {reason}"


@pytest.mark.parametrize(
    ("number", "text"),
    [("12.500", "12.5"), ("12.000", "12"), ("100", "100"), ("1E+2", "100"), ("-0.0", "0"),
     ("0.001", "0.001"), ("-3.10", "-3.1")],
)  # fmt: skip
def test_numbers_are_told_plainly(number, text):
    assert measures.plain(Decimal(number)) == text


def test_a_weight_in_its_own_unit_stays_as_it_is():
    for unit in ("kg", "lb"):
        assert measures.convert_weight(Decimal("1.234"), unit, unit) == Decimal("1.234")


def test_what_is_counted_and_what_is_weighed():
    units = ("kg", "lb", "bunch", "head", "piece")
    assert [unit for unit in units if measures.is_weight(unit)] == ["kg", "lb"]
    assert [unit for unit in units if measures.is_count(unit)] == ["bunch", "head", "piece"]


@pytest.mark.parametrize(
    ("quantity", "share", "unit", "expected"),
    [("18", "three-quarters", "head", "14"), ("10", "three-quarters", "kg", "7.5"),
     ("10", "half", "lb", "5"), ("0.005", "half", "kg", "0.003"), ("0.1", "quarter", "kg", "0.025"),
     ("2", "quarter", "piece", "1"), ("0.0004", "half", "kg", "0.0004")],
)  # fmt: skip
def test_shares_of_weights_have_three_decimals_and_none_is_nothing(quantity, share, unit, expected):
    found = measures.share_of(Decimal(quantity), share, unit)
    assert found == Decimal(expected)


@pytest.mark.parametrize(
    ("number", "decimals", "rounded"),
    [("2.25", 1, "2.3"), ("-2.25", 1, "-2.3"), ("2.24", 1, "2.2"), ("2.5", 0, "3")],
)
def test_a_half_is_rounded_away_from_zero(number, decimals, rounded):
    assert str(measures.half_up(Decimal(number), decimals)) == rounded


@pytest.mark.parametrize(
    ("celsius", "unit", "decimals", "words"),
    [(3.4, "C", 1, "3.4 °C"), (3.35, "C", 1, "3.4 °C"), (3.4, "F", 1, "38.1 °F"),
     (4, "C", 1, "4 °C"), (3.5, "C", 0, "4 °C"), ("-0.04", "C", 1, "0 °C")],
)  # fmt: skip
def test_a_temperature_in_words(celsius, unit, decimals, words):
    value = Decimal(celsius) if isinstance(celsius, str) else celsius
    assert measures.temperature_words(value, unit, decimals) == words


def test_a_temperature_in_words_has_one_decimal_unless_told_otherwise():
    assert measures.temperature_words(3.456, "C") == "3.5 °C"


def test_degrees_celsius_stay_as_they_are():
    assert measures.to_celsius(Decimal("3.4"), "C") == Decimal("3.4")
    assert measures.from_celsius(Decimal("3.4"), "C") == Decimal("3.4")


@pytest.mark.parametrize(
    ("quantity", "unit", "own", "expected"),
    [
        ("6", "kg", "bunch", "24"),
        ("6.001", "kg", "bunch", "25"),  # what is missing of a bunch is cut as well
        ("24", "bunch", "kg", "6"),
        ("0.0101", "kg", "kg", "0.011"),
        ("2.5", "bunch", "bunch", "3"),
        ("12", "bunch", "bunch", "12"),
        ("6", "lb", "kg", "2.722"),  # 2.72155
        ("0.907", "kg", "lb", "2"),  # 1.99959
        ("0.25", "kg", "piece", "1"),
        ("10", "lb", "bunch", "19"),  # 18.14
        ("4", "bunch", "lb", "2.205"),  # 2.20462
        ("0", "kg", "bunch", "0"),
    ],
)
def test_an_order_in_the_crates_own_unit_is_rounded_up(quantity, unit, own, expected):
    """By hand, at 0.25 kg a bunch or piece; the pound of NIST SP 811, appendix B.8."""
    found = measures.own_unit(Decimal(quantity), unit, own, Decimal("0.25"), None)
    assert found == Decimal(expected)


def test_what_divides_evenly_is_not_rounded_up():
    """1 lb is 0.45359237 kg exactly (NIST SP 811, appendix B.8): ten bunches of a tenth of it."""
    a_tenth = Decimal("0.045359237")
    assert measures.own_unit(Decimal(1), "lb", "bunch", a_tenth, None) == 10
    assert measures.own_unit(Decimal(10), "bunch", "lb", a_tenth, None) == 1


@pytest.mark.parametrize(
    ("quantity", "own", "holds", "expected"),
    [("2", "kg", "18.1", "36.2"), ("0.5", "bunch", "12", "6"), ("0.5", "head", "15", "8")],
)
def test_a_case_counts_what_it_holds(quantity, own, holds, expected):
    found = measures.own_unit(Decimal(quantity), "case", own, None, Decimal(holds))
    assert found == Decimal(expected)


@pytest.mark.parametrize(("unit", "own"), [("kg", "bunch"), ("lb", "head"), ("piece", "kg")])
@pytest.mark.parametrize("weight", [None, Decimal(0)])
def test_between_counts_and_weights_a_weight_is_needed(unit, own, weight):
    with pytest.raises(measures.NeedsWeight):
        measures.own_unit(Decimal(6), unit, own, weight, Decimal(12))


@pytest.mark.parametrize("holds", [None, Decimal(0)])
def test_for_a_case_it_must_be_known_what_one_holds(holds):
    with pytest.raises(measures.NeedsCase):
        measures.own_unit(Decimal(2), "case", "kg", Decimal("0.25"), holds)


def test_pieces_are_no_bunches():
    with pytest.raises(measures.NeedsCount):
        measures.own_unit(Decimal(12), "piece", "bunch", Decimal("0.25"), Decimal(12))


AMOUNTS = st.decimals("0.001", 10_000, places=3)
PIECE_WEIGHTS = st.decimals("0.001", 50, places=3)


@given(AMOUNTS, st.sampled_from(measures.WEIGHTS), PIECE_WEIGHTS)
def test_the_bunches_of_a_weight_are_enough_and_not_one_too_many(quantity, unit, each):
    bunches = measures.own_unit(quantity, unit, "bunch", each, None)
    kg = measures.convert_weight(quantity, unit, "kg")
    assert (bunches - 1) * each < kg <= bunches * each


@pytest.mark.parametrize(
    ("free", "size", "cases", "loose"),
    [("37", "12", 3, "1"), ("37", "24", 1, "13"), ("36", "12", 3, "0"), ("11", "12", 0, "11"),
     ("40", "18.1", 2, "3.8"), ("0", "12", 0, "0")],
)  # fmt: skip
def test_full_cases_are_never_rounded_up(free, size, cases, loose):
    """37 in twelves and in twenty-fours: computed, common practice of promising (no source)."""
    assert measures.packs(Decimal(free), Decimal(size)) == (cases, Decimal(loose))


def test_forty_eight_bunches_of_green_onions():
    """A commodity guide (paperzz.com/doc/8294231): 4 dozen bunches weigh 11 to 12 lb a carton."""
    for pounds, each in ((11, "0.104"), (12, "0.113")):
        carton = measures.convert_weight(Decimal(pounds), "lb", "kg")
        assert carton / 48 == pytest.approx(Decimal(each), rel=Decimal("0.01"))
        back = measures.own_unit(Decimal(48), "bunch", "lb", Decimal(each), None)
        assert back == pytest.approx(pounds, rel=Decimal("0.01"))


@pytest.mark.parametrize(("bunches", "lb", "kg"), [(24, "18", "8.165"), (30, "22.5", "10.206")])
def test_a_pack_of_arugula(bunches, lb, kg):
    """A produce pack guide (docslib.org/doc/9274538): 24 to 30 bunches of about 3/4 lb."""
    each = measures.convert_weight(Decimal("0.75"), "lb", "kg")
    assert measures.own_unit(Decimal(bunches), "bunch", "lb", each, None) == Decimal(lb)
    assert measures.own_unit(Decimal(bunches), "bunch", "kg", each, None) == Decimal(kg)


@pytest.mark.parametrize(
    ("number", "decimals", "told"),
    [
        # Stefanou et al., IJERPH 20:2924 (2023): of 77 fridges in Poland 49.35 % had a mean above
        # 5 °C and 3.9 % one above 10 °C, so 38 and 3.
        (Fraction(4935, 10_000) * 77, 0, "38"),
        (Fraction(39, 1000) * 77, 0, "3"),
        (Fraction(100 * 38, 77), 2, "49.35"),
        (Fraction(100 * 3, 77), 1, "3.9"),
        # FDA 2004, fast food: cold or hot holding was out in 180 of 432 observations.
        (Fraction(100 * 180, 432), 1, "41.7"),
        # SARE, Northeast Crop Production and Harvest Manual, collards: 0.7 bunch a row foot, 40 to
        # 60 bunches a person and hour; so for 120 bunches 171 feet, and 2 to 3 hours.
        (120 / Fraction(7, 10), 0, "171"),
        (Fraction(120, 60), 1, "2.0"),
        (Fraction(120, 40), 1, "3.0"),
    ],
)  # fmt: skip
def test_what_was_published_as_rounded_is_rounded_so(number, decimals, told):
    exact = Decimal(number.numerator) / number.denominator
    assert str(measures.half_up(exact, decimals)) == told
