"""What the log of a room does to crates, pages and alarms."""

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.actions.intakes import bring_in_harvest
from inventory.actions.movements import move_lots
from inventory.actions.quality import inspect
from inventory.actions.temperatures import (
    close_alarm,
    record_readings,
    set_reading_aside,
)
from inventory.errors import Refused
from inventory.keeping import life_days, load_reference, rate
from inventory.models import Farm, Lot, Outlet, Room
from inventory.queries.alarms import open_alarms
from inventory.queries.book import Wanted
from inventory.queries.crates import crates_here
from inventory.queries.home import CameIn, read_rotation
from inventory.queries.neighbours import read_advice
from inventory.queries.plots import door_spikes, read_plot
from inventory.queries.temperatures import (
    checks_taken_back,
    late_change,
    month_of_checks,
    read_air,
    read_spells,
    rooms_unchecked,
    summarise,
)
from tests import builders
from tests.builders import NOW, act, make_cases, make_lot, place, planned, say_order
from tests.readings import life, room, steady, write

HOUR = timedelta(hours=1)
DAY = timedelta(days=1)
KALE = load_reference()["kale"]


def test_late_readings_change_figures_and_the_order(farm):
    """A logger file that shows a warm night: FEFO as in Jedermann et al. 2014."""
    older = make_lot(at=NOW - 12 * HOUR)
    younger = make_lot(at=NOW)
    warm = Room.objects.create(name="Shed", target_c=2)
    there = place("B3")
    there.room = warm
    there.save()
    move_lots(act(NOW), lots=[younger.pk], position=there)
    now = NOW + 3 * DAY

    def order():
        return [crate.code for crate in crates_here(Farm.objects.get(), now)]

    assert order() == [older.pk, younger.pk]
    record_readings(
        warm, [(NOW + hour * HOUR, 15.0) for hour in range(24)], kind="file", at=now, sensor="x"
    )
    assert order() == [younger.pk, older.pk]


def test_a_second_sensor_does_not_hide_a_warm_corner(farm):
    write(*steady(9, hours=6), sensor="corner")
    write(*steady(3, hours=6, start=0.5), sensor="fan")
    now = NOW + 6 * HOUR
    assert [alarm.hours for alarm in open_alarms(now)] == [6]
    assert life(make_lot(), now).used == pytest.approx(0.25 / life_days(KALE, 9), rel=1e-3)


def test_what_keeps_dry_is_warned_of_in_damp_rooms_alone(farm):
    dry = Room.objects.create(name="Dry store", target_c=2, damp=False)
    onion = builders.crop("onion-bulb")
    lot = make_lot(key="onion-bulb", unit="kg")
    (advice,) = [advice for advice in read_advice(room()) if advice.kind == "dry"]
    assert advice.better is None  # there is no place in the dry room yet
    there = place("B3")
    there.room = dry
    there.save()
    (advice,) = [advice for advice in read_advice(room()) if advice.kind == "dry"]
    assert advice.better == there
    move_lots(act(NOW + HOUR), lots=[lot.pk], position=there)
    assert read_advice(dry, onion) == []


def test_one_giver_is_sent_to_one_place(farm):
    make_cases(18, position=place("A1"))
    make_lot(key="carrot-topped", unit="kg", position=place("A2"))
    make_lot(position=place("A3"))
    found = [advice for advice in read_advice(room()) if advice.giver == builders.crop("apple")]
    assert {advice.kind for advice in found} == {"ethylene", "odour"}
    assert len({advice.better for advice in found}) == 1


def test_the_same_reading_twice_adds_nothing_and_nonsense_is_set_aside(farm):
    first = write((0, 3), (1, 4), (2, 80))
    again = write((0, 3), (1, 4), (2, 80), (3, 4))
    assert (first.added, first.set_aside) == (2, 1)
    assert (again.added, again.already_there, again.set_aside) == (1, 3, 0)
    assert room().readings.count() == 4


@pytest.mark.parametrize("hours", [24 * 61, -24 * 365 * 7])
def test_a_reading_still_to_come_or_years_ago_writes_nothing(farm, hours):
    with pytest.raises(Refused):
        write((0, 3), (hours, 3))
    assert not room().readings.exists()


def test_a_gap_is_unknown_and_cautious(farm):
    lot = make_lot()
    write(*steady(5, hours=24), *steady(5, hours=2, start=100))
    month = summarise(room(), NOW + 102 * HOUR, 7)
    assert month.unknown_h == pytest.approx(7 * 24 - 24 - 2 - 2)
    # Unknown hours count with the mean of the day before, not with the colder target.
    assert life(lot, NOW + 100 * HOUR).used == pytest.approx(
        100 / 24 / life_days(KALE, 5), rel=1e-3
    )


def test_a_freeze_asks_for_a_look_and_a_look_clears_it(farm):
    """AH-66 pages 65-66: the highest freezing point is the guide; look after a light freeze."""
    lettuce = make_lot(key="lettuce-leaf", unit="head")
    write((0, 2), (1, -1), (2, 2), *steady(2, hours=24, start=3))
    now = NOW + 10 * HOUR
    assert life(lettuce, now).frozen_h == pytest.approx(1)
    rotation = read_rotation(farm, now)
    assert [crate.code for crate in rotation.look] == [lettuce.pk]
    wanted = Wanted(lettuce.crop, "head", Decimal(5))
    pull = say_order(act(now), outlet=Outlet.objects.get(), lines=[wanted])
    assert planned(pull, now) == []
    inspect(act(now), lot=lettuce.pk, days=1, seen="leaves firm")
    rotation = read_rotation(farm, now + HOUR)
    assert rotation.look == []
    assert [crate.code for crate in rotation.kept] == [lettuce.pk]
    # Kept by a look, it goes only by a person's tap, until the last day of the keep.
    assert planned(pull, now + HOUR) == []
    assert len(planned(pull, now + DAY)) == 1


def test_an_alarm_of_many_days_keeps_its_beginning(farm):
    write(*steady(15, hours=9 * 24))
    for hours in (8 * 24, 8 * 24 + 1):
        (alarm,) = open_alarms(NOW + hours * HOUR)
        assert alarm.excursion.start == NOW.timestamp()


def test_a_reading_called_wrong_counts_no_more(farm):
    lot = make_lot()
    write(*steady(3, hours=10))
    before = life(lot, NOW + 10 * HOUR).used
    write((5.5, 25))
    assert life(lot, NOW + 10 * HOUR).used > before
    wrong = room().readings.get(temperature_c=25)
    with pytest.raises(Refused, match="owner-only"):
        set_reading_aside(act(person=builders.make_crew()), reading=wrong)
    set_reading_aside(act(NOW + 11 * HOUR), reading=wrong)
    assert life(lot, NOW + 10 * HOUR).used == pytest.approx(before)
    assert room().readings.count() == 12


def test_a_kept_crate_that_freezes_later_is_back_on_the_list(farm):
    lot = make_lot(at=NOW - 20 * DAY)
    inspect(act(NOW), lot=lot.pk, days=5, seen="firm")
    now = NOW + 6 * HOUR
    assert [crate.code for crate in read_rotation(farm, now).kept] == [lot.pk]
    write((1, 2), (2, -2), (3, 2), (4, 2))
    assert [crate.code for crate in read_rotation(farm, now).discard] == [lot.pk]


def test_too_warm_for_long_is_called_out_until_the_owner_says_what_was_done(farm):
    """The trade's own story: a power cut, 3 h 50 min at 9 °C; check, do not throw out."""
    lot = make_lot()
    write((0, 3), (1, 9), (2, 9), (3, 9), (4, 9), (4 + 5 / 6, 3.5), *steady(3.5, start=5))
    assert open_alarms(NOW + 2 * HOUR) == []
    (alarm,) = open_alarms(NOW + 4 * HOUR)
    assert (alarm.hours, alarm.going_on, alarm.excursion.side) == (3, True, "warm")
    (alarm,) = open_alarms(NOW + 8 * HOUR)
    assert not alarm.going_on
    assert alarm.excursion.hours == pytest.approx(3 + 5 / 6)
    (spell,) = read_spells(room(), NOW + 8 * HOUR, 7)
    assert [crop for crop, _ in spell.cost] == [lot.crop]
    # At 9 instead of the room's 2 °C, Q10 3: the handbook's rate, less what would have passed.
    assert spell.cost[0][1] == pytest.approx((3 + 5 / 6) * (3 ** (7 / 10) - 1), rel=1e-3)
    spell = alarm.excursion
    facts = {
        "room": room(), "started_at": spell.start, "ended_at": spell.end, "side": spell.side,
        "peak_c": spell.peak_c, "done": "power cut, generator outside",
    }  # fmt: skip
    with pytest.raises(Refused, match="owner-only"):
        close_alarm(act(NOW + 8 * HOUR, person=builders.make_crew()), **facts)
    close_alarm(act(NOW + 8 * HOUR), **facts)
    assert open_alarms(NOW + 9 * HOUR) == []


def test_an_alarm_that_goes_on_after_it_was_closed_comes_back(farm):
    write(*steady(9, hours=30))
    (alarm,) = open_alarms(NOW + 4 * HOUR)
    spell = alarm.excursion
    close_alarm(
        act(NOW + 4 * HOUR), room=room(), started_at=spell.start, ended_at=spell.end,
        side=spell.side, peak_c=spell.peak_c, done="door shut",
    )  # fmt: skip
    assert open_alarms(NOW + 5 * HOUR) == []
    assert len(open_alarms(NOW + 8 * HOUR)) == 1


def test_the_drawing_breaks_where_the_room_was_unknown(farm):
    write(*steady(3, hours=10), *steady(3, hours=10, start=40))
    plot = read_plot(room(), farm, NOW + 50 * HOUR, 7)
    assert len(plot.lines) == 2
    assert read_plot(room(), farm, NOW - 60 * DAY, 1) is None


def test_a_short_jump_looks_like_an_open_door(farm):
    steps = [(0, 600, 3.0, True), (600, 1200, 6.5, True), (1200, 1800, 3.1, True)]
    assert door_spikes(steps) == [600]
    assert door_spikes([(0, 600, 3.0, True), (600, 1200, 4.0, True), (1200, 1800, 3, True)]) == []


def test_a_log_that_came_late_is_told(farm):
    write((0, 3), at=NOW + HOUR)
    assert late_change(NOW + HOUR) is None
    write((-30, 9), (-29, 9), at=NOW + 2 * HOUR)
    assert late_change(NOW + 3 * HOUR).since == NOW - 30 * HOUR
    assert late_change(NOW + 3 * DAY) is None


def test_a_probe_is_asked_for_when_the_harvest_should_be_cold(farm):
    make_lot(pulp_c=Decimal(26), at=NOW - 3 * HOUR)
    (soon,) = read_rotation(farm, NOW).came_in
    assert not soon.probe_is_due
    (due,) = read_rotation(farm, soon.cold_at - timedelta(hours=6)).came_in
    assert due.cold_at == soon.cold_at
    assert CameIn(due.intake, due.cooling, soon.cold_at, 1).probe_is_due


def test_neighbours_are_warned_of_with_where_the_harm_is_least(farm):
    """Apples and carrots: NC State Extension, HIL-803 Mixed Loads (1995)."""
    make_cases(18)  # in B1
    make_lot(key="carrot-topped", unit="kg", position=place("A1"))
    found = read_advice(room())
    assert sorted(advice.kind for advice in found) == ["ethylene", "odour"]
    assert {advice.better.name for advice in found} == {"B3"}
    make_lot(key="basil", position=place("A2"))
    cold = [advice for advice in read_advice(room()) if advice.kind == "cold"]
    assert [advice.giver.reference_key for advice in cold] == ["basil"]


def test_a_missed_day_stays_blank(farm):
    from inventory.actions.temperatures import check_room

    check_room(act(NOW), room=room(), celsius=3.0, door_shut=True, odd="")
    days = dict(month_of_checks(room(), farm, NOW.date().replace(day=1)))
    assert len(days) == 30
    assert [day.day for day, check in days.items() if check] == [10]
    assert room().readings.count() == 1


def test_a_check_taken_back_leaves_its_day_to_be_checked_and_is_told(farm):
    from inventory.actions.temperatures import check_room, take_back_check

    first = NOW.date().replace(day=1)
    check = check_room(act(NOW), room=room(), celsius=3.0, door_shut=True, odd="")
    assert (rooms_unchecked(farm, NOW), checks_taken_back(room(), first)) == ([], [])
    take_back_check(act(NOW), check=check)
    assert rooms_unchecked(farm, NOW) == [room()]
    assert not any(dict(month_of_checks(room(), farm, first)).values())
    assert checks_taken_back(room(), first) == [check]
    assert checks_taken_back(room(), first.replace(month=first.month % 12 + 1)) == []


def test_a_harvest_that_came_warm_is_older_than_one_that_came_cold(farm):
    action = bring_in_harvest(
        act(NOW), crop=builders.crop(), source=make_lot().intake.source, unit="bunch",
        quantities=[Decimal(12)], position=place(), pulp_c=Decimal(30), cut_ago=timedelta(0),
    )  # fmt: skip
    warm = Lot.objects.get(intake__action=action)
    keys = [crate.code for crate in crates_here(farm, NOW + 2 * DAY)]
    assert keys[0] == warm.pk


def test_a_spell_costs_only_what_stood_there(farm):
    write(*((hour, 12 if hour < 24 else 3) for hour in range(60)))
    make_lot(at=NOW + 12 * HOUR)
    make_lot(key="basil", at=NOW + 30 * HOUR)
    (spell,) = read_spells(room(), NOW + 60 * HOUR, 7)
    ((crop, hours),) = spell.cost
    assert crop == builders.crop()
    rates = rate(KALE, 12) / rate(KALE, 2)
    assert hours == pytest.approx(12 * (rates - 1))


def test_a_room_warm_in_one_corner_and_cold_in_another_is_both_in_the_summary(farm):
    write(*steady(9, hours=6), sensor="corner")
    write(*steady(-3, hours=6), sensor="fan")
    found = summarise(room(), NOW + 6 * HOUR, 1)
    assert (found.above_h, found.below_h, found.in_range_h) == pytest.approx((6, 6, 0), abs=1e-6)


def air(at):
    (found,) = read_air(at)
    return found.celsius, found.side


def test_the_air_now_is_right_too_warm_too_cold_or_unknown(farm):
    """The room is to be at 2 °C, give or take what the farm allows."""
    allowed = float(room().band_c)
    assert air(NOW) == (None, None)
    for hour, (off, side) in enumerate(
        ((allowed, None), (allowed + 0.1, "warm"), (-allowed, None), (-allowed - 0.1, "cold"))
    ):
        write((hour, 2 + off))
        assert air(NOW + hour * HOUR) == (pytest.approx(2 + off), side)


def test_the_air_of_two_thermometers_is_that_of_the_one_in_trouble(farm):
    write((0, -1.0), sensor="fan")
    write((0, 2.5), sensor="door")
    assert air(NOW) == (-1.0, "cold")
    write((0.1, 6.5), sensor="door")
    assert air(NOW + HOUR) == (6.5, "warm")


def test_a_reading_speaks_for_the_air_only_while_it_holds(farm):
    write((0, 2.0), sensor="fan")
    assert air(NOW + HOUR) == (2.0, None)
    assert air(NOW + 3 * HOUR) == (None, None)
