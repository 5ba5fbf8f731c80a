from datetime import timedelta

from inventory.models import Code, Position, Room, RoomTarget
from tests.builders import NOW
from tests.models.constraints import unclean


def test_room_names_are_unique(refused):
    Room.objects.create(name="Cold room", target_c=2)
    Room.objects.create(name="Warm corner", target_c=12)
    assert unclean(Room(name="COLD room", target_c=4)) == {"name-taken"}
    with refused():
        Room.objects.create(name="COLD room", target_c=4)


def new_place(code: str, room: Room, rack: str, shelf: int, place: str = "") -> Position:
    code = Code.objects.create(text=code)
    return Position(code=code, room=room, rack=rack, shelf=shelf, place=place, walk=1)


def test_places_are_told_apart_by_name(refused):
    room = Room.objects.create(name="Cold room", target_c=2)
    new_place("PLACE01", room, "A", 1).save()
    new_place("PLACE02", room, "B", 1).save()
    new_place("PLACE03", room, "A", 2).save()
    new_place("PLACE04", room, "A", 1, "left").save()
    another_room = Room.objects.create(name="Warm corner", target_c=12)
    again = new_place("PLACE05", another_room, "A", 1)
    assert unclean(again) == {"There is a place of that name already."}
    with refused():
        again.save()


def test_one_target_per_room_and_moment(refused):
    room, other = (Room.objects.create(name=name, target_c=2) for name in ("Cold room", "Bench"))
    RoomTarget.objects.create(room=room, since=NOW, target_c=2)
    RoomTarget.objects.create(room=room, since=NOW + timedelta(hours=1), target_c=2)
    RoomTarget.objects.create(room=other, since=NOW, target_c=2)
    with refused():
        RoomTarget.objects.create(room=room, since=NOW, target_c=12)
