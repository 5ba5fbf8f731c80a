"""Temperatures, sensors and alarms that can't be written down."""

from datetime import timedelta

import pytest

from inventory.actions.temperatures import (
    OLDEST_READING,
    close_alarm,
    make_sensor,
    revoke_sensor,
    type_paper_log,
    type_reading,
)
from inventory.errors import Refused
from inventory.ledger.book import CLOCKS_DIFFER
from inventory.models import Reading, Room, Sensor
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
