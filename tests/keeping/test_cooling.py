"""Field heat against the handbook's fractions and a general integrator.

AH-66: USDA Agriculture Handbook 66 (2016), "Precooling and Storage Facilities", pages 11-16.
"""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from inventory.keeping import load_reference, rate
from inventory.keeping.cooling import (
    DEFAULT_HALF_COOLING_H,
    HOTTEST_FIELD_C,
    StartFrom,
    cooling_by,
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
    ("start", "later", "hours"),
    [(20, 20, 1), (20, 21, 1), (20, 1, 1), (20, 2, 1), (20, 9, 0), (20, 9, -1)],
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


# How a harvest cools: probes first, as far as they go, else as assumed.

HOUR_S = 3600


def cooled(*probes, pulp=None, air=2.0, usual=4.0, start=0.0):
    """A harvest with (hours, °C) probes; 20 °C is assumed of it, 4 h of its kind of crate."""
    taken = [(start + hours * HOUR_S, celsius) for hours, celsius in probes]
    return cooling_by(start, air, taken, pulp_c=pulp, assumed_c=20.0, usual_h=usual)


def test_two_probes_win_over_an_assumed_start():
    """By hand: air 2 °C, 22 °C after one hour and 12 after four: 20 halved to 10 in 3.0 h.

    From the assumed 20 °C it would be 18 to 10 in four hours, 4 / log2(1.8) = 4.7 h.
    """
    found = cooled((1, 22), (4, 12))
    assert (found.half_cooling_h, found.measured) == (pytest.approx(3.0), True)
    assert found.start_from == StartFrom.PROBES
    assert found.start_c == pytest.approx(2 + 20 * 2 ** (1 / 3))


def test_of_more_probes_the_first_and_the_last_tell():
    """32 above the air, then 2 above it eight hours later: four halves."""
    assert cooled((0, 34), (3, 11), (8, 4)).half_cooling_h == pytest.approx(2)


def test_the_last_probe_still_above_the_air_tells_when_a_later_one_found_it_cold():
    """22 above the air at arrival, 6 after four hours: 4 / log2(22/6) = 2.134 h."""
    for cold in (2.0, 1.8):
        found = cooled((1, 20), (4, 8), (24, cold), pulp=24, usual=20 / 3)
        assert (found.half_cooling_h, found.measured) == (pytest.approx(2.134, abs=1e-3), True)


def test_once_cold_it_follows_the_room_and_shows_no_more_of_its_cooling():
    """As above; 2.3 °C after two days is the room's swing: by it 48 / log2(22/0.3) = 7.7 h."""
    found = cooled((4, 8), (24, 2.0), (48, 2.3), pulp=24)
    assert found.half_cooling_h == pytest.approx(2.134, abs=1e-3)


def test_what_was_measured_at_arrival_is_the_first_of_the_probes():
    """26 °C at arrival, 8 after four hours: 24 above the air to 6, two halves."""
    found = cooled((4, 8), pulp=26)
    assert (found.half_cooling_h, found.measured) == (pytest.approx(2), True)
    assert (found.start_c, found.start_from) == (26, StartFrom.MEASURED)


def test_a_single_probe_tells_how_warm_it_came_by_the_usual_half_cooling_time():
    """10 above the air after four hours, one half: 20 above it at arrival."""
    found = cooled((4, 12))
    assert (found.start_c, found.start_from) == (pytest.approx(22), StartFrom.PROBES)
    assert (found.half_cooling_h, found.measured) == (4, False)


def test_a_probe_at_once_is_how_warm_it_came_and_one_before_is_no_more():
    assert cooled((0, 17)).start_c == 17
    assert cooled((-1, 17)).start_c == 17


def test_a_probe_days_later_says_nothing_of_how_warm_it_came():
    """One above the air after 48 h, 7.2 halves of 20/3 h: 1 · 2^7.2 = 147 above it at arrival.

    The 20 °C assumed costs spinach 3.1 days; the 50 °C a log takes at most cost it 12.3.
    """
    found = cooled((48, 3), usual=DEFAULT_HALF_COOLING_H)
    assert (found.start_c, found.start_from) == (20, StartFrom.ASSUMED)
    cost = extra_aging_days(REFERENCE["spinach"], found.start_c, 2, found.half_cooling_h, 48)
    assert cost == pytest.approx(3.1, abs=0.05)


def test_a_probe_tells_of_the_arrival_up_to_two_halves_after_it():
    """Halves of 4 h. 2 above the air after eight hours: 8 above it at arrival."""
    found = cooled((8, 4))
    assert (found.start_c, found.start_from) == (pytest.approx(10), StartFrom.PROBES)
    assert cooled((8.1, 4)).start_from == StartFrom.ASSUMED


def test_late_probes_show_the_half_cooling_time_and_not_the_arrival():
    """6 above the air after twelve hours, 3 after sixteen: a half of 4 h, three after arrival."""
    found = cooled((12, 8), (16, 5), usual=10.0)
    assert (found.half_cooling_h, found.measured) == (pytest.approx(4), True)
    assert (found.start_c, found.start_from) == (20, StartFrom.ASSUMED)


def test_nothing_is_reckoned_back_to_warmer_than_a_hot_field():
    """12 above the air after two halves would be 48 above it; what was probed was as warm."""
    assert cooled((8, 14)).start_c == HOTTEST_FIELD_C == 35
    assert cooled((8, 38)).start_c == 38


@pytest.mark.parametrize("celsius", [2.0, 1.5])
def test_what_a_probe_finds_cold_within_a_half_came_in_cold(celsius):
    """From 20 °C it would be at 11 after its half of 4 h: 18 above the air, halved."""
    found = cooled((4, celsius))
    assert (found.start_c, found.start_from) == (celsius, StartFrom.PROBES)
    assert (found.half_cooling_h, found.measured) == (4, False)
    assert extra_aging_days(REFERENCE["spinach"], found.start_c, 2, 4, 48) == 0
    assert cooled((4.1, celsius)).start_from == StartFrom.ASSUMED


def test_a_probe_days_later_at_the_airs_own_temperature_tells_nothing_of_the_arrival():
    """Cold by then, however warm it came."""
    assert cooled((60, 2)).start_from == StartFrom.ASSUMED


def test_without_any_probe_it_is_assumed():
    found = cooled()
    assert (found.start_c, found.start_from) == (20, StartFrom.ASSUMED)
    assert (found.half_cooling_h, found.measured) == (4, False)


def test_probes_that_show_no_cooling_leave_the_usual_time():
    found = cooled((1, 10), (4, 11))
    assert (found.half_cooling_h, found.measured) == (4, False)
    assert found.start_c == pytest.approx(2 + 8 * 2**0.25)


def test_it_is_seven_eighths_cool_after_three_halves_from_when_it_came():
    """AH-66 pages 11-12."""
    assert cooled((1, 22), (4, 12), start=100.0).seven_eighths_at == pytest.approx(100 + 9 * HOUR_S)


def test_the_assumed_half_cooling_time_is_at_the_quick_end_of_room_cooling():
    """AH-66 page 16, Table 1: room cooling takes 20 to 100 h to seven-eighths."""
    assert seven_eighths_h(DEFAULT_HALF_COOLING_H) == pytest.approx(20)


def test_cooling_costs_no_more_once_it_is_done():
    """After ten halves a thousandth of the difference is left."""
    crop = REFERENCE["kale"]
    ten = extra_aging_days(crop, 30, 2, 3, 30)
    assert extra_aging_days(crop, 30, 2, 3, 300) == ten
    assert extra_aging_days(crop, 30, 2, 3, 29) < ten
    assert extra_aging_days(crop, 30, 2, 3, 0) == 0
