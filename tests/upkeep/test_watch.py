"""The watch does what is due by itself, once, and nothing that fails ends it."""

import os
from datetime import timedelta

import pytest
from django.conf import settings as our_settings
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connections

from inventory.actions.temperatures import check_room, note_post, record_readings, revoke_sensor
from inventory.management.commands import watch as command
from inventory.models import Chore, Mail, Room, Sensor, Watch
from inventory.upkeep import chores, watch
from inventory.upkeep.watch import go_round, keep_watch, lock_file, take
from tests.builders import NOW, act

MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)


@pytest.fixture
def told(farm, settings):
    settings.ALARM_MAIL_TO = ["owner@farm.example"]
    return farm


@pytest.fixture
def no_chores(monkeypatch):
    for name in chores.CHORES:
        monkeypatch.setitem(chores.CHORES, name, lambda _at: None)


def make_sensor(**changes) -> Sensor:
    values = {"name": "shelf", "room": Room.objects.get(), "token_hash": "1", "made_at": NOW}
    return Sensor.objects.create(**values | changes)


def rounds(minutes: int, every: int = 10, start=NOW):
    for minute in range(0, minutes + 1, every):
        go_round(start + minute * MINUTE)


def warm(hours: int, kind: str = "file"):
    readings = [(NOW + quarter * 15 * MINUTE, 9.0) for quarter in range(hours * 4 + 1)]
    record_readings(Room.objects.get(), readings, kind=kind, at=NOW + DAY, sensor="corner")


def subjects() -> list[str]:
    return list(Mail.objects.order_by("pk").values_list("subject", flat=True))


def test_an_alarm_that_begins_by_time_is_mailed_once_though_nobody_posts(
    told, no_chores, mailoutbox
):
    """The room may be too warm for two hours; its file came when it was one."""
    warm(hours=3)
    rounds(110, every=55)
    assert mailoutbox == []
    rounds(60, every=30, start=NOW + 120 * MINUTE)
    assert [mail.subject for mail in mailoutbox] == ["Cold room: too warm for 2 h"]


def test_a_sensor_gone_silent_is_said_once_and_again_after_it_spoke(told, no_chores, mailoutbox):
    sensor = make_sensor()
    for minute in range(0, 60, 10):
        note_post(sensor, NOW + minute * MINUTE)
    rounds(150)
    assert subjects() == ["Cold room: the sensor shelf is silent"]
    note_post(sensor, NOW + 5 * HOUR)
    rounds(90, start=NOW + 5 * HOUR)
    assert subjects() == ["Cold room: the sensor shelf is silent"] * 2
    assert len(mailoutbox) == 2


def test_a_sensor_whose_token_was_revoked_may_be_silent(told, no_chores):
    sensor = make_sensor()
    note_post(sensor, NOW)
    revoke_sensor(act(NOW), sensor=sensor)
    rounds(3 * 24 * 60, every=12 * 60)
    assert subjects() == []


def test_a_missed_check_is_mailed_in_the_evening_and_a_made_one_is_not(told, no_chores, settings):
    settings.CHECK_HOUR = 12  # 16:00 UTC on the farm's clock
    look = {"room": Room.objects.get(), "celsius": None, "door_shut": True, "odd": ""}
    check_room(act(NOW), **look)
    rounds(3 * 60, every=60)
    assert subjects() == []
    rounds(100, every=50, start=NOW + 24 * HOUR)
    assert subjects() == []
    rounds(60, every=30, start=NOW + 26 * HOUR)
    assert subjects() == ["Not checked today: Cold room"]


def test_a_task_that_fails_does_not_keep_the_others_from_being_done(
    told, no_chores, monkeypatch, caplog
):
    def fails(_key, _at):
        raise RuntimeError("odd")

    monkeypatch.setitem(watch._DOES, "alarm", fails)
    warm(hours=3)
    go_round(NOW + 3 * HOUR)
    assert Chore.objects.filter(done_at=NOW + 3 * HOUR).count() == len(chores.CHORES)
    assert "could not do Task(kind='alarm'" in caplog.text


def test_before_a_farm_is_set_up_there_is_nothing_to_do(db):
    assert go_round(NOW) == []
    assert not Watch.objects.exists()


def test_only_one_process_of_a_data_folder_holds_the_watch(tmp_path):
    with lock_file(tmp_path) as first, lock_file(tmp_path) as second:
        assert (take(first), take(first), take(second)) == (True, True, False)
        first.close()
        assert take(second)


@pytest.fixture
def counted(monkeypatch):
    """Rounds that only count themselves, and a clock; the second round fails."""
    went = []

    def count(at):
        went.append(at)
        if went.count(at) == 2:
            raise RuntimeError("the database was away")

    monkeypatch.setattr(watch, "go_round", count)
    monkeypatch.setattr(connections, "close_all", lambda: went.append("closed"))
    return went


def ending_after(rounds: int):
    waits = iter([False] * rounds + [True])
    return lambda _seconds: next(waits)


def test_a_round_that_fails_does_not_end_the_watch_and_none_keeps_a_connection(counted, caplog):
    keep_watch(lambda: NOW, ending_after(3))
    assert counted == [NOW, "closed"] * 3
    assert "a round of the watch failed" in caplog.text


def test_the_first_round_comes_soon_so_that_the_owner_reads_of_it(counted):
    waits = []
    keep_watch(lambda: NOW, lambda seconds: waits.append(seconds) or len(waits) > 2)
    assert waits == [5, 60, 60]


def test_a_watch_without_the_lock_stands_by(db, counted):
    with lock_file(our_settings.DATA_DIR) as other:
        assert take(other)
        keep_watch(lambda: NOW, ending_after(3))
        with pytest.raises(CommandError, match="kept already"):
            call_command("watch", "--once")
    assert counted == ["closed"] * 3


def test_the_command_does_what_is_due_and_says_what(farm, no_chores, capsys):
    call_command("watch", "--once")
    assert capsys.readouterr().out.split() == ["chore", "copy", "chore", "ledger", "chore",
        "photos", "chore", "uploads", "chore", "mail"]  # fmt: skip
    call_command("watch", "--once")
    assert capsys.readouterr().out == ""


@pytest.mark.parametrize(
    ("ours", "alive", "ended"), [(True, True, False), (True, False, True), (False, True, True)]
)
def test_the_watch_of_a_server_ends_with_it(monkeypatch, ours, alive, ended):
    class Parent:
        pid = os.getppid() if ours else -1

        def join(self, seconds):
            assert seconds == 60

        def is_alive(self):
            return alive

    monkeypatch.setattr(command.multiprocessing, "parent_process", Parent)
    assert command.ended(60) is ended
