"""Which crops in a room stand badly together or in that room, and where the harm is least."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass, replace
from itertools import combinations

from inventory.keeping.neighbours import Warning, is_news, neighbour_warnings, room_warnings
from inventory.keeping.shelves import least_harm
from inventory.models import Crop, Lot, Position, Room
from inventory.queries.rooms import Choice, Stock, choices_for, read_stock


@dataclass(frozen=True)
class Advice:
    """A warning about crops that stand in a room, all that one giver harms in one way together.

    better: where the giver, or the crop in the wrong room, would do or take the least harm; None
    where nothing is gained by a move.
    """

    kind: str
    source: str
    giver: Crop
    takers: list[Crop]
    better: Position | None = None


def read_advice(
    room: Room, only: Crop | None = None, stock: Stock | None = None, other_rooms: bool = False
) -> list[Advice]:
    """Return the warnings of a room, or those that one crop takes part in.

    stock: what stands where, if read already. other_rooms: no better place is looked for in here.
    """
    stock = stock or read_stock()
    found = _together(room, stock.crops_in.get(room.pk, ()))
    suffer: dict[Crop, set[int]] = defaultdict(set)
    for advice in found:
        for taker in advice.takers:
            suffer[advice.giver] |= stock.walks[room.pk, taker.pk]
    said = [advice for advice in found if only in (None, advice.giver, *advice.takers)]
    better = {
        giver: _better(giver, room, suffer[giver], stock, other_rooms)
        for giver in dict.fromkeys(advice.giver for advice in said)
    }
    return [replace(advice, better=better[advice.giver]) for advice in said]


def _together(room: Room, crops: Collection[Crop]) -> list[Advice]:
    """Return what the crops of a room take from it and do to each other."""
    by_key = {crop.reference_key: crop for crop in crops}
    takers: dict[Warning, list[Crop]] = {}
    for crop in by_key.values():
        for warning in _from_room(crop, room):
            takers.setdefault(warning, []).append(crop)
    for one, other in combinations(by_key.values(), 2):
        for warning in neighbour_warnings(one.reference, other.reference):
            same = replace(warning, taker="")
            takers.setdefault(same, []).append(by_key[warning.taker])
    return [
        Advice(warning.kind, warning.source, by_key[warning.giver], harmed)
        for warning, harmed in takers.items()
    ]


def _from_room(crop: Crop, room: Room) -> list[Warning]:
    return room_warnings(crop.reference, float(room.target_c), room.damp)


def _better(
    crop: Crop, room: Room, takers: set[int], stock: Stock, other_rooms: bool
) -> Position | None:
    """Return where a crop had better stand: in another room, or far from all that suffer.

    Another room counts where it keeps its time and does no harm of any kind. takers: where those
    stand on the walk that it harms; the crop itself, where it is in the wrong room.
    """
    good = [choice for choice in choices_for([crop], stock) if choice.good and choice.free]
    elsewhere = (
        choice.position
        for choice in good
        if not choice.bad_company and choice.position.room_id != room.pk
    )
    best = next(elsewhere, None)
    if best or other_rooms or _from_room(crop, room):
        return best
    here = [choice.position for choice in good if choice.position.room_id == room.pk]
    by_walk = {position.walk: position for position in here}
    farthest = least_harm(stock.walks[room.pk, crop.pk], takers, by_walk)
    return None if farthest is None else by_walk[farthest]


def said_before(
    crops: Collection[Crop], choices: list[Choice], stock: Stock | None = None
) -> dict[str, list[Advice]]:
    """Return what to say beside each room before crates of these crops go there, by its key.

    choices: the places offered; where none is good something else speaks against the room. See
    is_news. stock: what stands where, if read already.
    """
    somewhere_better = any(choice.suggested and not choice.bad_company for choice in choices)
    there = (stock or read_stock()).crops_in
    said = {}
    for room in {choice.position.room for choice in choices if choice.good}:
        stand = there.get(room.pk, [])
        coming = {crop for crop in crops if is_news(crop not in stand, somewhere_better)}
        together = sorted({*crops, *stand}, key=lambda crop: crop.reference_key)
        said[str(room.pk)] = [
            one for advice in _together(room, together) if (one := _as_they_come(advice, coming))
        ]
    return said


def _as_they_come(advice: Advice, coming: set[Crop]) -> Advice | None:
    """Return a warning cut to what crops that come bring about; None if they have no part in it."""
    if advice.giver in coming:
        return advice
    takers = [crop for crop in advice.takers if crop in coming]
    return replace(advice, takers=takers) if takers else None


def said_after(
    room: Room, crop: Crop, put_down: Collection[str], stock: Stock | None = None
) -> list[Advice]:
    """Return what to say of a room once crates of a crop were put there. See is_news.

    put_down: the codes of those crates. stock: what stands where, if read already.
    """
    stock = stock or read_stock()
    here = Lot.objects.filter(position__room=room, crop=crop, state=Lot.State.IN_PLACE)
    others = stock.counts_in[room.pk, crop.pk] > len(put_down)
    stood = others or here.exclude(pk__in=put_down).exists()
    return [
        advice
        for advice in read_advice(room, crop, stock, other_rooms=stood)
        if is_news(not stood, bool(advice.better and advice.better.room_id != room.pk))
    ]
