"""The clocks of crates, by hand: no database.

AH-66: USDA Agriculture Handbook 66 (2016). What is worked out here stands beside its check.
"""

from datetime import UTC, datetime, timedelta

import pytest

from inventory.keeping import life_days, load_reference, rate
from inventory.keeping.cooling import extra_aging_days
from inventory.ledger.fold import State
from inventory.lives.clocks import Clocks
from inventory.lives.stays import Link
from tests.lives.hand import (
    COLD,
    CORNER,
    NOW,
    at,
    came,
    clocks,
    logged,
    record,
    seconds,
    steady,
    step,
)

REFERENCE = load_reference()
KALE = REFERENCE["kale"]
DAY = 24


def life(lot, hours: float, *rooms):
    return clocks(lot, rooms=rooms).life(lot.code, at(hours))


# The forecast.

# Twenty hours at 2 °C and four at 15 °C, three days long.
UP_AND_DOWN = [(hour, 2.0 if hour % DAY < 20 else 15.0) for hour in range(3 * DAY + 1)]


def test_the_forecast_is_the_mean_of_the_rate_not_the_rate_at_the_mean():
    """By hand from AH-66 pages 68-69, Table 2, Q10 3 to 10 °C and 2.5 above, kale 14 days at 0 °C.

    Rate at 2 °C: 3^0.2 = 1.2457; at 15 °C: 3 · 2.5^0.5 = 4.7434. Mean (20 · 1.2457 +
    4 · 4.7434) / 24 = 1.8287; three days of it are 5.4860 of the 14, and the 8.5140 left last
    4.6558 days. At the mean temperature, 4.17 °C, the rate were 1.5805, and days 16 % too many.
    """
    found = life(record(), 3 * DAY, logged(2.0, *UP_AND_DOWN))
    assert found.used * 14 == pytest.approx(5.4860, abs=1e-4)
    assert found.days_left == pytest.approx(4.6558, abs=1e-4)
    assert found.keep_until == at(3 * DAY) + timedelta(days=found.days_left)
    assert (found.here_c, found.measured) == (pytest.approx(25 / 6), True)


def test_the_generous_end_is_forecast_by_the_same_rate():
    """The long end of kale's range is 21 days: (21 - 5.4860) / 1.8287 = 8.4838."""
    found = life(record(), 3 * DAY, logged(2.0, *UP_AND_DOWN))
    assert found.generous_days_left == pytest.approx(8.4838, abs=1e-3)


def test_only_the_last_three_days_speak_for_the_next():
    """A warm day before them is paid for, and forecasts nothing: 3^0.2 a day at 2 °C."""
    room = logged(2.0, *steady(15, 23), *steady(2, 3 * DAY, start=DAY))
    found = life(record(), 4 * DAY, room)
    assert found.used * 14 == pytest.approx(4.7434 + 3 * 1.2457, abs=1e-3)
    assert found.days_left == pytest.approx((14 - 4.7434 - 3 * 1.2457) / 1.2457, abs=1e-3)


def test_where_most_of_three_days_is_unknown_what_counts_now_is_forecast_with():
    """A logger of the first day alone; since, the mean of that day counts, as it was warmer."""
    found = life(record(), 3 * DAY, logged(2.0, *steady(7, DAY)))
    assert (found.here_c, found.measured) == (7, False)
    assert found.days_left == pytest.approx((1 - found.used) * life_days(KALE, 7))


def test_with_two_thermometers_the_coming_injury_is_by_the_coldest_and_age_by_the_warmest():
    """Eggplant, AH-66 page 323, Table 1: hurt after 4.5 days at 2.5 °C; after two, 2.5 are left.

    At 12 °C nothing hurts it and at most 7 - 2 = 5 days are left.
    """
    fan, door = (steady(celsius, 3 * DAY, start=-DAY) for celsius in (2.5, 12))
    found = life(record("eggplant"), 2 * DAY, logged(10.0, fan=fan, door=door))
    assert found.used == pytest.approx(2 / 7)
    assert found.chill_used == pytest.approx(2 / 4.5)
    assert found.days_left == pytest.approx(2.5)
    assert found.generous_days_left == pytest.approx(2.5)


def test_injury_that_comes_and_goes_is_forecast_by_its_mean_too():
    """Eggplant, half of each day at 2.5 °C (4.5 days) and half at 12: 9 days, 3 of them gone."""
    readings = [(hour, 2.5 if hour % DAY < 12 else 12.0) for hour in range(3 * DAY + 1)]
    found = life(record("eggplant"), 3 * DAY, logged(10.0, *readings))
    assert found.chill_used == pytest.approx(3 / 9)
    assert found.days_left == pytest.approx(min(6, 7 - 3))
    moved = record("eggplant", reference=REFERENCE["eggplant"].with_life(30))
    assert life(moved, 3 * DAY, logged(10.0, *readings)).days_left == pytest.approx(6)


def test_in_a_room_that_hurts_nothing_decay_alone_decides():
    found = life(record("eggplant"), DAY, logged(11.0))
    assert (found.days_left, found.chill_used) == (pytest.approx(6), 0)


def test_a_crate_goes_on_where_it_stands_and_one_not_put_away_in_the_first_room():
    rooms = logged(2.0), logged(12.0, room=CORNER)
    moved = record(steps=[step(0, room=CORNER)])
    waiting = record(steps=[step(0, State.TO_PUT_AWAY, room=None)])
    assert life(moved, 0, *rooms).days_left == pytest.approx(life_days(KALE, 12))
    assert life(waiting, 0, *rooms).days_left == pytest.approx(life_days(KALE, 2))


@pytest.mark.parametrize("celsius", [2.5, 5.9, 12.0])
def test_what_the_cold_has_hurt_already_has_no_days_left_however_warm_it_stands_now(celsius):
    """Eggplant, five of its 4.5 days at 2.5 °C; then warm but for a quarter of an hour."""
    warm = steady(12, 3 * DAY, start=5 * DAY)
    spell = [(7 * DAY + 0.25, celsius), (7 * DAY + 0.5, 12.0)]
    room = logged(10.0, *steady(2.5, 5 * DAY - 1), *sorted([*warm, *spell]))
    lot = record("eggplant", reference=REFERENCE["eggplant"].with_life(30))
    found = life(lot, 8 * DAY, room)
    assert found.chill_used > 1
    assert (found.days_left, found.generous_days_left, found.flag) == (0, 0, "chilled")


# Out and back.


def test_what_has_used_just_its_days_to_injury_has_none_left():
    """Eggplant, AH-66 page 323, Table 1: 1.5 days at 0 °C; then it is moved to 12 °C."""
    lot = record("eggplant", steps=[step(0), step(36, room=CORNER)])
    found = life(lot, 48, logged(0.0), logged(12.0, room=CORNER))
    assert (found.chill_used, found.days_left) == (1, 0)


def test_out_and_back_ages_warm_at_the_stall_and_else_as_in_the_room_it_left():
    """Hours 10 to 13 on a stall at 25 °C, to 18 as in the corner at 12 °C, not as at 2 °C."""
    back = step(18, room=COLD, warm_hours=3)
    lot = record(steps=[step(0, room=CORNER), step(10, State.OUT, room=None), back])
    found = life(lot, 20, logged(2.0), logged(12.0, room=CORNER))
    out_h = 3 * rate(KALE, 25) + 5 * rate(KALE, 12)
    assert found.parts["out"] * 14 * DAY == pytest.approx(out_h)
    in_h = 10 * rate(KALE, 12) + 2 * rate(KALE, 2)
    assert found.parts["room"] * 14 * DAY == pytest.approx(in_h)


def test_the_cold_hurts_nothing_on_a_stall_but_goes_on_hurting_in_the_room_it_left():
    """Eggplant at 2.5 °C, 4.5 days to injury: of 24 hours away, six on a stall."""
    back = step(2 * DAY, warm_hours=6)
    lot = record("eggplant", steps=[step(0), step(DAY, State.OUT, room=None), back])
    found = life(lot, 2 * DAY, logged(2.5))
    assert found.chill_used == pytest.approx((1 + 18 / 24) / 4.5)
    assert found.chill_days == pytest.approx(1.75)


# The cold.


def test_a_crop_with_published_days_is_to_be_looked_at_when_they_are_over():
    """Eggplant: 4.5 days at 2.5 °C, AH-66 page 323; sweet potato: one at 1.5 °C (msu15)."""
    assert life(record("eggplant"), 4.4 * DAY, logged(2.5)).flag == ""
    assert life(record("eggplant"), 4.51 * DAY, logged(2.5)).flag == "chilled"
    found = life(record("sweet-potato"), 20 * DAY, logged(2.0))
    assert (found.flag, found.chill_days) == ("chilled", 20)


@pytest.mark.parametrize(
    ("celsius", "hours", "flag"),
    [(3.0, 23.9, ""), (3.0, 24, "chilled"), (8.9, 24, "chilled"), (9.0, 500, "")],
)
def test_without_published_days_a_day_too_cold_in_all_asks_for_a_look(celsius, hours, flag):
    """Mango: lowest safe 10 °C (AH-66 page 63), allowed 1 °C less; a day: ours."""
    found = life(record("mango"), hours, logged(celsius))
    assert found.flag == flag
    assert found.chill_used is None


def test_the_day_in_the_cold_may_be_of_several_pieces():
    """Twelve hours, a warm day, and twelve more."""
    steps = [step(0), step(12, room=CORNER), step(36)]
    rooms = logged(3.0), logged(12.0, room=CORNER)
    assert life(record("mango", steps=steps), 47, *rooms).flag == ""
    found = life(record("mango", steps=steps), 48, *rooms)
    assert (found.flag, found.chill_days, found.chill_c) == ("chilled", 1, 3)


def test_how_cold_is_the_mean_of_what_was_too_cold_alone():
    """Mango: six hours at 2, two at 8 and eight at 12 °C, which is warm enough: (12 + 16) / 8."""
    readings = [*steady(2, 5), (6, 8.0), (7, 8.0), *steady(12, 8, start=8)]
    found = life(record("mango"), 16, logged(12.0, *readings))
    assert (found.chill_days * DAY, found.chill_c) == (pytest.approx(8), pytest.approx(3.5))
    assert life(record("mango"), 16, logged(12.0)).chill_c is None


@pytest.mark.parametrize(
    ("looked_h", "cleared_h"),
    [
        (24, 72),  # one day then: two more at least
        (36, 84),  # one and a half: two more still
        (48, 96),  # two: as much again
        (96, 192),  # four: as much again
    ],
)
def test_a_good_look_holds_until_it_was_cold_for_as_long_again(looked_h, cleared_h):
    lot = record("mango", looked_at=seconds(looked_h))
    for hours, flag in ((looked_h, ""), (cleared_h - 0.1, ""), (cleared_h, "chilled")):
        found = life(lot, hours, logged(3.0))
        assert (found.flag, found.chill_seen_days) == (flag, looked_h / DAY)


def test_a_look_knows_the_days_in_the_cold_and_not_the_days_of_its_life():
    """Four days in the warm corner and one at 3 °C when somebody looked."""
    steps = [step(0, room=CORNER), step(4 * DAY)]
    lot = record("mango", steps=steps, looked_at=seconds(5 * DAY))
    rooms = logged(3.0), logged(12.0, room=CORNER)
    found = life(lot, 7 * DAY, *rooms)
    assert (found.chill_seen_days, found.chill_days, found.flag) == (1, 3, "chilled")


def test_a_good_look_begins_published_days_to_injury_anew_once_all_were_used():
    """Eggplant at 2.5 °C: 4.5 days to injury, AH-66 page 323."""
    lot = record("eggplant", looked_at=seconds(4.6 * DAY))
    found = life(lot, 5 * DAY, logged(2.5))
    assert (found.flag, found.chill_used) == ("", pytest.approx(0.4 / 4.5))
    assert found.days_left == pytest.approx(2)  # of the seven until it decays
    assert life(lot, 9 * DAY, logged(2.5)).flag == ""
    assert life(lot, 9.2 * DAY, logged(2.5)).flag == "chilled"


def test_a_look_before_they_were_used_begins_nothing_anew():
    lot = record("eggplant", looked_at=seconds(3 * DAY))
    assert life(lot, 5 * DAY, logged(2.5)).flag == "chilled"


def test_a_look_at_a_crate_holds_for_what_was_split_off_later_and_not_before():
    parent = record("mango", "A", looked_at=seconds(2 * DAY))
    for split_h, flag in ((2 * DAY + 1, ""), (2 * DAY - 1, "chilled")):
        child = record("mango", "B", links=[Link("A", seconds(split_h))], steps=[step(split_h)])
        found = clocks(parent, child, rooms=[logged(3.0)]).life("B", at(3 * DAY))
        assert found.flag == flag


@pytest.mark.parametrize(
    ("good_h", "gone_h", "flag"), [(0, 5, "said-gone"), (4, 5, "said-gone"), (6, 5, "")]
)
def test_who_looked_last_says_whether_it_is_still_good(good_h, gone_h, flag):
    looked_at = seconds(good_h) if good_h else 0.0
    lot = record(looked_at=looked_at, gone_at=seconds(gone_h))
    assert life(lot, 8, logged(2.0)).flag == flag


def test_what_was_split_off_a_crate_found_gone_is_gone_too():
    parent = record(gone_at=seconds(5))
    for split_h, flag in ((6, "said-gone"), (5, "said-gone"), (4, "")):
        child = record(code="B", links=[Link("A", seconds(split_h))], steps=[step(split_h)])
        assert clocks(parent, child).life("B", at(8)).flag == flag


def test_a_crate_that_is_out_is_forecast_in_the_room_it_left():
    """Basil from the warm corner, not from the first room, which would hurt it."""
    steps = [step(0, room=CORNER), step(24, State.OUT, room=None)]
    lot = record("basil", steps=steps)
    rooms = logged(2.0), logged(13.0, room=CORNER)
    assert life(lot, 25, *rooms).here_c == 13


def test_before_anybody_looked_there_is_no_figure_of_a_look():
    assert life(record("mango"), DAY, logged(3.0)).chill_seen_days is None


def test_what_the_cold_does_not_hurt_counts_no_days_in_it():
    found = life(record("kale"), 9 * DAY, logged(-0.4))
    assert (found.chill_days, found.chill_c, found.chill_used) == (0, None, None)


# Frost.


def frost(key: str, *readings, hours: float = 12, **changes):
    return life(record(key, **changes), hours, logged(2.0, *readings))


def test_a_published_freezing_point_is_told_at_once_and_at_exactly_its_point():
    """Kale freezes at -0.5 °C (hb66, as in crops.csv)."""
    found = frost("kale", (0, 2), (1, -0.5), (1.05, 2))
    assert (found.flag, found.freezing_assumed) == ("froze", False)
    assert found.frozen_h == pytest.approx(0.05, rel=1e-4)
    assert frost("kale", (0, 2), (1, -0.4), (9, 2)).flag == ""


@pytest.mark.parametrize(
    ("celsius", "until", "flag"),
    [(-0.2, 2, ""), (-0.2, 2.02, "froze"), (-3.0, 1.98, ""), (-0.1, 3, "")],
)
def test_an_assumed_freezing_point_is_told_after_an_hour_of_it(celsius, until, flag):
    """None is published of arugula, chard and cilantro; -0.2 °C and the hour are ours."""
    for key in ("arugula", "swiss-chard", "cilantro"):
        found = frost(key, (0, 2), (1, celsius), (until, 2))
        assert (found.flag, found.freezing_assumed) == (flag, True)


def test_eight_hours_at_minus_three_are_eight_hours_of_frost():
    found = frost("arugula", (0, 2), *steady(-3, 7, start=1), (9, 2))
    assert (found.flag, found.frozen_h) == ("froze", pytest.approx(8))


def test_an_assumed_cold_stops_no_sale_by_an_assumed_freezing_point():
    """Nobody measured: a published point counts by the target all the same, as it did."""
    assert life(record("arugula"), DAY, logged(-1.0)).flag == ""
    assert life(record("kale"), DAY, logged(-1.0)).flag == "froze"


def test_frost_is_told_by_the_coldest_thermometer():
    room = logged(2.0, fan=steady(-1, 5), door=steady(3, 5))
    assert life(record("kale"), 5, room).frozen_h == pytest.approx(5)


def test_a_look_ends_the_frost_before_it_and_not_that_it_was():
    readings = [(0, 2), (1, -1), (2, 2), (6, -1), (6.5, 2)]
    looked = frost("kale", *readings, looked_at=seconds(4))
    assert (looked.frozen_h, looked.frozen_ever) == (pytest.approx(0.5), True)
    unseen = frost("kale", *readings)
    assert (unseen.frozen_h, unseen.frozen_ever) == (pytest.approx(1.5), True)
    later = frost("kale", *readings, looked_at=seconds(8))
    assert (later.flag, later.frozen_ever) == ("", True)
    assert not frost("kale", (0, 2)).frozen_ever


def test_a_look_speaks_for_the_room_it_stood_in_before_as_well():
    """And what froze there after it had left is neither counted nor taken off."""
    rooms = logged(2.0, (0, -3), (2, 2), (6, -3), (7, 2)), logged(2.0, (7, -3), (9, 2), room=CORNER)
    lot = record(steps=[step(0), step(5, room=CORNER)], looked_at=seconds(8))
    found = life(lot, 9, *rooms)
    assert (found.frozen_h, found.flag, found.frozen_ever) == (pytest.approx(1), "froze", True)


# Field heat.


def test_field_heat_is_counted_by_the_probes_of_its_harvest():
    """22 °C an hour after and 12 four hours after, in air of 2: half of 20 in three hours."""
    lot = record(came=came(bought=False))
    found = clocks(lot, probes={1: [(seconds(1), 22.0), (seconds(4), 12.0)]})
    cooled = found.cooling("A")
    assert (cooled.half_cooling_h, cooled.measured) == (pytest.approx(3), True)
    assert (cooled.start_c, cooled.start_from) == (pytest.approx(27.2, abs=0.01), "probes")
    heat = extra_aging_days(KALE, 27.2, 2, 3, 30)
    assert found.life("A", at(48)).parts["cooling"] * 14 == pytest.approx(heat, rel=1e-3)


def test_what_came_cold_has_no_field_heat():
    assert life(record(), 9).parts["cooling"] == 0


def test_a_kind_of_crate_cools_in_its_usual_time_and_others_as_assumed():
    lot = record(came=came(bought=False), half_cooling_h=4.0)
    assert clocks(lot).cooling("A").half_cooling_h == 4
    assert clocks(record(came=came(bought=False))).cooling("A").half_cooling_h == 20 / 3


def test_field_heat_is_reckoned_to_a_tenth_of_a_degree_and_a_hundredth_of_an_hour():
    lot = record(came=came(bought=False, pulp_c=21.54), half_cooling_h=4.014)
    heat = extra_aging_days(KALE, 21.5, 3.1, 4.01, 1.04)
    found = life(lot, 1.044, logged(3.14))
    assert found.parts["cooling"] * 14 == pytest.approx(heat, rel=1e-9)


def test_at_the_moment_it_comes_field_heat_has_cost_nothing_yet():
    assert life(record(came=came(bought=False)), 0).parts["cooling"] == 0


def test_cooling_may_be_asked_for_from_a_later_moment():
    room = logged(2.0, *steady(15, 23), *steady(4, 3 * DAY, start=DAY))
    lot = record(came=came(bought=False))
    later = clocks(lot, rooms=[room]).cooling("A", seconds(DAY))
    assert (later.start, later.air_c) == (seconds(DAY), pytest.approx(4))


def test_what_never_came_in_ages_in_the_field_alone():
    """Kale ages 7.5 times as fast at 20 °C (AH-66 page 69, Table 2)."""
    lot = record(came=came(bought=False), steps=[])
    assert clocks(lot).aged_days("A", at(3)) == pytest.approx(3 / 24 * 7.5)


def test_it_cools_towards_the_mean_of_its_rooms_first_day():
    room = logged(2.0, *steady(15, 23, start=-DAY), *steady(4, 3 * DAY))
    lot = record(came=came(bought=False))
    assert clocks(lot, rooms=[room]).cooling("A").air_c == pytest.approx(4)


def test_without_any_room_there_is_nothing_colder_than_anything():
    lot = record(came=came(bought=False))
    assert Clocks({"A": lot}, {}, {}, UTC).time_given("A")


def test_a_crate_that_went_out_warm_cools_no_more():
    stayed = record(came=came(bought=False, pulp_c=30.0, packed_at=None, cut_at=seconds(0)))
    gone = record(came=stayed.came, steps=[step(0), step(2, State.OUT, room=None)])
    heat = extra_aging_days(KALE, 30, 2, 6.67, 2)
    assert life(gone, 30).parts["cooling"] * 14 == pytest.approx(heat, rel=1e-3)
    assert life(stayed, 30).parts["cooling"] > life(gone, 30).parts["cooling"]


# Crates filled from others.


def mixed(one, other, hours: float):
    links = [Link("A", seconds(hours)), Link("B", seconds(hours))]
    return record(one.reference.key, "C", came=None, links=links, steps=[step(hours)])


def test_a_mixed_crate_takes_the_most_age_and_the_most_cold_of_either():
    """Eggplant, two days: one at 12 °C, older by two, and one at 2.5 °C."""
    warm = record("eggplant", "A", came=came(packed_at=seconds(-2 * DAY)))
    cold = record("eggplant", "B", steps=[step(0, room=CORNER)])
    child = mixed(warm, cold, 2 * DAY)
    rooms = [logged(12.0), logged(2.5, room=CORNER)]
    found = clocks(warm, cold, child, rooms=rooms).life("C", at(2 * DAY))
    assert found.used == pytest.approx(4 / 7)
    assert (found.chill_used, found.chill_days) == (pytest.approx(2 / 4.5), 2)
    assert (found.chill_c, found.harvested_at) == (2.5, NOW - timedelta(days=2))


def test_a_freeze_goes_into_the_mixed_crate_until_somebody_looks_at_that():
    frozen, sound = record(code="A"), record(code="B", steps=[step(0, room=CORNER)])
    child = mixed(frozen, sound, 6)
    rooms = [logged(2.0, (0, 2), (1, -1), (3, 2), (4, 2)), logged(2.0, room=CORNER)]
    found = clocks(frozen, sound, child, rooms=rooms)
    assert found.life("C", at(7)).frozen_h == pytest.approx(2)
    seen = record(code="C", came=None, links=child.links, steps=child.steps, looked_at=seconds(7))
    found = clocks(frozen, sound, seen, rooms=rooms).life("C", at(8))
    assert (found.frozen_h, found.frozen_ever) == (0, True)


def test_heat_still_in_a_crate_goes_on_in_what_was_split_off():
    came_warm = came(bought=False, pulp_c=30.0, packed_at=None, cut_at=seconds(0))
    parent = record(code="A", came=came_warm)
    child = record(code="B", came=None, links=[Link("A", seconds(1))], steps=[step(1)])
    again = record(code="C", came=None, links=[Link("B", seconds(2))], steps=[step(2)])
    found = clocks(parent, child, again)
    whole = found.life("A", at(40)).used
    for code in "BC":
        assert found.life(code, at(40)).used == pytest.approx(whole, rel=1e-3)


# What else is told.


def test_age_is_in_days_at_the_best_temperature_and_the_time_is_given_or_not():
    lot = record(came=came(packed_at=None))
    found = clocks(lot, rooms=[logged(7.0)])
    assert found.aged_days("A", at(2 * DAY)) == pytest.approx(2 * 3**0.7)
    assert not found.time_given("A")
    assert clocks(record()).time_given("A")


def test_the_mean_of_its_rooms_is_by_time_and_says_how_much_was_measured():
    """Six hours at 8 °C by a logger that goes on for two more, two in a corner at 12 °C."""
    lot = record(steps=[step(0), step(6, room=CORNER)])
    rooms = [logged(2.0, *steady(8, 6)), logged(12.0, room=CORNER)]
    found = clocks(lot, rooms=rooms).room_mean("A", at(8))
    assert found == pytest.approx(((6 * 8 + 2 * 12) / 8, 6 / 8))
    assert clocks(record(steps=[])).room_mean("A", at(8)) is None


def test_moments_are_on_the_farms_clock():
    found = life(record(came=came(packed_at=seconds(-5))), 0)
    assert found.harvested_at == datetime(2026, 6, 10, 9, tzinfo=UTC)
    assert found.arrived_at == NOW
    assert (found.bought, found.time_given) == (True, True)
