"""The rooms: what stands where, how full it is, what could go there, what nobody touched."""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from django.db.models import Q

from inventory.keeping import Harm, Placing, placing
from inventory.keeping.neighbours import Warning, company_warnings, room_warnings
from inventory.keeping.shelves import Shelf, share_out
from inventory.lives.logs import every_room
from inventory.models import Crop, Farm, Lot, Position, Room
from inventory.queries.crates import HERE, Crate, crates_here, share, with_life, with_parts

UNSEEN_AFTER = timedelta(days=5)
GOOD_SHARE = 0.8  # of the longest keeping life any place offers


@dataclass(frozen=True)
class Place:
    position: Position
    crates: list[Crate] = field(default_factory=list)

    @property
    def is_full(self) -> bool:
        return len(self.crates) >= self.position.capacity


@dataclass(frozen=True)
class Rack:
    name: str
    places: list[Place]


@dataclass(frozen=True)
class RoomNow:
    room: Room
    racks: list[Rack]
    crates: int
    capacity: int


def read_rooms(farm: Farm, at: datetime) -> tuple[list[RoomNow], list[Crate]]:
    """Return every room, shelf by shelf, and the crates that stand in no place yet.

    A place given up is there while something stands on it.
    """
    crates = crates_here(farm, at)
    names = {crop.pk: crop.shown_name.lower() for crop in {crate.lot.crop for crate in crates}}
    standing: dict[str | None, list[Crate]] = defaultdict(list)
    for crate in sorted(crates, key=lambda crate: names[crate.lot.crop_id]):
        standing[crate.lot.position_id].append(crate)
    rooms = Room.objects.prefetch_related("positions")
    waiting = [crate for crate in crates if crate.lot.position_id is None]
    return [_room(room, standing) for room in rooms], waiting


@dataclass(frozen=True)
class ToCount:
    """A place to be counted, and how many crates are on record there."""

    position: Position
    crates: int


def read_places_to_count() -> list[tuple[Room, list[ToCount]]]:
    """Return every room with its places, rack by rack. Nobody's life is asked for."""
    in_place = Lot.objects.filter(state=Lot.State.IN_PLACE)
    standing = Counter(in_place.values_list("position_id", flat=True))
    found = []
    for room in Room.objects.prefetch_related("positions"):
        racks: dict[str, list[ToCount]] = defaultdict(list)
        for position in room.positions.all():
            if position.in_use or position.pk in standing:
                racks[position.rack].append(ToCount(position, standing[position.pk]))
        found.append((room, [place for rack in racks.values() for place in rack]))
    return found


def _room(room: Room, standing: Mapping[str | None, list[Crate]]) -> RoomNow:
    places = [
        Place(position, standing.get(position.pk, []))
        for position in room.positions.all()
        if position.in_use or position.pk in standing
    ]
    names = list(dict.fromkeys(place.position.rack for place in places))
    return RoomNow(
        room=room,
        racks=[
            Rack(name, [place for place in places if place.position.rack == name]) for name in names
        ],
        crates=sum(len(place.crates) for place in places),
        capacity=sum(place.position.capacity for place in places),
    )


def read_place(position: Position, farm: Farm, at: datetime) -> Place:
    return Place(position, crates_here(farm, at, Q(position=position)))


def crops_that_fit(position: Position) -> tuple[list[Crop], list[tuple[Crop, Placing]]]:
    """Return the farm's crops that may stand here, longest-keeping first, and those harmed."""
    fitting, harmed = [], []
    for crop in Crop.objects.filter(grown=True):
        verdict = placing_at(crop, position)
        if verdict.fits:
            fitting.append((crop, verdict))
        else:
            harmed.append((crop, verdict))
    fitting.sort(key=lambda pair: -pair[1].life_days)
    harmed.sort(key=lambda pair: pair[0].shown_name.lower())
    return [crop for crop, _ in fitting], harmed


@dataclass(frozen=True)
class Choice:
    """A place offered for a crop, or for several that go there together.

    harm as in keeping.Placing; same: the crop stands there; shorter: it keeps clearly less long
    than elsewhere; bad_company: it would harm or suffer from what stands in that room, or from
    its damp; good: it may be suggested, for as many as are free; suggested: it is, for all.
    """

    position: Position
    standing: int
    harm: Harm
    same: bool
    suggested: bool
    shorter: bool = False
    bad_company: bool = False
    good: bool = False

    @property
    def free(self) -> int:
        return max(self.position.capacity - self.standing, 0)


@dataclass(frozen=True)
class Stock:
    """What stands where, read once for several questions.

    places: those in use, in walking order. counts: crates by place; counts_in: of a crop in a room,
    by the keys of both. crops_at: the keys of the crops by place; crops_in: the crops by room.
    walks: where on the walk a crop stands in a room, by the keys of both.
    """

    places: list[Position]
    counts: Counter[str]
    counts_in: Counter[tuple[int, int]]
    crops_at: dict[str, set[int]]
    crops_in: dict[int, list[Crop]]
    walks: dict[tuple[int, int], set[int]]


def read_stock() -> Stock:
    """Return what stands where now. Four queries."""
    # Counted here: the database takes longer to group them than they take to be read. First, as
    # somebody may be making a place and putting a crate there.
    in_place = Lot.objects.filter(state=Lot.State.IN_PLACE).order_by()
    stands = list(in_place.values_list("position_id", "crop_id"))
    positions = list(Position.objects.order_by("walk"))
    share(positions, room=every_room())
    spots = {place.pk: (place.room_id, place.walk) for place in positions}
    crops_at: dict[str, set[int]] = defaultdict(set)
    walks: dict[tuple[int, int], set[int]] = defaultdict(set)
    for place, crop in set(stands):
        room, walk = spots[place]
        crops_at[place].add(crop)
        walks[room, crop].add(walk)
    crops = Crop.objects.in_bulk({crop for _room, crop in walks})
    crops_in: dict[int, list[Crop]] = defaultdict(list)
    for room, crop in sorted(walks, key=lambda pair: crops[pair[1]].reference_key):
        crops_in[room].append(crops[crop])
    return Stock(
        places=[place for place in positions if place.in_use],
        counts=Counter(place for place, _crop in stands),
        counts_in=Counter((spots[place][0], crop) for place, crop in stands),
        crops_at=crops_at,
        crops_in=crops_in,
        walks=walks,
    )


def places_for(crop: Crop | None, crates: int = 1, stock: Stock | None = None) -> list[Choice]:
    """Return every place in walking order, with the best three that hold so many more marked.

    Best: where the crop keeps about as long as anywhere, in good company if there is such a
    place, beside its own kind, then nearest in the walk. A place that would hurt the crop is
    never suggested, and a cold spot for nothing. stock: what stands where, if read already.
    """
    return places_for_all([] if crop is None else [crop], crates, stock)


def places_for_all(
    crops: Collection[Crop], crates: int = 1, stock: Stock | None = None
) -> list[Choice]:
    """Return every place as places_for does, for crops that go to one place together."""
    choices = choices_for(crops, stock or read_stock())
    holding = [choice for choice in choices if choice.good and choice.free >= crates]
    best = sorted(
        [choice for choice in holding if not choice.bad_company] or holding,
        key=lambda choice: (not choice.same, choice.position.walk),
    )[:3]
    suggested = {choice.position.pk for choice in best}
    return [
        replace(choice, suggested=True) if choice.position.pk in suggested else choice
        for choice in choices
    ]


def choices_for(crops: Collection[Crop], stock: Stock) -> list[Choice]:
    """Return every place in walking order for crops that go to one together, none suggested yet."""
    keys = {crop.pk for crop in crops}
    rooms = {place.room_id: place.room for place in stock.places}
    bad_company = {
        pk: any(harms_in(crop, room, stock.crops_in.get(pk, ())) for crop in crops)
        for pk, room in rooms.items()
    }
    verdicts = _verdicts(crops, stock.places)
    choices = []
    for place in stock.places:
        harm, shorter = verdicts[place.room_id, place.cold_spot]
        choices.append(
            Choice(
                position=place,
                standing=stock.counts[place.pk],
                harm=harm,
                same=not keys.isdisjoint(stock.crops_at.get(place.pk, ())),
                suggested=False,
                shorter=shorter,
                bad_company=bad_company[place.room_id],
                good=not (harm or shorter or place.cold_spot),
            )
        )
    return choices


def _verdicts(
    crops: Collection[Crop], places: Iterable[Position]
) -> dict[tuple[int, bool], tuple[Harm, bool]]:
    """Return which harm places do to any of some crops, and whether one keeps less long there.

    By room and whether one is a cold spot: places that share both do the same.
    """
    kinds = {(place.room_id, place.cold_spot): place for place in places}
    placings = {kind: [placing_at(crop, one) for crop in crops] for kind, one in kinds.items()}
    longest = [
        max((placing.life_days for placing in of_crop if placing.fits), default=0)
        for of_crop in zip(*placings.values(), strict=True)
    ]
    return {
        kind: (
            next((placing.harm for placing in found if placing.harm), Harm.NONE),
            any(
                placing.life_days < GOOD_SHARE * most
                for placing, most in zip(found, longest, strict=True)
            ),
        )
        for kind, found in placings.items()
    }


def harms_in(crop: Crop, room: Room, there: Collection[Crop]) -> list[Warning]:
    """Return what a room and the crops in it would do to a crop, and it to them."""
    others = [other.reference for other in there if other != crop]
    return [
        *room_warnings(crop.reference, float(room.target_c), room.damp),
        *company_warnings(crop.reference, others),
    ]


@dataclass(frozen=True)
class Share:
    """How many crates of a batch go to one place."""

    position: Position
    crates: int


def shares_for(choices: list[Choice], crates: int) -> list[Share]:
    """Return how to put away a batch that no one good place holds, over two or three.

    Empty where one does. In good company, if there is room for all of it there.
    """
    if any(choice.suggested for choice in choices):
        return []
    good = [choice for choice in choices if choice.good and choice.free]
    apart = [choice for choice in good if not choice.bad_company]
    if sum(choice.free for choice in apart) >= crates:
        good = apart
    shelves = {
        Shelf(number, choice.free, choice.same): choice.position
        for number, choice in enumerate(choices)
        if choice in good
    }
    return [Share(shelves[shelf], here) for shelf, here in share_out(crates, shelves)]


def placing_at(crop: Crop, position: Position) -> Placing:
    """Return what standing at a place does to a crop."""
    return placing(crop.reference, float(position.room.target_c), position.cold_spot)


def not_seen_since(
    farm: Farm, at: datetime, since: datetime, most: int | None = None
) -> list[Crate]:
    """Return crates in the house that nobody has touched since a moment, longest first.

    most: how many of them.
    """
    lots = Lot.objects.filter(state__in=HERE, seen_at__lt=since).order_by("seen_at", "pk")
    crates = with_life(with_parts(lots[:most]), farm, at)
    return sorted(crates, key=lambda crate: (crate.lot.seen_at or since, crate.key))


def count_not_seen(since: datetime) -> int:
    return Lot.objects.filter(state__in=HERE, seen_at__lt=since).count()
