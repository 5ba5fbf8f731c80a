"""Which crops in a room stand badly together or in that room, and where the harm is least."""

from dataclasses import dataclass, replace
from itertools import combinations

from inventory.keeping.neighbours import Warning, neighbour_warnings, room_warnings
from inventory.models import Crop, Lot, Position, Room
from inventory.queries.rooms import places_for


@dataclass(frozen=True)
class Advice:
    """A warning about crops that stand in a room, all that one giver harms in one way together.

    better: where the giver, or the crop in the wrong room, would do or take the least harm.
    """

    kind: str
    source: str
    giver: Crop
    takers: list[Crop]
    better: Position | None


def read_advice(room: Room, only: Crop | None = None) -> list[Advice]:
    """Return the warnings of a room, or those that one crop takes part in."""
    standing = Lot.objects.filter(position__room=room).values("crop_id")
    crops = {
        crop.reference_key: crop
        for crop in Crop.objects.filter(pk__in=standing).order_by("reference_key")
    }
    takers: dict[Warning, list[Crop]] = {}
    for crop in crops.values():
        for warning in room_warnings(crop.reference, float(room.target_c)):
            takers.setdefault(warning, []).append(crop)
    for one, other in combinations(crops.values(), 2):
        for warning in neighbour_warnings(one.reference, other.reference):
            same = replace(warning, taker="")
            takers.setdefault(same, []).append(crops[warning.taker])
    found = [
        _advice(warning, crops[warning.giver], harmed, room) for warning, harmed in takers.items()
    ]
    return [advice for advice in found if only in (None, advice.giver, *advice.takers)]


def _advice(warning: Warning, giver: Crop, takers: list[Crop], room: Room) -> Advice:
    alone = warning.taker == warning.giver
    better = _elsewhere(giver, room) if alone else _farthest(room, takers)
    return Advice(warning.kind, warning.source, giver, takers, better)


def _elsewhere(crop: Crop, room: Room) -> Position | None:
    """Return a free place in another room where nothing hurts this crop."""
    good = (
        choice.position
        for choice in places_for(crop)
        if choice.position.room_id != room.pk and not choice.harm and choice.free
    )
    return next(good, None)


def _farthest(room: Room, takers: list[Crop]) -> Position | None:
    """Return the free place of the room farthest along the walk from all that suffer."""
    stands = set(
        Lot.objects.filter(crop__in=takers, position__room=room).values_list(
            "position__walk", flat=True
        )
    )
    free = [
        choice.position
        for choice in places_for(None)
        if choice.position.room_id == room.pk and choice.free
    ]
    if not stands or not free:
        return None
    return max(free, key=lambda position: min(abs(position.walk - walk) for walk in stands))
