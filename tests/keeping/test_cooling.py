"""Field heat against the handbook's fractions and a general integrator.

AH-66: USDA Agriculture Handbook 66 (2016), "Precooling and Storage Facilities", pages 11-16.
"""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from inventory.keeping import load_reference, rate
from inventory.keeping.cooling import (
    extra_aging_days,
    half_cooling_h,
    hours_to,
    pulp_c,
    seven_eighths_h,
)

REFERENCE = load_reference()


@pytest.mark.parametrize(("halves", "fahrenheit"), [(1, 62), (2, 48), (3, 41)])
def test_ninety_degrees_into_thirty_four(halves, fahrenheit):
    """Computed by halving the 56 °F between them, AH-66 pages 11-12; the law knows no unit."""
    assert pulp_c(90, 34, 1, halves) == pytest.approx(fahrenheit)


@pytest.mark.parametrize(("halves", "left"), [(1, 1 / 2), (2, 1 / 4), (3, 1 / 8), (4, 1 / 16)])
def test_fractions_of_the_difference(halves, left):
    """AH-66 pages 11-12: half, three-quarters, seven-eighths, fifteen-sixteenths."""
    assert pulp_c(1, 0, 2.5, 2.5 * halves) == pytest.approx(left)


def test_thirty_degrees_after_six_hours_and_the_time_to_four():
    """Computed from three half-cooling times to seven-eighths, AH-66 pages 11-12."""
    assert pulp_c(30, 0, 2, 6) == pytest.approx(3.75)
    assert hours_to(30, 0, 2, 4) == pytest.approx(5.81, abs=0.02)
    assert seven_eighths_h(2) == 6


@pytest.mark.parametrize("target", [0, -1])
def test_the_airs_own_temperature_is_never_reached(target):
    """Follows from the law of cooling; no printed figure."""
    assert hours_to(30, 0, 2, target) is None


def test_produce_that_is_cold_already_takes_no_time():
    assert hours_to(3, 0, 2, 4) == 0


@pytest.mark.parametrize(("minutes", "half"), [(60, 20), (180, 60)])
def test_seven_eighths_times_of_strawberries(minutes, half):
    """Forced air, 60 to 180 min to seven-eighths: ASHS conference 2018, paper 29317, abstract."""
    assert half_cooling_h(8, 1, 0, minutes / 60) * 60 == pytest.approx(half)


@given(st.floats(15, 35), st.floats(0, 8), st.floats(0.2, 30), st.floats(0.5, 60))
def test_two_probe_readings_show_the_half_cooling_time(start, air, half, hours):
    later = pulp_c(start, air, half, hours)
    if later - air > 1e-6:
        assert half_cooling_h(start, later, air, hours) == pytest.approx(half, rel=1e-4)


@pytest.mark.parametrize(
    ("start", "later", "hours"), [(20, 20, 1), (20, 21, 1), (20, 1, 1), (20, 9, 0)]
)
def test_readings_that_show_no_cooling_show_no_time(start, later, hours):
    assert half_cooling_h(start, later, 2, hours) is None


# Every temperature at which a published point or a Q10 band may bend the rate.
BENDS_C = (*range(5, 41, 5), 4.5, 21)


@settings(max_examples=60)
@given(
    st.sampled_from(["kale", "apple", "broccoli", "spinach", "leek"]),
    st.floats(10, 38),
    st.floats(0, 8),
    st.floats(0.5, 20),
    st.floats(0.5, 80),
)
def test_what_cooling_costs_agrees_with_a_general_integrator(key, start, air, half, hours):
    """scipy.integrate.quad, told where the rate has its kinks."""
    crop = REFERENCE[key]
    end = min(hours, 10 * half)
    kinks = [hours_to(start, air, half, c) for c in (crop.temp_high_c, *BENDS_C)]
    inside = sorted({kink for kink in kinks if kink is not None and 0 < kink < end})
    exact, _ = quad(
        lambda hour: (rate(crop, pulp_c(start, air, half, hour)) - rate(crop, air)) / 24,
        0, end, points=inside or None, limit=400, epsabs=1e-12, epsrel=1e-10,
    )  # fmt: skip
    ours = extra_aging_days(crop, start, air, half, hours)
    whole = ours + end / 24 * rate(crop, air)
    assert abs(ours - exact) <= 1e-6 * whole + 1e-9


def test_cold_produce_costs_nothing_more():
    assert extra_aging_days(REFERENCE["kale"], 2, 2, 6, 24) == 0
