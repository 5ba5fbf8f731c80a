"""The rooms: what stands where, how full it is, what could go there, what nobody touched."""

from collections import Counter, defaultdict
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.db.models import Q

from inventory.keeping import Harm, Placing, placing
from inventory.models import Crop, Farm, Lot, Position, Room
from inventory.queries.crates import Crate, crates_here

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


def read_rooms(farm: Farm, at: datetime) -> list[RoomNow]:
    """Return every room, shelf by shelf. A place given up is there while something stands on it."""
    crates = crates_here(farm, at, Q(state=Lot.State.IN_PLACE))
    crates.sort(key=lambda crate: crate.lot.crop.shown_name.lower())
    rooms = Room.objects.prefetch_related("positions")
    return [_room(room, crates) for room in rooms]


def _room(room: Room, crates: list[Crate]) -> RoomNow:
    standing: dict[str | None, list[Crate]] = defaultdict(list)
    for crate in crates:
        standing[crate.lot.position_id].append(crate)
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


def read_waiting(farm: Farm, at: datetime) -> list[Crate]:
    """Return the crates that are in the house and stand in no place yet."""
    return crates_here(farm, at, Q(state=Lot.State.TO_PUT_AWAY))


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
    """A place offered for a crop. harm as in keeping.Placing; same: the crop stands there;
    shorter: it keeps clearly less long than elsewhere."""

    position: Position
    standing: int
    harm: Harm
    same: bool
    suggested: bool
    shorter: bool = False

    @property
    def free(self) -> int:
        return max(self.position.capacity - self.standing, 0)


def places_for(crop: Crop | None, crates: int = 1) -> list[Choice]:
    """Return every place in walking order, with the best three that hold so many more marked.

    Best: where the crop keeps about as long as anywhere, beside its own kind, then nearest in
    the walk. A place that would hurt the crop is never suggested.
    """
    positions = Position.objects.filter(in_use=True).select_related("room").order_by("walk")
    in_place = Lot.objects.filter(state=Lot.State.IN_PLACE)
    standing = Counter(in_place.values_list("position_id", flat=True))
    same = Counter(in_place.filter(crop=crop).values_list("position_id", flat=True))
    offers = [
        _Offer(
            position,
            standing[position.pk],
            placing_at(crop, position) if crop else None,
            same[position.pk] > 0,
        )
        for position in positions
    ]
    longest = max((offer.placing.life_days for offer in offers if offer.placing), default=0)
    best = sorted(
        (offer for offer in offers if offer.is_good(longest, crates)),
        key=lambda offer: (not offer.same, offer.position.walk),
    )[:3]
    return [offer.choice(longest, offer in best) for offer in offers]


@dataclass(frozen=True)
class _Offer:
    """A place that might be offered. placing: what it does to the crop, where one is asked for."""

    position: Position
    standing: int
    placing: Placing | None
    same: bool

    def is_good(self, longest: float, crates: int) -> bool:
        """Return whether there is room, nothing harms the crop, and it keeps about its longest."""
        if self.standing + crates > self.position.capacity:
            return False
        placing = self.placing
        return placing is None or (placing.fits and placing.life_days >= GOOD_SHARE * longest)

    def choice(self, longest: float, suggested: bool) -> Choice:
        shorter = self.placing is not None and self.placing.life_days < GOOD_SHARE * longest
        return Choice(
            position=self.position,
            standing=self.standing,
            harm=self.placing.harm if self.placing else Harm.NONE,
            same=self.same,
            suggested=suggested,
            shorter=shorter,
        )


def placing_at(crop: Crop, position: Position) -> Placing:
    """Return what standing at a place does to a crop."""
    return placing(crop.reference, float(position.room.target_c), position.cold_spot)


def not_seen_since(farm: Farm, at: datetime, since: datetime) -> list[Crate]:
    """Return crates in the house that nobody has touched since a moment, longest first."""
    crates = crates_here(farm, at, Q(seen_at__lt=since))
    return sorted(crates, key=lambda crate: crate.lot.seen_at or since)
