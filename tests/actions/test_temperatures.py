"""Temperatures, sensors and alarms that can't be written down."""

from datetime import timedelta

import pytest

from inventory.actions.temperatures import (
    OLDEST_READING,
    close_alarm,
    make_sensor,
    record_readings,
    revoke_sensor,
    set_reading_aside,
    type_paper_log,
    type_reading,
)
from inventory.errors import Conflict, Refused
from inventory.ledger.book import CLOCKS_DIFFER
from inventory.models import Reading, Room, Sensor
from tests import builders
from tests.builders import NOW, act
from tests.refusing import refused

pytestmark = pytest.mark.usefixtures("farm")


@pytest.mark.parametrize(
    ("moment", "code"),
    [
        (NOW - OLDEST_READING - timedelta(seconds=1), "six-years-ago"),
        (NOW + CLOCKS_DIFFER + timedelta(seconds=1), "future"),
    ],
)
def test_a_reading_is_of_a_moment_that_can_be(moment, code):
    room = Room.objects.get()
    with refused(Refused(code, field="moment")):
        type_reading(act(), room=room, celsius=3.5, moment=moment)
    with refused(Refused(code, field="moment")):
        type_paper_log(act(), room=room, rows=[(NOW, 3.5), (moment, 3.5)])


def test_the_same_entry_again_adds_nothing_and_with_another_figure_is_refused():
    room, entry, ben = Room.objects.get(), act(), builders.make_crew()
    type_reading(entry, room=room, celsius=3.5, moment=None)
    assert type_reading(entry, room=room, celsius=3.5, moment=None).added == 0
    with refused(Conflict("sent-before")):
        type_reading(entry, room=room, celsius=5.3, moment=None)
    with refused(Conflict("sent-before")):
        type_reading(act(person=ben, id=entry.id), room=room, celsius=3.5, moment=None)


def test_crew_take_back_what_they_typed_themselves_that_day():
    ben, cyd, room = builders.make_crew(), builders.make_crew("Cyd"), Room.objects.get()
    type_reading(act(person=ben), room=room, celsius=35, moment=NOW - timedelta(days=2))
    reading = Reading.objects.get()
    tomorrow = NOW + timedelta(days=1)
    with refused(Refused("owner-only")):
        set_reading_aside(act(tomorrow, person=ben), reading=reading)
    with refused(Refused("owner-only")):
        set_reading_aside(act(person=cyd), reading=reading)
    set_reading_aside(act(NOW + timedelta(hours=1), person=ben), reading=reading)
    assert Reading.objects.get().set_aside == "wrong"


def test_crew_take_back_nothing_a_sensor_wrote():
    ben, room = builders.make_crew(), Room.objects.get()
    record_readings(room, [(NOW, 3.0)], kind="sensor", at=NOW, sensor="P1", person=ben)
    with refused(Refused("owner-only")):
        set_reading_aside(act(person=ben), reading=Reading.objects.get())


@pytest.mark.parametrize("moment", [NOW - OLDEST_READING, NOW + CLOCKS_DIFFER])
def test_a_reading_at_the_edge_of_what_can_be_is_taken(moment):
    type_reading(act(), room=Room.objects.get(), celsius=3.5, moment=moment)
    assert Reading.objects.get().at == moment


def test_two_sensors_at_work_have_two_names():
    room = Room.objects.get()
    first, _token = make_sensor(act(), name="P1", room=room)
    with refused(Refused("sensor-exists", field="name")):
        make_sensor(act(), name="p1", room=room)
    revoke_sensor(act(), sensor=first)
    make_sensor(act(), name="p1", room=room)
    assert Sensor.objects.count() == 2


def test_an_alarm_is_closed_with_what_was_done():
    spell = {"started_at": 0.0, "ended_at": 7200.0, "side": "warm", "peak_c": 9.0}
    with refused(Refused("alarm-done", field="done")):
        close_alarm(act(), room=Room.objects.get(), **spell, done="")
