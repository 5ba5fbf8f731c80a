"""Making the farm usable: the farm itself, its rooms and shelves, its crops and people."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from itertools import product

from django.db import transaction
from django.utils.translation import gettext

from inventory.errors import Conflict, Refused
from inventory.keeping import load_reference
from inventory.labels.stock import A4, LETTER
from inventory.ledger.book import new_code
from inventory.models import (
    Container,
    Crop,
    Farm,
    Outlet,
    Person,
    Position,
    Room,
    RoomTarget,
    Source,
)

MOST_SHELVES = 12
# A room's first target holds for all the time before it, too: logs may be taken up late.
ALWAYS = datetime(2000, 1, 1, tzinfo=UTC)
MOST_RACKS = 12
_LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ"
_COUNTED_BY_THE_HEAD = frozenset({"lettuce-head", "lettuce-romaine", "lettuce-leaf"})


@dataclass(frozen=True)
class Shelving:
    """A room with racks A, B, … of equal shelves, as many crates to a shelf as stated."""

    name: str
    target_c: Decimal
    racks: int
    shelves: int
    capacity: int = 5
    damp: bool = True


def set_up_farm(
    *,
    name: str,
    weight_unit: str,
    temperature_unit: str,
    time_zone: str,
    rooms: list[Shelving],
    owner_name: str,
    password: str,
    language: str,
    choose: Callable[[str], str],
    region: str = Farm.Region.ELSEWHERE,
) -> Person:
    """Make the farm, its rooms and its first owner. region: also which paper it prints on.

    Raises Refused("shelves"), Conflict("farm-exists").
    """
    with transaction.atomic():
        farm, made = Farm.objects.get_or_create(
            pk=1,
            defaults={
                "name": name,
                "weight_unit": weight_unit,
                "temperature_unit": temperature_unit,
                "time_zone": time_zone,
                "region": region,
                "label_stock": LETTER if region == Farm.Region.US else A4,
            },
        )
        if not made:
            raise Conflict("farm-exists")
        for order, shelving in enumerate(rooms):
            add_room(shelving, order, choose)
        owner = Person(name=owner_name, role=Person.Role.OWNER, language=language)
        owner.set_password(password)
        owner.full_clean(exclude=["password"])
        owner.save()
        load_crops(farm.weight_unit)
        Container.objects.create(name=gettext("Tote"))
        Outlet.objects.create(name=gettext("Market"), kind=Outlet.Kind.MARKET)
        Source.objects.create(kind=Source.Kind.BLOCK, name=gettext("The field"))
    return owner


def load_crops(weight_unit: str) -> None:
    """Make a row for every crop of the reference that has none yet; none is switched on."""
    known = set(Crop.objects.values_list("reference_key", flat=True))
    Crop.objects.bulk_create(
        Crop(reference_key=key, unit=_usual_unit(key, weight_unit))
        for key in load_reference()
        if key not in known
    )


def _usual_unit(key: str, weight_unit: str) -> str:
    if key in _COUNTED_BY_THE_HEAD:
        return "head"
    if key.endswith("-bunched") or key in {"kale", "collards", "swiss-chard", "green-onion"}:
        return "bunch"
    return weight_unit


def add_room(shelving: Shelving, order: int, choose: Callable[[str], str]) -> Room:
    """Make a room with racks of shelves, walked rack by rack; they get the next free letters.

    Raises Refused("shelves").
    """
    if not (1 <= shelving.racks <= MOST_RACKS and 1 <= shelving.shelves <= MOST_SHELVES):
        raise Refused("shelves", field="racks", racks=MOST_RACKS, shelves=MOST_SHELVES)
    room = Room(name=shelving.name, target_c=shelving.target_c, damp=shelving.damp, order=order)
    room.full_clean()
    room.save()
    RoomTarget.objects.create(room=room, since=ALWAYS, target_c=room.target_c)
    for rack in _free_racks(shelving.racks):
        for shelf in range(1, shelving.shelves + 1):
            add_position(room, rack=rack, shelf=shelf, capacity=shelving.capacity, choose=choose)
    return room


def _free_racks(count: int) -> list[str]:
    """Return names no rack of any room has, so that a place is told by its name alone."""
    taken = set(Position.objects.values_list("rack", flat=True))
    names = [*_LETTERS, *("".join(pair) for pair in product(_LETTERS, repeat=2))]
    return [name for name in names if name not in taken][:count]


def add_position(
    room: Room,
    *,
    rack: str,
    shelf: int,
    choose: Callable[[str], str],
    place: str = "",
    capacity: int = 5,
) -> Position:
    """Make one labelled place, last in the walk."""
    last = Position.objects.order_by("-walk").values_list("walk", flat=True).first() or 0
    position = Position(
        code=new_code(choose),
        room=room,
        rack=rack,
        shelf=shelf,
        place=place,
        capacity=capacity,
        walk=last + 1,
    )
    position.full_clean()
    position.save()
    return position
