"""The temperature log, its curves and its mean against published figures and scipy."""

import math
import random
from functools import partial
from itertools import pairwise
from operator import attrgetter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from inventory.keeping import AgingCurve, RoomLog, life_used, load_reference, rate
from inventory.keeping.chilling import injury_days, injury_used, is_too_cold
from inventory.keeping.log import (
    BY_PERSON,
    DAY_S,
    HOUR_S,
    LOGGER_HOLD_S,
    PERSON_HOLD_S,
    Knot,
    Measurement,
    excursions,
    excursions_of,
    implausible,
    mean_kinetic_c,
)

REFERENCE = load_reference()


def log_of(*readings, hold_s=LOGGER_HOLD_S, target_c=2.0) -> RoomLog:
    """(hour, °C) pairs."""
    return RoomLog(
        target_c, [Measurement(hour * HOUR_S, celsius, hold_s) for hour, celsius in readings]
    )


def test_mean_kinetic_temperature_of_two_periods():
    """Computed by the formula of USP <1160>, today <1079.2>, with its 10 000 K."""
    assert mean_kinetic_c([(1, 20), (1, 30)]) == pytest.approx(26.26, abs=0.01)


def test_mean_kinetic_temperature_of_a_day_with_one_warm_hour():
    """Computed by the formula of USP <1160>, today <1079.2>, with its 10 000 K."""
    assert mean_kinetic_c([(23, 5), (1, 25)]) == pytest.approx(7.756, abs=0.01)


@given(st.lists(st.tuples(st.floats(0.1, 50), st.floats(-20, 45)), min_size=1, max_size=20))
def test_the_kinetic_mean_lies_between_the_mean_and_the_warmest(steps):
    """Follows from the formula of USP <1160>; no printed figure."""
    mean = sum(w * c for w, c in steps) / sum(w for w, _ in steps)
    assert mean - 1e-9 <= mean_kinetic_c(steps) <= max(c for _, c in steps) + 1e-9


def test_no_readings_have_no_mean():
    with pytest.raises(ValueError, match="no readings"):
        mean_kinetic_c([])


def test_a_reading_holds_until_the_next_and_then_only_so_long():
    log = log_of((0, 3), (1, 5), (10, 4))
    assert log.at_moment(0.5 * HOUR_S).celsius == 3
    assert log.at_moment(2.9 * HOUR_S).measured
    gap = log.at_moment(5 * HOUR_S)
    assert (gap.celsius, gap.measured) == (4, False)  # the mean of the day before, above target
    assert log.at_moment(-HOUR_S).celsius == 2
    assert log.measured_share(0, 10 * HOUR_S) == pytest.approx(0.3)


def test_an_unknown_room_is_never_taken_to_be_colder_than_its_target():
    assert log_of((0, -1)).at_moment(9 * HOUR_S).celsius == 2


def of_two(*readings) -> RoomLog:
    """(hour, °C, sensor) triples."""
    return RoomLog(2.0, [Measurement(at * HOUR_S, c, LOGGER_HOLD_S, s) for at, c, s in readings])


def test_of_two_sensors_the_warmest_ages_and_the_coldest_chills():
    """A room's far corner and its fan: neither hides the other, however they take turns."""
    log = of_two((0, 8, "corner"), (0.5, -1, "fan"), (1, 8, "corner"), (1.5, -1, "fan"))
    assert [log.at_moment(hour * HOUR_S).celsius for hour in (0.7, 1.2, 2.9)] == [8, 8, 8]
    assert [log.at_moment(hour * HOUR_S).coldest_c for hour in (0.2, 0.7, 1.2)] == [8, -1, -1]
    assert log.at_moment(3.2 * HOUR_S).celsius == -1  # the corner's last reading has run out
    assert not log.at_moment(4 * HOUR_S).measured
    spells = excursions(log, 0, 5 * HOUR_S, 0, 5)
    assert [(spell.side, spell.hours, spell.peak_c) for spell in spells] == [
        ("warm", 3, 8), ("cold", 3, -1),
    ]  # fmt: skip


def test_a_persons_reading_counts_until_any_sensors_next():
    log = RoomLog(
        2.0,
        [
            Measurement(0, 3, LOGGER_HOLD_S, "fan"),
            Measurement(0.5 * HOUR_S, 9, PERSON_HOLD_S, BY_PERSON),
            Measurement(1 * HOUR_S, 3, LOGGER_HOLD_S, "fan"),
        ],
    )
    assert log.at_moment(0.6 * HOUR_S).celsius == 9
    assert log.at_moment(1.1 * HOUR_S).celsius == 3


def changed(*changes, readings=(), target_c=2.0, hold_s=LOGGER_HOLD_S) -> RoomLog:
    """A log of (hour, °C) readings with the room's target changed: (hour, °C) pairs."""
    return RoomLog(
        target_c,
        [Measurement(hour * HOUR_S, celsius, hold_s) for hour, celsius in readings],
        [(hour * HOUR_S, celsius) for hour, celsius in changes],
    )


def counts(log: RoomLog, *hours) -> list[tuple[float, bool]]:
    """What counts at each hour, and whether it was measured."""
    knots = [log.at_moment(hour * HOUR_S) for hour in hours]
    assert all(knot.celsius == knot.coldest_c for knot in knots)
    return [(knot.celsius, knot.measured) for knot in knots]


def test_a_target_changed_before_any_reading_counts_from_then_on():
    log = changed((5, 12))
    assert counts(log, -9, 4.99, 5, 500) == [(2, False), (2, False), (12, False), (12, False)]
    log = changed((5, 12), (8, 4), readings=[(10, 7)])
    assert counts(log, 4, 6, 9, 10) == [(2, False), (12, False), (4, False), (7, True)]


def test_a_target_changed_while_the_room_is_measured_counts_once_it_no_longer_is():
    """The reading of hour 0 holds until hour 2; warmer than its mean, the new target counts."""
    log = changed((1, 12), readings=[(0, 7)])
    assert counts(log, 0.5, 1, 1.99, 2, 99) == [
        (7, True), (7, True), (7, True), (12, False), (12, False),
    ]  # fmt: skip


def test_a_target_changed_in_a_gap_counts_from_then_on_where_it_is_the_warmer():
    """Unknown from hour 2 on: the mean of the day before, 7, or the target, whichever is warmer."""
    log = changed((5, 12), (6, 3), (7, 8), readings=[(0, 7), (10, 4)])
    assert counts(log, 4, 5, 6, 7, 10) == [
        (7, False), (12, False), (7, False), (8, False), (4, True),
    ]  # fmt: skip


def test_a_target_changed_after_the_last_reading_counts_for_good():
    log = changed((50, 12), readings=[(0, 1)])
    assert counts(log, 1, 49, 50, 999) == [(1, True), (2, False), (12, False), (12, False)]


def test_a_target_changed_at_the_moment_of_a_reading_or_of_its_end_changes_no_reading():
    log = changed((0, 12), (2, 3), readings=[(0, 1)])
    assert counts(log, 0, 1.99, 2) == [(1, True), (1, True), (3, False)]


@given(
    st.lists(st.tuples(st.integers(0, 60), st.integers(-2, 20)), max_size=6),
    st.lists(st.tuples(st.integers(0, 60), st.integers(-2, 20)), max_size=12),
    st.integers(0, 60),
)
def test_what_counted_before_a_change_of_target_is_what_counted_without_it(changes, readings, last):
    """A change never reaches back, and never what was measured."""
    readings = sorted(dict(readings).items())
    earlier = sorted((hour, celsius) for hour, celsius in changes if hour < last)
    with_it = changed(*earlier, (last, 9), readings=readings)
    without = changed(*earlier, readings=readings)
    for quarter in range(4 * 64):
        hour = quarter / 4
        now, then = with_it.at_moment(hour * HOUR_S), without.at_moment(hour * HOUR_S)
        if hour < last or then.measured:
            assert (now.celsius, now.measured) == (then.celsius, then.measured)
        else:
            assert not now.measured
            assert now.celsius >= 9


def test_a_spell_is_judged_by_the_band_of_its_time_and_goes_on_over_a_change():
    """9 °C all along: too warm for a target of 2, right for one of 8, too cold for one of 14."""
    log = log_of(*[(hour, 9) for hour in range(12)])
    bands = [(0, 4 * HOUR_S, 0, 4), (4 * HOUR_S, 6 * HOUR_S, 1, 5), (6 * HOUR_S, 8 * HOUR_S, 6, 10),
             (8 * HOUR_S, 10 * HOUR_S, 12, 16)]  # fmt: skip
    spells = excursions_of(log, bands)
    assert [(spell.side, spell.start / HOUR_S, spell.end / HOUR_S) for spell in spells] == [
        ("warm", 0, 6), ("cold", 8, 10),
    ]  # fmt: skip


def test_a_persons_reading_holds_from_morning_to_evening():
    assert log_of((0, 3), hold_s=PERSON_HOLD_S).at_moment(12 * HOUR_S).measured


@pytest.mark.parametrize(("celsius", "aside"), [(-31, True), (51, True), (4, False), (-30, False)])
def test_implausible_readings(celsius, aside):
    assert implausible(celsius) is aside


def test_spells_out_of_range_are_joined_and_unknown_time_is_none():
    log = log_of((0, 3), (1, 9), (1.5, 8), (2, 3), (3, 9), (20, 3))
    spells = excursions(log, 0, 21 * HOUR_S, 0, 5)
    assert [(spell.hours, spell.side, spell.peak_c) for spell in spells] == [
        (1, "warm", 9), (2, "warm", 9),
    ]  # fmt: skip


HISTORIES = st.lists(
    st.tuples(st.floats(0.05, 9), st.floats(-4, 40).map(lambda c: round(c, 1))),
    min_size=1, max_size=25,
)  # fmt: skip


def made_log(history) -> RoomLog:
    hours, readings = 0.0, []
    for gap, celsius in history:
        hours += gap
        readings.append((hours, celsius))
    return log_of(*readings)


READ_BY = st.tuples(st.integers(1, 60), st.integers(-2, 20), st.sampled_from(["fan", "door", ""]))


@given(
    st.lists(READ_BY, max_size=20),
    st.lists(READ_BY, max_size=12),
    st.lists(st.tuples(st.integers(0, 60), st.integers(-2, 20)), max_size=2),
)
def test_a_log_grown_by_later_readings_is_the_log_of_them_all(earlier, later, changes):
    """And the one it grew from stays; knots that are settled stand in both."""
    end_h = max([hour for hour, *_ in [*earlier, *changes]], default=0)
    first = sorted(map(measured_by, earlier), key=attrgetter("at"))
    then = sorted(
        (measured_by((end_h + hour, *rest)) for hour, *rest in later), key=attrgetter("at")
    )
    targets = sorted((hour * HOUR_S, float(celsius)) for hour, celsius in changes)
    before = RoomLog(2.0, first, targets)
    grown = before.grown(then).grown([])
    assert knots_of(grown) == knots_of(RoomLog(2.0, [*first, *then], targets))
    assert knots_of(before) == knots_of(RoomLog(2.0, first, targets))
    assert knots_of(grown)[: before.settled] == knots_of(before)[: before.settled]


def measured_by(row) -> Measurement:
    hour, celsius, sensor = row
    return Measurement(
        hour * HOUR_S, celsius, LOGGER_HOLD_S if sensor else PERSON_HOLD_S, sensor or BY_PERSON
    )


def knots_of(log: RoomLog) -> list[Knot]:
    return [log.at_moment(at) for at in log.at]


@settings(max_examples=60)
@given(HISTORIES, st.sampled_from(sorted(REFERENCE)), st.floats(-5, 60), st.floats(0, 80))
def test_two_points_of_the_curve_are_the_integral_of_the_rate(history, key, start_h, hours):
    """Against scipy.integrate.quad, to 1e-6 relative, with gaps and before the first reading."""
    log, crop = made_log(history), REFERENCE[key]
    start, end = start_h * HOUR_S, (start_h + hours) * HOUR_S
    edges = [start, *(at for at in log.at if start < at < end), end]
    exact = sum(
        quad(lambda at: rate(crop, log.at_moment(at).celsius), a, b)[0]
        for a, b in pairwise(edges)
        if b > a
    )
    curve = AgingCurve(log, lambda celsius: rate(crop, celsius))
    assert curve.between(start, end) == pytest.approx(exact / DAY_S, rel=1e-6, abs=1e-9)


@given(HISTORIES, st.floats(0, 40), st.floats(0, 40))
def test_the_curve_equals_the_plain_sum(history, start_h, hours):
    log, crop = made_log(history), REFERENCE["kale"]
    start, end = start_h * HOUR_S, (start_h + hours) * HOUR_S
    periods = [((to - at) / DAY_S, celsius) for at, to, celsius, _ in log.steps(start, end)]
    curve = AgingCurve(log, lambda celsius: rate(crop, celsius))
    used = curve.between(start, end) / crop.base_days
    assert used == pytest.approx(life_used(crop, periods), abs=1e-9)


def test_one_reading_more_extends_the_curve_by_one_knot():
    chance = random.Random(3)
    readings = [(n / 6, round(chance.uniform(1, 6), 1)) for n in range(500)]
    whole = log_of(*readings)
    grown = log_of(*readings[:-1])
    worked_out = []

    def speed(celsius):
        worked_out.append(celsius)
        return rate(REFERENCE["kale"], celsius)

    curve = AgingCurve(grown, speed)
    worked_out.clear()
    length = grown.last_measured(readings[-2][0] * HOUR_S)
    grown = grown.with_tail(length, whole, length)
    curve = curve.regrown(grown, length)
    assert len(worked_out) <= 2
    fresh = AgingCurve(whole, lambda celsius: rate(REFERENCE["kale"], celsius))
    assert curve.between(0, 90 * HOUR_S) == pytest.approx(fresh.between(0, 90 * HOUR_S))


def test_days_to_chilling_injury_are_the_published_ones():
    """AH-66, chapters Eggplant and Bean, snap: the pairs of crops.csv below the safe range."""
    assert injury_days(REFERENCE["eggplant"], 2.5) == pytest.approx(4.5)
    assert injury_days(REFERENCE["snap-bean"], 1) == pytest.approx(2)
    assert injury_days(REFERENCE["eggplant"], 11) == math.inf
    assert injury_days(REFERENCE["mango"], 2) is None
    assert injury_days(REFERENCE["kale"], -1) is None


def test_exposure_adds_up_and_is_told_where_no_figure_is_published():
    """Mangos are hurt below 10 °C: AH-66 (2016) page 63, Table 1."""
    eggplant = REFERENCE["eggplant"]
    assert injury_used(eggplant, [(2.25, 2.5), (3, 11)]) == pytest.approx(0.5)
    mango = REFERENCE["mango"]
    assert injury_used(mango, [(3, 3)]) is None
    exposure = AgingCurve(log_of((0, 3), (72, 11), hold_s=10 * DAY_S), partial(is_too_cold, mango))
    assert exposure.between(0, 8 * DAY_S) == pytest.approx(3)
    assert not is_too_cold(mango, 9.5)  # within the handbook's ±1 °C


@pytest.mark.parametrize("key", sorted(REFERENCE))
def test_colder_never_takes_longer_to_injure(key):
    days = [injury_days(REFERENCE[key], tenth / 10) for tenth in range(-50, 450)]
    if days[0] is not None:
        assert all(colder <= warmer for colder, warmer in pairwise(days))


@pytest.mark.parametrize(("hold_s", "hours"), [(PERSON_HOLD_S, 14), (LOGGER_HOLD_S, 2)])
def test_how_long_a_reading_holds(hold_s, hours):
    """A person reads twice a day: common practice, no source. A logger's two hours: ours."""
    log = log_of((0, 3), hold_s=hold_s)
    assert log.at_moment((hours - 0.01) * HOUR_S).measured
    assert not log.at_moment(hours * HOUR_S).measured


def test_a_reading_is_a_loggers_unless_said_otherwise():
    assert Measurement(0, 3) == Measurement(0, 3, 2 * HOUR_S, "logger")
    assert (HOUR_S, DAY_S) == (3600, 24 * 3600)


@pytest.mark.parametrize(
    ("readings", "hour", "mean"),
    [
        ([(0, 9), (22, 3)], 25, 6),  # the gap begins at hour 24: a day, both ends counted
        ([(0, 9), (22.5, 3)], 25, 3),
        ([(0, 20), (30, 4), (31, 6)], 34, 5),
        ([(0, 20), (1, 10), (1.5, 6)], 3.6, 12),
    ],
)
def test_in_a_gap_the_mean_of_the_day_before_it_counts(readings, hour, mean):
    assert log_of(*readings).at_moment(hour * HOUR_S).celsius == pytest.approx(mean)


def test_where_the_last_reading_held_for_longer_than_a_day_it_is_the_mean():
    log = log_of((0, 5), (1, 9), hold_s=30 * HOUR_S)
    assert counts(log, 30.9, 31) == [(9, True), (9, False)]


def test_of_two_sensors_the_warmest_makes_the_mean_of_the_day():
    log = of_two((0, 8, "corner"), (0, 2, "fan"))
    assert counts(log, 3) == [(8, False)]


def test_what_was_counted_before_a_gap_that_is_over_counts_no_more():
    log = log_of((0, 9), (100, 3))
    assert counts(log, 99, 100, 103) == [(9, False), (3, True), (3, False)]


@pytest.mark.parametrize(("celsius", "aside"), [(-30.1, True), (50, False), (50.1, True)])
def test_no_cold_room_is_colder_than_30_below_or_warmer_than_50(celsius, aside):
    """Ours, no source."""
    assert implausible(celsius) is aside


def test_only_beyond_a_band_is_out_of_it():
    log = log_of((0, 0), (1, 5), (2, -0.1), (3, -0.3), (4, 5.1), (5, 3))
    spells = excursions(log, 0, 6 * HOUR_S, 0, 5)
    assert [(spell.start / HOUR_S, spell.hours, spell.side, spell.peak_c) for spell in spells] == [
        (2, 2, "cold", -0.3), (4, 1, "warm", 5.1),
    ]  # fmt: skip


def test_spells_come_in_order_of_time_and_apart_where_it_was_right_between():
    log = log_of((0, -2), (1, 9), (2, 3), (3, 8), (4, -3), (5, 3))
    spells = excursions(log, 0, 6 * HOUR_S, 0, 5)
    assert [(spell.start / HOUR_S, spell.side) for spell in spells] == [
        (0, "cold"), (1, "warm"), (3, "warm"), (4, "cold"),
    ]  # fmt: skip


def test_a_span_of_no_length_has_no_share_measured():
    log = log_of((0, 3))
    assert log.measured_share(HOUR_S, HOUR_S) == 0
    assert log.measured_share(HOUR_S, 1.5 * HOUR_S) == 1
    assert log.measured_share(-HOUR_S, HOUR_S) == 0.5


def test_steps_before_during_and_after_what_was_measured():
    log = of_two((0, 8, "corner"), (1, -1, "fan"))
    told = [(at / HOUR_S, to / HOUR_S, c, measured) for at, to, c, measured
            in log.steps(-HOUR_S, 2.5 * HOUR_S)]  # fmt: skip
    assert told == [(-1, 0, 2, False), (0, 1, 8, True), (1, 2, 8, True), (2, 2.5, -1, True)]
    cold = [celsius for _, _, celsius, _ in log.steps(-HOUR_S, 2.5 * HOUR_S, coldest=True)]
    assert cold == [2, 8, -1, -1]
    assert list(log.steps(HOUR_S, HOUR_S)) == []


def test_knots_by_their_number():
    """Measured at hours 0 and 10, assumed from 2 and 12."""
    log = log_of((0, 3), (10, 4))
    assert [log.index(hour * HOUR_S) for hour in (-1, 0, 1.9, 2, 10, 99)] == [-1, 0, 0, 1, 2, 3]
    found = [log.last_measured(hour * HOUR_S) for hour in (-1, 0, 5, 10, 11, 99)]
    assert found == [0, 0, 0, 2, 2, 2]
    assert [log.readings_from(hour * HOUR_S) for hour in (-1, 0, 0.1, 10, 99)] == [0, 0, 1, 2, 4]
    found = [log.first_measured(hour * HOUR_S) for hour in (-1, 0, 5, 10, 11, 99)]
    assert found == [0, 0, 2, 2, 4, 4]
    assert (RoomLog(2.0).last_measured(0), RoomLog(2.0).first_measured(0)) == (0, 0)


def test_the_first_knot_that_another_log_has_otherwise_or_has_not():
    """Measured at hours 0 and 10, assumed from 2 and 12."""
    log = log_of((0, 3), (10, 4))
    others = log_of((0, 3), (10, 5)), log_of((0, 3), (11, 4)), log_of((0, 3)), log, log_of((1, 3))
    assert [log.first_differing(other, 0) for other in others] == [2, 2, 2, 4, 0]
    assert [log.first_differing(others[0], start) for start in (1, 2)] == [2, 2]


def test_a_log_with_another_tail_leaves_both_as_they_were():
    log, other = of_two((0, 8, "corner"), (1, 1, "fan")), log_of((50, 5), (51, 6), target_c=9)
    tailed = log.with_tail(1, other, 1)
    assert [at / HOUR_S for at in tailed.at] == [0, 51, 53]
    assert (list(tailed.celsius), list(tailed.coldest_c)) == ([8, 6, 9], [8, 6, 9])
    assert (list(tailed.measured), tailed.target_c) == ([1, 1, 0], 2)
    assert (len(log.at), len(other.at)) == (4, 3)


def test_a_mean_of_no_time_at_all_is_none():
    with pytest.raises(ValueError, match="no readings"):
        mean_kinetic_c([(0, 20)])
    assert mean_kinetic_c([(0.5, 20)]) == pytest.approx(20)
