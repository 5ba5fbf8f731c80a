"""Where crates have been and what that used of their keeping life.

Temperatures are not measured yet: a crate counts as at its room's target temperature, one not
put away as at the first room's, one out at a stall as warm for as long as was said.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from decimal import Decimal
from itertools import pairwise

from inventory.keeping import life_days, life_used
from inventory.models import Farm, Lot, Movement, Parentage, Room

DEFAULT_ROOM_C = 4.0  # a farm without a room has no better figure than a buyer's fridge
WARM_C = 25.0  # a stall or a van, when nobody measured
NOT_GIVEN_CUT = timedelta(hours=2)  # the longest of the quick answers
_DAY = timedelta(days=1)


@dataclass(frozen=True)
class Life:
    """How far a crate is through its keeping life, and how long it lasts where it stands.

    used: fraction. days_left, generous_days_left: with the cautious and the long end of the
    published range. [d] assumed_c: the temperature counted with, not measured. [°C]
    """

    used: float
    days_left: float
    generous_days_left: float
    keep_until: datetime
    harvested_at: datetime
    time_given: bool
    assumed_c: float


@dataclass(frozen=True)
class _Entry:
    kind: str
    at: datetime
    state: str
    room_id: int | None
    warm_hours: Decimal | None


class Histories:
    """The lives of many crates, read with a fixed number of queries."""

    def __init__(self, lots: Iterable[Lot], farm: Farm):
        self._zone = farm.zone
        self._lots = {lot.pk: lot for lot in lots}
        self._links = self._load_links()
        self._entries = self._load_entries()
        rooms = list(Room.objects.all())
        self._room_c = {room.pk: float(room.target_c) for room in rooms}
        self._default_c = float(rooms[0].target_c) if rooms else DEFAULT_ROOM_C
        self._used: dict[tuple[str, datetime], float] = {}

    def life(self, lot: Lot, at: datetime) -> Life:
        """Return a crate's life at a moment."""
        reference = lot.crop.reference
        used = self.used(lot.pk, at)
        here_c = self._room_c[lot.position.room_id] if lot.position_id else self._default_c
        full = life_days(reference, here_c)
        longer = life_days(reference.generous(), here_c)
        days_left = (1 - used) * full
        harvested_at, time_given = self._harvested(lot.pk)
        return Life(
            used=used,
            days_left=days_left,
            generous_days_left=(1 - used * full / longer) * longer,
            keep_until=at + days_left * _DAY,
            harvested_at=harvested_at,
            time_given=time_given,
            assumed_c=here_c,
        )

    def used(self, code: str, until: datetime) -> float:
        """Return the fraction used by a moment: the most of any parent, and what came after."""
        key = (code, until)
        if key not in self._used:
            inherited = max(
                (self.used(link.parent_id, link.at) for link in self._links.get(code, ())),
                default=0.0,
            )
            reference = self._lots[code].crop.reference
            self._used[key] = inherited + life_used(reference, self._periods(code, until))
        return self._used[key]

    def _periods(self, code: str, until: datetime):
        """Yield (days, °C) from harvest, or from leaving the parents, up to a moment."""
        entries = [entry for entry in self._entries[code] if entry.at <= until]
        start = self._start(code)
        first = entries[0].at if entries else until
        if self._links.get(code):
            yield from self._out(start, first, entries[0].warm_hours if entries else None)
        else:
            yield (max(first - start, timedelta(0)) / _DAY, self._default_c)
        for entry, following in pairwise([*entries, None]):
            end = following.at if following else until
            if entry.state == Lot.State.OUT:
                yield from self._out(entry.at, end, following.warm_hours if following else None)
            elif entry.state in (Lot.State.IN_PLACE, Lot.State.TO_PUT_AWAY):
                room_c = self._room_c.get(entry.room_id, self._default_c)
                yield ((end - entry.at) / _DAY, room_c)

    def _out(self, start: datetime, end: datetime, warm_hours: Decimal | None):
        away = max(end - start, timedelta(0))
        warm = away if warm_hours is None else min(away, timedelta(hours=float(warm_hours)))
        yield (warm / _DAY, WARM_C)
        yield ((away - warm) / _DAY, self._default_c)

    def _start(self, code: str) -> datetime:
        links = self._links.get(code)
        return min(link.at for link in links) if links else self._harvested(code)[0]

    def _harvested(self, code: str) -> tuple[datetime, bool]:
        """Return when a crate's oldest content was cut or packed, and whether that was given."""
        links = self._links.get(code)
        if links:
            return min(self._harvested(link.parent_id) for link in links)
        intake = self._lots[code].intake
        if intake.cut_at:
            return intake.cut_at, True
        if intake.packed_on:
            return datetime.combine(intake.packed_on, time(0), self._zone), True
        ago = timedelta(0) if intake.is_bought else NOT_GIVEN_CUT
        return intake.arrived_at - ago, False

    def _load_links(self) -> dict[str, list[Parentage]]:
        links: dict[str, list[Parentage]] = defaultdict(list)
        fresh = set(self._lots)
        while fresh:
            found = list(Parentage.objects.filter(child_id__in=_some(fresh)))
            found = [link for link in found if link.child_id in fresh]
            for link in found:
                links[link.child_id].append(link)
            fresh = {link.parent_id for link in found} - set(self._lots)
            parents = Lot.objects.filter(pk__in=fresh).select_related("crop", "intake__source")
            self._lots |= {lot.pk: lot for lot in parents}
        return links

    def _load_entries(self) -> dict[str, list[_Entry]]:
        entries: dict[str, list[_Entry]] = defaultdict(list)
        rows = (
            Movement.objects.filter(lot_id__in=_some(self._lots), undone_by__isnull=True)
            .exclude(state="")
            .order_by("occurred_at", "pk")
            .values_list(
                "lot_id", "kind", "occurred_at", "state", "position__room_id", "warm_hours"
            )
        )
        for lot_id, *facts in rows:
            if lot_id in self._lots:
                entries[lot_id].append(_Entry(*facts))
        return entries


def _some(codes):
    """Return codes for an IN clause, or all lots where a database would refuse so many."""
    return list(codes) if len(codes) <= 500 else Lot.objects.values("pk")
