"""Alarms and spells keep the band of their time when a room gets another target."""

from datetime import timedelta

import pytest

from inventory.actions.temperatures import (
    check_room,
    record_readings,
    take_back_check,
    take_back_paper_log,
    type_paper_log,
)
from inventory.models import Room
from inventory.queries.alarms import doors_that_shut_in, open_alarms
from inventory.queries.temperatures import read_spells, summarise
from tests.builders import NOW, act, make_lot, set_target

HOUR = timedelta(hours=1)
DAY = timedelta(days=1)

pytestmark = pytest.mark.usefixtures("farm")


def write(celsius, first, last):
    """A reading every hour; the room is kept at 2 ± 2 °C."""
    readings = [(NOW + hour * HOUR, celsius) for hour in range(first, last + 1)]
    record_readings(Room.objects.get(), readings, kind="sensor", at=NOW + 60 * DAY, sensor="fan")


def spans(found) -> list[tuple]:
    return [(one.side, (one.start - NOW) / HOUR, (one.end - NOW) / HOUR) for one in found]


def alarms(hour) -> list[tuple]:
    moment = NOW.timestamp()
    found = [alarm.excursion for alarm in open_alarms(NOW + hour * HOUR)]
    return [(one.side, (one.start - moment) / 3600, (one.end - moment) / 3600) for one in found]


def test_a_spell_of_the_past_stays_one_when_the_room_is_kept_warmer():
    make_lot()
    write(9, 0, 10)
    write(2, 11, 20)
    before = alarms(20), spans(read_spells(Room.objects.get(), NOW + 20 * HOUR, 7))
    assert before == ([("warm", 0, 11)], [("warm", 0, 11)])
    set_target(9, NOW + 20 * HOUR)
    room = Room.objects.get()
    after = alarms(20), spans(read_spells(room, NOW + 20 * HOUR, 7))
    assert after == before
    (spell,) = read_spells(room, NOW + 20 * HOUR, 7)
    assert spell.limit_c == 2 + float(room.band_c)


def test_what_was_right_is_no_alarm_because_the_room_is_kept_colder_now():
    set_target(9, NOW - DAY)
    write(9, 0, 10)
    set_target(2, NOW + 10 * HOUR)
    assert alarms(10) == []
    write(9, 11, 16)
    assert alarms(16) == [("warm", 10, 16)]


def test_hours_in_range_are_those_of_each_target():
    write(9, 0, 20)
    set_target(9, NOW + 8 * HOUR)
    summary = summarise(Room.objects.get(), NOW + 20 * HOUR, 1)
    assert (summary.above_h, summary.in_range_h, summary.below_h) == pytest.approx((8, 12, 0))


def test_an_alarm_older_than_a_week_keeps_its_beginning_when_the_target_was_changed_since():
    """Its hours and the note that closed it hang on when it began."""
    write(9, 0, 8 * 24)
    set_target(9, NOW + 8 * 24 * HOUR)
    for hour in (8 * 24, 9 * 24, 10 * 24):
        assert alarms(hour) == [("warm", 0, 8 * 24)]


def test_a_spell_begins_where_the_target_was_made_colder_more_than_a_week_ago():
    """9 °C was right for a day, then too warm."""
    set_target(9, NOW - DAY)
    write(9, 0, 9 * 24)
    set_target(2, NOW + DAY)
    for hour in (8 * 24, 8 * 24 + 12, 9 * 24):
        assert alarms(hour) == [("warm", 24, hour)]


def look(day, opens, room=None):
    """A daily check that tried the door, or did not (None)."""
    return check_room(
        act(NOW + day * DAY), room=room or Room.objects.get(), celsius=None, door_shut=True, odd="",
        opens_from_inside=opens,
    )  # fmt: skip


def shut_since() -> list[tuple]:
    return [(check.room.name, (check.day - NOW.date()).days) for check in doors_that_shut_in()]


def test_a_door_shuts_in_from_the_first_no_until_a_later_yes():
    """Common practice, no source."""
    assert shut_since() == []
    look(0, None)
    assert shut_since() == []
    look(1, False)
    look(2, None)
    look(3, False)
    assert shut_since() == [("Cold room", 1)]
    look(4, True)
    assert shut_since() == []
    look(5, False)
    assert shut_since() == [("Cold room", 5)]


def test_a_second_look_on_a_day_answers_the_first_only_where_it_tried_the_door():
    look(1, False)
    look(1, None)
    assert shut_since() == [("Cold room", 1)]
    look(1, True)
    assert shut_since() == []


def test_a_check_taken_back_neither_shuts_a_door_nor_opens_it():
    look(1, False)
    take_back_check(act(NOW + 3 * DAY), check=look(2, True))
    assert shut_since() == [("Cold room", 1)]
    opened = look(1, True)
    assert shut_since() == []
    take_back_check(act(NOW + 3 * DAY), check=opened)
    assert shut_since() == [("Cold room", 1)]


def test_an_alarm_of_a_paper_log_goes_with_it():
    rows = [(NOW + hour * HOUR, 9.0) for hour in range(6)]
    log = type_paper_log(act(NOW + 6 * HOUR), room=Room.objects.get(), rows=rows)
    assert alarms(6)
    take_back_paper_log(act(NOW + 6 * HOUR), log=log)
    assert alarms(6) == []


def test_each_room_has_its_own_door_and_all_are_asked_about_at_once(django_assert_num_queries):
    other = Room.objects.create(name="Warm corner", target_c=12)
    cold = Room.objects.get(name="Cold room")
    with django_assert_num_queries(1):
        assert shut_since() == []
    look(1, False, cold)
    look(2, False, other)
    look(3, True, other)
    look(4, False, other)
    with django_assert_num_queries(3):
        found = shut_since()
    assert sorted(found) == [("Cold room", 1), ("Warm corner", 4)]
