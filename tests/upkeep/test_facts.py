"""The facts the watch decides by are those in the tables."""

from datetime import UTC, date, datetime, timedelta

import pytest

from inventory.actions.temperatures import check_room, note_post, record_readings, take_back_check
from inventory.models import AlarmMail, Chore, Farm, Mail, Room, Sensor, Watch
from inventory.upkeep.due import Done, Posting
from inventory.upkeep.facts import note_round, read_facts
from tests.builders import NOW, act

MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)

pytestmark = pytest.mark.usefixtures("farm")


def make_sensor(**changes) -> Sensor:
    values = {"name": "shelf", "room": Room.objects.get(), "token_hash": "1", "made_at": NOW}
    return Sensor.objects.create(**values | changes)


def test_the_facts_are_what_was_done_sent_and_seen(settings):
    settings.ALARM_MAIL_TO = ["owner@farm.example"]
    note_round(NOW - DAY)
    Chore.objects.create(name="copy", tried_at=NOW, done_at=NOW - HOUR)
    for key, sent_at in (("told", NOW), ("waits", None)):
        Mail.objects.create(
            key=key, subject="s", body="b", written_at=NOW, next_try_at=NOW, sent_at=sent_at
        )
    record_readings(
        Room.objects.get(), [(NOW - hour * HOUR, 9.0) for hour in range(4, 0, -1)], kind="file",
        at=NOW, sensor="corner",
    )  # fmt: skip
    AlarmMail.objects.create(room=Room.objects.get(), started_at=NOW - 4 * HOUR, side="warm")
    sensor = make_sensor()
    note_post(sensor, NOW)
    make_sensor(name="gone", token_hash="2", revoked_at=NOW)
    facts = read_facts(Farm.objects.get(), NOW, ["copy", "ledger"])
    alarm = f"alarm {Room.objects.get().pk} {(NOW - 4 * HOUR).timestamp():.0f} warm"
    assert facts.alarms == (alarm,)
    assert facts.said == {"told", "waits", alarm}
    assert facts.next_tries == (NOW,)
    assert facts.done == {"copy": Done(NOW, NOW - HOUR), "ledger": None}
    assert facts.sensors == (Posting(sensor.pk, (datetime(2026, 6, 10, 14, 0, tzinfo=UTC),)),)
    assert facts.listening_since == NOW - DAY
    assert (facts.mailed, facts.check_hour, str(facts.zone)) == (True, 20, "America/New_York")


def test_a_check_that_was_taken_back_is_none():
    look = {"room": Room.objects.get(), "celsius": None, "door_shut": True, "odd": ""}
    made = [check_room(act(NOW - days * DAY), **look) for days in (1, 0)]
    facts = read_facts(Farm.objects.get(), NOW, [])
    assert (facts.unchecked, facts.checked_on) == (False, date(2026, 6, 10))
    take_back_check(act(NOW), check=made[1])
    facts = read_facts(Farm.objects.get(), NOW, [])
    assert (facts.unchecked, facts.checked_on) == (True, date(2026, 6, 9))


def test_a_sensor_is_remembered_by_its_last_posts():
    sensor = make_sensor()
    for minute in range(20):
        note_post(sensor, NOW + minute * MINUTE)
    posts = Sensor.objects.get().posts
    assert posts == [int((NOW + minute * MINUTE).timestamp()) for minute in range(11, 20)]


def test_the_watch_notes_its_rounds_and_since_when_it_goes_them():
    for minute, since in ((0, 0), (1, 0), (15, 0), (31, 31), (32, 31), (10, 10)):
        note_round(NOW + minute * MINUTE)
        found = Watch.objects.get()
        assert (found.since, found.last_round_at) == (NOW + since * MINUTE, NOW + minute * MINUTE)
