"""What comes back of what somebody typed."""

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from hypothesis import given
from hypothesis import strategies as st

from inventory.forms.fields import DegreesApartField, TemperatureField, WeightField


@given(st.integers(-20, 130))
def test_whole_degrees_fahrenheit_come_back_as_typed(degrees):
    field = TemperatureField()
    field.use_unit("F")
    assert field.prepare_value(field.clean(str(degrees))) == str(degrees)


@given(st.decimals("0.1", 90, places=2))
def test_pounds_come_back_as_typed(pounds):
    field = WeightField()
    field.use_unit("lb")
    assert Decimal(field.prepare_value(field.clean(str(pounds)))) == pounds


@pytest.mark.parametrize(("unit", "typed", "apart"), [("C", "2", "2"), ("F", "4", "2.22")])
def test_degrees_apart_have_no_zero_point(unit, typed, apart):
    field = DegreesApartField(least=Decimal("0.5"), most=9)
    field.use_unit(unit)
    assert field.clean(typed) == Decimal(apart)
    assert field.prepare_value(Decimal(apart)) == typed
    with pytest.raises(ValidationError):
        field.clean("17")  # more than 9 °C, or 16.2 °F
