"""What falls due when. The hours are our own choice: common practice, no source."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from inventory.upkeep.due import (
    Done,
    Facts,
    Posting,
    Task,
    due,
    gap_after,
    last_night,
    longest_silence,
    week_told_on,
)

ZONE = ZoneInfo("America/New_York")
NOON = datetime(2026, 6, 10, 16, 0, tzinfo=UTC)  # noon on the farm's clock
MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
NIGHT = NOON - 10 * HOUR
TOLD = Task("mail")


def facts(**changes) -> Facts:
    """A farm where nothing is to be done at noon."""
    still = {
        "zone": ZONE, "check_hour": 20, "mailed": True, "listening_since": NOON - 90 * DAY,
        "done": {"copy": Done(NIGHT + MINUTE, NIGHT + MINUTE)},
    }  # fmt: skip
    return Facts(**still | changes)


def posting(gap: timedelta, silent_for: timedelta, count: int = 5, now=NOON) -> Posting:
    last = now - silent_for
    return Posting(7, tuple(last - gap * back for back in range(count - 1, -1, -1)))


def silent(sensor: Posting) -> Task:
    return Task("silent", f"silent 7 {sensor.posts[-1].timestamp():.0f}")


def test_nothing_is_due_where_all_was_done():
    assert due(NOON, facts()) == []


def test_an_alarm_is_due_until_it_is_written():
    alarms = facts(alarms=("alarm 1", "alarm 2"), said=frozenset({"alarm 1"}))
    assert due(NOON, alarms) == [Task("alarm", "alarm 2"), TOLD]


@pytest.mark.parametrize(
    ("sensor", "is_due"),
    [
        (posting(10 * MINUTE, 59 * MINUTE), False),
        (posting(10 * MINUTE, 61 * MINUTE), True),
        (posting(40 * MINUTE, 79 * MINUTE), False),
        (posting(40 * MINUTE, 81 * MINUTE), True),
        (posting(6 * HOUR, 11 * HOUR), False),
        (posting(6 * HOUR, 13 * HOUR), True),
        (posting(10 * MINUTE, 20 * HOUR, count=2), False),
        (posting(10 * MINUTE, 25 * HOUR, count=2), True),
        (posting(10 * MINUTE, 20 * DAY), True),
        (posting(10 * MINUTE, 22 * DAY), False),
        (Posting(7, ()), False),
    ],
)
def test_a_sensor_is_silent_after_twice_its_gap_but_an_hour_at_least(sensor, is_due):
    assert due(NOON, facts(sensors=(sensor,))) == ([silent(sensor), TOLD] if is_due else [])


def test_a_silence_is_said_once_and_the_next_one_again():
    first, next_one = posting(10 * MINUTE, 3 * HOUR), posting(10 * MINUTE, 2 * HOUR)
    said = frozenset({silent(first).about})
    assert due(NOON, facts(sensors=(first,), said=said)) == []
    assert due(NOON, facts(sensors=(next_one,), said=said)) == [silent(next_one), TOLD]


def test_a_sensor_is_not_called_silent_for_the_time_nobody_listened():
    sensor = posting(10 * MINUTE, 9 * HOUR)
    assert due(NOON, facts(sensors=(sensor,), listening_since=NOON - 59 * MINUTE)) == []
    late = facts(sensors=(sensor,), listening_since=NOON - 61 * MINUTE)
    assert due(NOON, late) == [silent(sensor), TOLD]


def test_one_gap_far_from_the_others_is_not_the_usual_one():
    posts = tuple(NOON + minutes * MINUTE for minutes in (0, 600, 640, 680, 720))
    assert longest_silence(posts) == 80 * MINUTE


@pytest.mark.parametrize(
    ("hour", "check_hour", "unchecked", "checked_on", "is_due"),
    [
        (19, 20, True, 9, False),
        (20, 20, True, 9, True),
        (20, 20, False, 10, False),
        (23, 20, True, 9, True),
        (17, 18, True, 9, False),
        (18, 18, True, 9, True),
        (20, 20, True, None, False),
    ],
)
def test_a_check_is_missed_from_its_hour_on_where_checks_are_made(
    hour, check_hour, unchecked, checked_on, is_due
):
    now = datetime(2026, 6, 10, hour, 0, tzinfo=ZONE)
    told = facts(
        unchecked=unchecked, check_hour=check_hour,
        checked_on=date(2026, 6, checked_on) if checked_on else None,
    )  # fmt: skip
    missed = [Task("unchecked", "check 2026-06-10"), TOLD]
    assert due(now, told) == (missed if is_due else [])


def test_a_farm_that_gave_up_checking_is_left_in_peace_after_a_fortnight():
    evening = NOON + 8 * HOUR
    for day, tasks in ((date(2026, 5, 27), 2), (date(2026, 5, 26), 0)):
        assert len(due(evening, facts(unchecked=True, checked_on=day))) == tasks


def test_a_missed_check_is_said_once_a_day():
    said = facts(unchecked=True, checked_on=date(2026, 6, 9), said=frozenset({"check 2026-06-10"}))
    assert due(NOON + 8 * HOUR, said) == []
    missed = [Task("unchecked", "check 2026-06-11"), TOLD]
    done = {"copy": Done(NOON + 20 * HOUR, NOON + 20 * HOUR)}
    tomorrow = facts(unchecked=True, checked_on=date(2026, 6, 9), said=said.said, done=done)
    assert due(NOON + 32 * HOUR, tomorrow) == missed


@pytest.mark.parametrize(
    ("day", "week_start", "first"),
    [  # 21 June 2026 is a Sunday
        (date(2026, 6, 21), 0, date(2026, 6, 15)),
        (date(2026, 6, 22), 0, date(2026, 6, 15)),
        (date(2026, 6, 20), 0, date(2026, 6, 8)),
        (date(2026, 6, 21), 6, date(2026, 6, 14)),
        (date(2026, 6, 20), 6, date(2026, 6, 14)),
    ],
)
def test_the_week_that_is_told_is_the_last_that_is_over_by_the_end_of_the_day(
    day, week_start, first
):
    assert week_told_on(day, week_start) == first


@pytest.mark.parametrize(
    ("now", "is_due"),
    [
        (datetime(2026, 6, 21, 16, 59, tzinfo=ZONE), False),
        (datetime(2026, 6, 21, 17, 0, tzinfo=ZONE), True),
        (datetime(2026, 6, 23, 17, 0, tzinfo=ZONE), True),  # nobody kept watch until then
        (datetime(2026, 6, 23, 17, 1, tzinfo=ZONE), False),
    ],
)
def test_the_week_is_mailed_from_its_hour_on_and_once(now, is_due):
    night = {"copy": Done(now, now)}
    asked = facts(week_mail_day=6, done=night)
    week = Task("week", "week 2026-06-15")
    assert due(now, asked) == ([week, TOLD] if is_due else [])
    assert due(now, facts(week_mail_day=6, done=night, said=frozenset({week.about}))) == []
    assert due(now, facts(week_mail_day=6, done=night, mailed=False)) == []
    assert due(now, facts(done=night)) == []


def test_nothing_is_written_where_nobody_is_to_be_told():
    nobody = facts(
        mailed=False, alarms=("a",), sensors=(posting(MINUTE, 3 * HOUR),), unchecked=True,
        checked_on=date(2026, 6, 9), next_tries=(NOON,),
    )  # fmt: skip
    assert due(NOON + 8 * HOUR, nobody) == []


@pytest.mark.parametrize(
    ("wait", "is_due"), [(timedelta(0), True), (MINUTE, False), (HOUR, False), (25 * HOUR, True)]
)
def test_mail_is_tried_when_its_time_has_come_or_a_wrong_clock_put_it_off(wait, is_due):
    waiting = facts(next_tries=(NOON + wait,))
    assert due(NOON, waiting) == ([TOLD] if is_due else [])


@pytest.mark.parametrize(
    ("done", "is_due"),
    [
        (None, True),
        (Done(NIGHT, NIGHT), False),
        (Done(NIGHT - MINUTE, NIGHT - MINUTE), True),
        (Done(NOON - 59 * MINUTE, NIGHT - DAY), False),
        (Done(NOON - 61 * MINUTE, NIGHT - DAY), True),
        (Done(NOON - 61 * MINUTE, None), True),
        (Done(NOON - MINUTE, None), False),
        (Done(NOON + DAY, NOON + DAY), True),
    ],
)
def test_a_chore_is_done_once_a_night_and_tried_again_after_an_hour(done, is_due):
    assert due(NOON, facts(done={"copy": done})) == ([Task("chore", "copy")] if is_due else [])


def test_chores_come_after_what_somebody_must_hear_and_in_their_order():
    tasks = due(NOON, facts(alarms=("a",), done={"copy": None, "ledger": None}))
    assert [task.kind for task in tasks] == ["alarm", "mail", "chore", "chore"]
    assert [task.about for task in tasks[2:]] == ["copy", "ledger"]


@pytest.mark.parametrize(
    ("now", "night"),
    [
        (datetime(2026, 6, 10, 2, 0, tzinfo=ZONE), datetime(2026, 6, 10, 6, 0, tzinfo=UTC)),
        (datetime(2026, 6, 10, 1, 59, tzinfo=ZONE), datetime(2026, 6, 9, 6, 0, tzinfo=UTC)),
        # The clocks go from 02:00 to 03:00, and in November from 02:00 back to 01:00.
        (datetime(2026, 3, 8, 12, 0, tzinfo=ZONE), datetime(2026, 3, 8, 7, 0, tzinfo=UTC)),
        (datetime(2026, 11, 1, 12, 0, tzinfo=ZONE), datetime(2026, 11, 1, 7, 0, tzinfo=UTC)),
    ],
)
def test_the_night_is_two_o_clock_on_the_farms_clock(now, night):
    assert last_night(now, ZONE) == night


def test_gaps_between_tries_grow_up_to_an_hour():
    minutes = [gap_after(tries) / MINUTE for tries in range(1, 9)]
    assert minutes == [1, 2, 4, 8, 16, 32, 60, 60]
    assert gap_after(5000) == HOUR
