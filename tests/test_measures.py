"""Units and typed figures against their legal definitions."""

from decimal import Decimal

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
