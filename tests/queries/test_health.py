"""Health tells what the tables and the machine say, good or bad."""

import shutil
from datetime import date, timedelta
from types import SimpleNamespace

import pytest

from inventory.actions.temperatures import check_room, note_post, record_readings
from inventory.models import Farm, Mail, Room, Sensor, Watch
from inventory.queries import health
from inventory.queries.health import read_health
from tests.builders import NOW, act

MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)

pytestmark = pytest.mark.usefixtures("farm")


def read(at=NOW, copied_at=None):
    return read_health(Farm.objects.get(), at, copied_at)


def test_the_watch_is_awake_as_long_as_it_goes_its_rounds():
    assert not read().is_watched
    Watch.objects.create(pk=1, since=NOW, last_round_at=NOW)
    assert read(NOW + 15 * MINUTE).is_watched
    assert not read(NOW + 16 * MINUTE).is_watched


def test_a_disk_with_less_than_a_gigabyte_left_is_full(monkeypatch):
    for free, is_full in ((10**9, False), (10**9 - 1, True)):
        monkeypatch.setattr(
            shutil, "disk_usage", lambda _path, free=free: SimpleNamespace(free=free)
        )
        assert (read().free_bytes, read().is_full) == (free, is_full)


def test_a_copy_is_old_after_two_days():
    found = read(copied_at=NOW - 2 * DAY)
    assert (found.is_old(found.copied_at), found.is_old(None)) == (False, True)
    assert found.is_old(NOW - 2 * DAY - MINUTE)


def test_each_sensor_at_work_has_its_last_reading_and_may_be_silent():
    Watch.objects.create(pk=1, since=NOW - DAY, last_round_at=NOW)
    room = Room.objects.get()
    for name, revoked_at in (("shelf", None), ("door", None), ("gone", NOW)):
        Sensor.objects.create(
            name=name, room=room, token_hash=name, made_at=NOW, revoked_at=revoked_at
        )
    record_readings(room, [(NOW - 5 * HOUR, 2.0)], kind="sensor", at=NOW, sensor="shelf")
    for minute in (0, 10, 20, 30):
        note_post(Sensor.objects.get(name="shelf"), NOW - 6 * HOUR + minute * MINUTE)
    seen = [(one.sensor.name, one.reading_at, one.is_silent) for one in read().sensors]
    assert seen == [("door", None, False), ("shelf", NOW - 5 * HOUR, True)]


@pytest.mark.parametrize(
    ("check_hour", "days_ago", "is_missed"),
    [(11, 0, False), (11, 1, False), (11, 2, True), (10, 1, True), (10, 0, False)],
)
def test_a_check_is_missed_from_the_hour_it_should_be_there(
    settings, check_hour, days_ago, is_missed
):
    """It is ten in the morning on the farm's clock."""
    settings.CHECK_HOUR = check_hour
    look = {"room": Room.objects.get(), "celsius": None, "door_shut": True, "odd": ""}
    check_room(act(NOW - days_ago * DAY), **look)
    (seen,) = read().rooms
    assert (seen.check.day, seen.is_missed) == (date(2026, 6, 10 - days_ago), is_missed)


def test_a_room_never_checked_is_not_missed():
    (seen,) = read().rooms
    assert (seen.check, seen.is_missed) == (None, False)


def test_mail_says_what_waits_what_failed_and_what_it_lacks(settings):
    assert read().post == health.Post("nobody", 0, None, None)
    settings.ALARM_MAIL_TO = ["owner@farm.example"]
    assert read().post.lacks == "no-server"
    settings.EMAIL_HOST = "mail.farm.example"
    row = {"subject": "s", "body": "b", "written_at": NOW, "next_try_at": NOW}
    Mail.objects.create(key="sent", sent_at=NOW - HOUR, **row)
    Mail.objects.create(key="new", **row)
    failed = Mail.objects.create(key="failed", trouble="no-answer", tries=1, **row)
    assert read().post == health.Post("", 2, failed, NOW - HOUR)


def test_health_takes_as_many_looks_for_many_messages_as_for_one(
    django_assert_num_queries, settings, tmp_path
):
    settings.DATA_DIR = tmp_path  # no file that another test left as failing is looked for
    row = {"subject": "s", "body": "b", "written_at": NOW, "next_try_at": NOW}
    Mail.objects.bulk_create(Mail(key=str(number), **row) for number in range(50))
    with django_assert_num_queries(9):
        read()
