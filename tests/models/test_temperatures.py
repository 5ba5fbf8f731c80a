from datetime import timedelta
from uuid import uuid4

import pytest

from inventory.models import AlarmMail, ProbeReading, Reading, Room, RoomCheck, Sensor
from tests.builders import NOW, make_lot, owner
from tests.models.constraints import unclean

LATER = NOW + timedelta(minutes=5)


@pytest.fixture
def room(db):
    return make_room()


def make_room(name: str = "Cold room") -> Room:
    return Room.objects.create(name=name, target_c=2)


def make_sensor(room: Room, name: str, token_hash: str, **changes) -> Sensor:
    values = {"room": room, "name": name, "token_hash": token_hash, "made_at": NOW}
    return Sensor.objects.create(**values | changes)


def new_reading(room: Room, **changes) -> Reading:
    values = {"room": room, "sensor": "shelf", "at": NOW, "temperature_c": 2.5, "kind": "file"}
    return Reading(**values | changes)


def new_probe(intake, **changes) -> ProbeReading:
    values = {"intake": intake, "at": NOW, "temperature_c": 9, "entry_id": uuid4()}
    return ProbeReading(person=owner(), **values | changes)


def test_sensors_at_work_are_told_apart_by_name(room, refused):
    make_sensor(room, "shelf", "1", revoked_at=NOW)
    make_sensor(room, "shelf", "2", revoked_at=NOW)
    make_sensor(room, "shelf", "3")
    make_sensor(room, "door", "4")
    with refused():
        make_sensor(make_room("Warm corner"), "SHELF", "5")


def test_sensor_token_hash_is_unique(room, refused):
    make_sensor(room, "shelf", "1")
    make_sensor(room, "door", "2")
    with refused():
        make_sensor(room, "ceiling", "1")


def test_one_reading_per_sensor_and_moment(room, refused):
    new_reading(room, set_aside="wrong").save()
    new_reading(room, set_aside="wrong").save()
    new_reading(room).save()
    new_reading(room, at=LATER).save()
    new_reading(room, sensor="door").save()
    new_reading(make_room("Warm corner")).save()
    with refused():
        new_reading(room, temperature_c=3.5).save()
    with refused():
        new_reading(room, temperature_c=95.0, set_aside="implausible").save()


def test_reading_entry_id_is_unique(room, refused):
    form = uuid4()
    new_reading(room, entry_id=form).save()
    new_reading(room, entry_id=uuid4(), sensor="door").save()
    new_reading(room, entry_id=None, at=LATER).save()
    new_reading(room, entry_id=None, at=LATER, sensor="door").save()
    with refused():
        new_reading(room, entry_id=form, sensor="ceiling").save()


def test_one_mail_per_spell(room, refused):
    spell = {"room": room, "started_at": NOW, "side": "warm"}
    AlarmMail.objects.create(**spell)
    AlarmMail.objects.create(**spell | {"side": "cold"})
    AlarmMail.objects.create(**spell | {"started_at": LATER})
    AlarmMail.objects.create(**spell | {"room": make_room("Warm corner")})
    assert unclean(AlarmMail(**spell)) == {"unique_together"}
    with refused():
        AlarmMail.objects.create(**spell)


def test_one_probe_per_moment(farm, refused):
    intake = make_lot().intake
    new_probe(intake).save()
    new_probe(intake, at=LATER).save()
    new_probe(make_lot().intake).save()
    again = new_probe(intake, temperature_c=7)
    assert unclean(again) == {"Constraint “one_probe_per_moment” is violated."}
    with refused():
        again.save()
    new_probe(intake, taken_back_at=LATER).save()
    new_probe(intake, taken_back_at=LATER).save()


def test_probereading_entry_id_is_unique(farm, refused):
    intake, form = make_lot().intake, uuid4()
    new_probe(intake, entry_id=form).save()
    new_probe(intake, entry_id=uuid4(), at=LATER).save()
    with refused():
        new_probe(make_lot().intake, entry_id=form).save()


def test_one_check_per_room_and_day(farm, refused):
    room = Room.objects.get()
    look = {"room": room, "day": NOW.date(), "at": NOW, "person": owner(), "door_shut": True}
    RoomCheck.objects.create(**look)
    RoomCheck.objects.create(**look | {"day": NOW.date() + timedelta(days=1)})
    RoomCheck.objects.create(**look | {"room": make_room("Warm corner")})
    assert unclean(RoomCheck(**look)) == {"Constraint “one_check_per_room_and_day” is violated."}
    with refused():
        RoomCheck.objects.create(**look | {"door_shut": False})
    for _ in range(2):
        RoomCheck.objects.create(**look, taken_back_at=NOW)
        RoomCheck.objects.create(**look, replaced_by=RoomCheck.objects.standing().first())


def test_roomcheck_entry_id_is_unique(farm, refused):
    look = {"room": Room.objects.get(), "at": NOW, "person": owner(), "door_shut": True}
    form = uuid4()
    RoomCheck.objects.create(**look, day=NOW.date(), entry_id=form)
    with refused():
        RoomCheck.objects.create(**look, day=NOW.date() + timedelta(days=1), entry_id=form)
