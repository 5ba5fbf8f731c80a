"""Which crops in a room stand badly together or in that room, and where the harm is least."""

from collections import defaultdict
from dataclasses import dataclass, replace
from itertools import combinations

from inventory.keeping.neighbours import Warning, neighbour_warnings, room_warnings
from inventory.models import Crop, Lot, Position, Room
from inventory.queries.rooms import places_for, placing_at


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
    walks: dict[int, set[int]] = defaultdict(set)
    for crop_id, walk in Lot.objects.filter(position__room=room).values_list(
        "crop_id", "position__walk"
    ):
        walks[crop_id].add(walk)
    crops = {
        crop.reference_key: crop
        for crop in Crop.objects.filter(pk__in=walks).order_by("reference_key")
    }
    takers: dict[Warning, list[Crop]] = {}
    for crop in crops.values():
        for warning in _harms(crop, room):
            takers.setdefault(warning, []).append(crop)
    for one, other in combinations(crops.values(), 2):
        for warning in neighbour_warnings(one.reference, other.reference):
            same = replace(warning, taker="")
            takers.setdefault(same, []).append(crops[warning.taker])
    suffer: dict[str, set[Crop]] = defaultdict(set)
    for warning, harmed in takers.items():
        suffer[warning.giver].update(harmed)
    free = [choice.position for choice in places_for(None) if choice.free]
    found = [
        Advice(
            warning.kind,
            warning.source,
            crops[warning.giver],
            harmed,
            _elsewhere(crops[warning.giver], room, free)
            if warning.taker == warning.giver
            else _farthest(room, suffer[warning.giver], walks, free),
        )
        for warning, harmed in takers.items()
    ]
    return [advice for advice in found if only in (None, advice.giver, *advice.takers)]


def _elsewhere(crop: Crop, room: Room, free: list[Position]) -> Position | None:
    """Return a free place in another room that does this crop no harm of any kind."""
    good = (
        position
        for position in free
        if position.room_id != room.pk
        and placing_at(crop, position).fits
        and not _harms(crop, position.room)
    )
    return next(good, None)


def _harms(crop: Crop, room: Room) -> list[Warning]:
    return room_warnings(crop.reference, float(room.target_c), room.damp)


def _farthest(
    room: Room, takers: set[Crop], walks: dict[int, set[int]], free: list[Position]
) -> Position | None:
    """Return the free place of the room farthest along the walk from all that suffer."""
    stands = set().union(*(walks[crop.pk] for crop in takers))
    here = [position for position in free if position.room_id == room.pk]
    return max(
        here,
        key=lambda position: min(abs(position.walk - walk) for walk in stands),
        default=None,
    )
