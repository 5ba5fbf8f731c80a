"""Which crops in a room stand badly together or in that room, and where the harm is least."""

from dataclasses import dataclass

from inventory.keeping.neighbours import Warning, neighbour_warnings, room_warnings
from inventory.models import Crop, Lot, Position, Room
from inventory.queries.rooms import places_for


@dataclass(frozen=True)
class Advice:
    """A warning about crops that stand in a room. better: where the harm is least, if anywhere."""

    warning: Warning
    giver: Crop
    taker: Crop
    better: Position | None


def read_advice(room: Room, only: Crop | None = None) -> list[Advice]:
    """Return the warnings of a room, or those that one crop takes part in."""
    crops = list(
        Crop.objects.filter(
            pk__in=Lot.objects.filter(position__room=room).values("crop_id")
        ).order_by("reference_key")
    )
    found = []
    for index, crop in enumerate(crops):
        found += [
            Advice(warning, crop, crop, _elsewhere(crop, room))
            for warning in room_warnings(crop.reference, float(room.target_c))
        ]
        for other in crops[index + 1 :]:
            by_key = {crop.reference_key: crop, other.reference_key: other}
            found += [
                Advice(
                    warning,
                    by_key[warning.giver],
                    by_key[warning.taker],
                    _farthest(room, by_key[warning.taker]),
                )
                for warning in neighbour_warnings(crop.reference, other.reference)
            ]
    return [advice for advice in found if only is None or only in (advice.giver, advice.taker)]


def _elsewhere(crop: Crop, room: Room) -> Position | None:
    """Return a free place in another room where nothing hurts this crop."""
    good = [
        choice.position
        for choice in places_for(crop)
        if choice.position.room_id != room.pk and not choice.harm and choice.free
    ]
    return good[0] if good else None


def _farthest(room: Room, taker: Crop) -> Position | None:
    """Return the free place of the room farthest along the walk from the crop that suffers."""
    stands = set(
        Lot.objects.filter(crop=taker, position__room=room).values_list("position__walk", flat=True)
    )
    free = [
        choice.position
        for choice in places_for(None)
        if choice.position.room_id == room.pk and choice.free
    ]
    if not stands or not free:
        return None
    return max(free, key=lambda position: min(abs(position.walk - walk) for walk in stands))
