"""Where crates have been, how warm it was there, and what that used of their keeping life.

Temperatures in order of trust: a probe in the produce, the room's log, an assumption. What was
assumed is said: produce at 20 °C in the field and on the bench, bought cases at their best
temperature before they came, a stall at 25 °C for as long as was said.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from decimal import Decimal
from itertools import pairwise

from inventory.keeping import Reference, rate
from inventory.keeping import cooling as field_heat
from inventory.keeping.chilling import injury_days, is_too_cold, published_injury
from inventory.keeping.cooling import Cooling
from inventory.keeping.log import DAY_S, HOUR_S
from inventory.models import Farm, Intake, Lot, Movement, Parentage, ProbeReading
from inventory.queries.logs import CachedRoom, room_logs

FIELD_C = 20.0
STALL_C = 25.0  # also a van, when nobody measured
NOT_GIVEN_CUT = timedelta(hours=2)  # the longest of the quick answers
RECENT_S = 3 * DAY_S
NOTHING_YET_S = 4e9  # a moment no log reaches
PARTS = ("field", "cooling", "room", "out")


@dataclass(frozen=True)
class Life:
    """How far a crate is through its keeping life, and how long it lasts where it stands.

    used: fraction; parts: the same split by where it went. days_left, generous_days_left: with
    the cautious and the long end of the published range. [d] here_c: what is forecast with,
    measured or assumed. chill_used: fraction of the days to chilling injury, None without a
    figure; chill_days: days spent too cold. frozen_h: hours at or below freezing since
    somebody last looked; frozen_ever: whether there were any at all.
    """

    used: float
    parts: dict[str, float]
    days_left: float
    generous_days_left: float
    keep_until: datetime
    harvested_at: datetime
    time_given: bool
    here_c: float
    measured: bool
    chill_used: float | None
    chill_days: float
    frozen_h: float
    frozen_ever: bool

    @property
    def flag(self) -> str:
        """Why somebody must look before it is sold: "froze", "chilled" or ""."""
        if self.frozen_h > 0:
            return "froze"
        return "chilled" if self.chill_used is not None and self.chill_used >= 1 else ""


@dataclass(frozen=True)
class Stay:
    """A span of time somewhere: in a room by its log, elsewhere at one temperature."""

    part: str
    start: float
    end: float
    room_id: int | None = None
    celsius: float = 0.0


@dataclass(frozen=True)
class _Entry:
    kind: str
    at: float
    state: str
    room_id: int | None
    warm_hours: Decimal | None


@dataclass
class _Sums:
    """What a crate has used by a moment, in days at rate 1 and by clock."""

    parts: dict[str, float] = field(default_factory=lambda: dict.fromkeys(PARTS, 0.0))
    injury: float = 0.0
    exposure: float = 0.0

    @property
    def aged(self) -> float:
        return sum(self.parts.values())


class Histories:
    """The lives of many crates, read with a fixed number of queries."""

    def __init__(self, lots: Iterable[Lot], farm: Farm):
        self._zone = farm.zone
        self._lots = {lot.pk: lot for lot in lots}
        self._links = self._load_links()
        self._entries = self._load_entries()
        self._looked_at = self._load_looks()
        self._probes = self._load_probes()
        self._rooms: dict[int, CachedRoom] = room_logs(self._oldest())
        self._first_room = next(iter(self._rooms), None)
        self._sums: dict[tuple[str, float], _Sums] = {}
        self._stays: dict[tuple[str, float], list[Stay]] = {}
        self._references: dict[int, Reference] = {}
        self._coolings: dict[tuple, Cooling] = {}
        self._heats: dict[tuple[int, Cooling, float], float] = {}
        self._speeds: dict[tuple[str, float], float] = {}
        self._coldest_c = min((room.coldest_c for room in self._rooms.values()), default=99.0)
        self._forecasts: dict[tuple[int, float], tuple[float, bool]] = {}

    def life(self, lot: Lot, at: datetime) -> Life:
        """Return a crate's life at a moment."""
        now = at.timestamp()
        reference = self._reference(lot)
        sums = self._sums_at(lot.pk, now)
        here_c, measured = self._forecast(lot, now)
        base = reference.base_days
        used = sums.aged / base
        speed = self._speed(reference, here_c)
        until_injury = self._until_injury(reference, sums, here_c)
        days_left = min((base - sums.aged) / speed, until_injury)
        longer_left = (reference.generous_days - sums.aged) / speed
        harvested_at, time_given = self._harvested(lot.pk)
        return Life(
            used=used,
            parts={part: days / base for part, days in sums.parts.items()},
            days_left=days_left,
            generous_days_left=min(longer_left, until_injury),
            keep_until=at + timedelta(days=days_left),
            harvested_at=datetime.fromtimestamp(harvested_at, self._zone),
            time_given=time_given,
            here_c=here_c,
            measured=measured,
            chill_used=sums.injury if published_injury(reference) else None,
            chill_days=sums.exposure,
            frozen_h=self._frozen_h(lot.pk, now),
            frozen_ever=self._frozen_h(lot.pk, now, looked=False) > 0,
        )

    def stays(self, code: str, until: float) -> list[Stay]:
        """Return where a crate was from harvest, or from leaving its parents, up to a moment."""
        key = (code, until)
        if key not in self._stays:
            # What was done twice at one moment leaves an empty span between.
            self._stays[key] = [stay for stay in self._spans(code, until) if stay.end > stay.start]
        return self._stays[key]

    def _reference(self, lot: Lot) -> Reference:
        """Return a crate's figures; one object a crop, which the curves and sums share."""
        if lot.crop_id not in self._references:
            self._references[lot.crop_id] = lot.crop.reference
        return self._references[lot.crop_id]

    def _speed(self, reference: Reference, celsius: float) -> float:
        key = (reference.key, celsius)
        if key not in self._speeds:
            self._speeds[key] = rate(reference, celsius)
        return self._speeds[key]

    def _spans(self, code: str, until: float) -> Iterator[Stay]:
        entries = [entry for entry in self._entries[code] if entry.at <= until]
        start = self._start(code)
        first = entries[0].at if entries else until
        if self._links.get(code):
            yield from self._away(start, first, entries[0].warm_hours if entries else None)
        else:
            yield Stay("field", min(start, first), first, celsius=self._before_c(code))
        for entry, following in pairwise([*entries, None]):
            end = following.at if following else until
            if entry.state == Lot.State.OUT:
                yield from self._away(entry.at, end, following.warm_hours if following else None)
            elif entry.state in (Lot.State.IN_PLACE, Lot.State.TO_PUT_AWAY):
                yield Stay("room", entry.at, end, entry.room_id or self._first_room)

    def _away(self, start: float, end: float, warm_hours: Decimal | None) -> Iterator[Stay]:
        """A stall or a van: warm for as long as was said, else all the time; then as at home."""
        away = max(end - start, 0.0)
        warm = away if warm_hours is None else min(away, float(warm_hours) * HOUR_S)
        yield Stay("out", start, start + warm, celsius=STALL_C)
        yield Stay("out", start + warm, start + away, self._first_room)

    def _before_c(self, code: str) -> float:
        """Return how warm a crate's content was before it came: probed, or assumed. [°C]"""
        intake = self._lots[code].intake
        if intake.is_bought:
            return self._lots[code].crop.reference.temp_high_c
        return FIELD_C if intake.pulp_c is None else float(intake.pulp_c)

    def _sums_at(self, code: str, until: float) -> _Sums:
        """Return what a crate has used: the most of any parent, and what came after."""
        key = (code, until)
        if key in self._sums:
            return self._sums[key]
        sums = self._inherited(code)
        reference = self._reference(self._lots[code])
        for stay in self.stays(code, until):
            sums.parts[stay.part] += self._passed(reference, stay, "aging")
            if reference.chilling_c is not None:
                sums.injury += self._passed(reference, stay, "injury")
                sums.exposure += self._passed(reference, stay, "exposure")
        sums.parts["cooling"] += self._field_heat(code, until)
        self._sums[key] = sums
        return sums

    def _inherited(self, code: str) -> _Sums:
        links = self._links.get(code, ())
        parents = [self._sums_at(link.parent_id, link.at.timestamp()) for link in links]
        if not parents:
            return _Sums()
        oldest = max(parents, key=lambda sums: sums.aged)
        return _Sums(
            dict(oldest.parts),
            max(sums.injury for sums in parents),
            max(sums.exposure for sums in parents),
        )

    def _passed(self, reference: Reference, stay: Stay, clock: str) -> float:
        """Return the days on one of a crop's clocks that pass in a stay. [d]"""
        if stay.end <= stay.start:
            return 0.0
        if stay.room_id is not None:
            return self._rooms[stay.room_id].curve(reference, clock).between(stay.start, stay.end)
        if clock != "aging":
            return 0.0
        return (stay.end - stay.start) / DAY_S * self._speed(reference, stay.celsius)

    def _field_heat(self, code: str, until: float) -> float:
        """Return what field heat costs beyond the room's own warmth. [d]

        A crate filled from others goes on cooling as the warmest of them would have.
        """
        links = self._links.get(code)
        if not links:
            entries = self._entries[code]
            out = next((entry.at for entry in entries if entry.state == Lot.State.OUT), until)
            return self._cooling(code, min(out, until))
        return max(
            self._cooling_of_parent(link.parent_id, link.at.timestamp(), until) for link in links
        )

    def _cooling_of_parent(self, code: str, left_at: float, until: float) -> float:
        """Return what the heat still in a crate costs after some of it left. [d]"""
        links = self._links.get(code)
        if links:
            return max(self._cooling_of_parent(link.parent_id, left_at, until) for link in links)
        return self._cooling(code, until) - self._cooling(code, left_at)

    def _cooling(self, code: str, until: float) -> float:
        """Return what the heat of a harvest costs up to a moment, in a room all along. [d]"""
        lot = self._lots[code]
        intake = lot.intake
        entries = self._entries[code]
        if not entries or intake.came_cold:
            return 0.0
        start = entries[0].at
        hours = (until - start) / HOUR_S
        if hours <= 0:
            return 0.0
        cooled = self.cooling(code, start)
        key = (lot.crop_id, cooled, until)
        if key not in self._heats:
            self._heats[key] = self._heat(lot, cooled, hours)
        return self._heats[key]

    def _heat(self, lot: Lot, cooled: Cooling, hours: float) -> float:
        # Rounded, so that harvests alike share the sum.
        return field_heat.extra_aging_days(
            self._reference(lot),
            round(cooled.start_c, 1),
            round(cooled.air_c, 1),
            round(cooled.half_cooling_h, 2),
            round(min(hours, field_heat.DONE_AFTER_HALVES * cooled.half_cooling_h), 2),
        )

    def cooling(self, code: str, start: float | None = None) -> Cooling:
        """Return how the harvest of a crate cools: by its probes, else as assumed."""
        lot = self._lots[code]
        entries = self._entries[code]
        start = start if start is not None else entries[0].at
        room_id = next((entry.room_id for entry in entries if entry.room_id), self._first_room)
        key = (lot.intake_id, lot.container_id, room_id, start)
        if key not in self._coolings:
            self._coolings[key] = self._cools(code, room_id, start)
        return self._coolings[key]

    def _cools(self, code: str, room_id: int, start: float) -> Cooling:
        lot = self._lots[code]
        air_c = self._rooms[room_id].mean_c(start, start + DAY_S)
        pulp_c = lot.intake.pulp_c
        start_c = self._before_c(code) if pulp_c is None else float(pulp_c)
        probes = self._probes.get(lot.intake_id, ())
        shown = field_heat.shown_half_cooling_h([(start, start_c), *probes], air_c)
        usual = lot.container.half_cooling_h if lot.container else None
        assumed = float(usual) if usual else field_heat.DEFAULT_HALF_COOLING_H
        return Cooling(
            start=start,
            start_c=start_c,
            air_c=air_c,
            half_cooling_h=shown or assumed,
            measured=shown is not None,
            probed=pulp_c is not None,
        )

    def _forecast(self, lot: Lot, now: float) -> tuple[float, bool]:
        """Return the temperature to count on with, and whether it was measured."""
        room_id = lot.position.room_id if lot.position_id else self._first_room
        key = (room_id, now)
        if key not in self._forecasts:
            self._forecasts[key] = recent_mean(self._rooms[room_id], now)
        return self._forecasts[key]

    def _until_injury(self, reference: Reference, sums: _Sums, here_c: float) -> float:
        """Return the days until chilling injury is to be expected here; infinite if never."""
        days = injury_days(reference, here_c)
        if days is None or not is_too_cold(reference, here_c):
            return float("inf")
        return (1 - sums.injury) * days

    def aged_days(self, code: str, at: datetime) -> float:
        """Return a crate's age in days at its crop's best temperature. [d]"""
        return self._sums_at(code, at.timestamp()).aged

    def room_mean(self, code: str, at: datetime) -> tuple[float, float] | None:
        """Return the mean of the rooms a crate stood in, and the share of it measured."""
        stays = [stay for stay in self.stays(code, at.timestamp()) if stay.room_id]
        total = sum(stay.end - stay.start for stay in stays)
        if total <= 0:
            return None
        mean = share = 0.0
        for stay in stays:
            weight = (stay.end - stay.start) / total
            room = self._rooms[stay.room_id]
            mean += weight * room.mean_c(stay.start, stay.end)
            share += weight * room.log.measured_share(stay.start, stay.end)
        return mean, share

    def _frozen_h(self, code: str, until: float, looked: bool = True) -> float:
        """Return the hours at or below freezing, the parents' too, up to a moment. [h]

        looked: count only from when somebody last looked; a look at a crate speaks for what
        its parents went through as well.
        """
        lot = self._lots[code]
        reference = self._reference(lot)
        if reference.freezing_c is None or self._coldest_c > reference.freezing_c:
            return 0.0
        since = self._looked_at.get(code, 0.0) if looked else 0.0
        days = sum(
            self._passed(
                reference,
                Stay(stay.part, max(stay.start, since), stay.end, stay.room_id),
                "frozen",
            )
            for stay in self.stays(code, until)
            if stay.room_id
        )
        inherited = 0.0
        if not since:
            inherited = max(
                (
                    self._frozen_h(link.parent_id, link.at.timestamp(), looked)
                    for link in self._links.get(code, ())
                ),
                default=0.0,
            )
        return days * 24 + inherited

    def _start(self, code: str) -> float:
        links = self._links.get(code)
        return min(link.at for link in links).timestamp() if links else self._harvested(code)[0]

    def _harvested(self, code: str) -> tuple[float, bool]:
        """Return when a crate's oldest content was cut or packed, and whether that was given."""
        links = self._links.get(code)
        if links:
            return min(self._harvested(link.parent_id) for link in links)
        intake = self._lots[code].intake
        if intake.cut_at:
            return intake.cut_at.timestamp(), True
        if intake.packed_on:
            return datetime.combine(intake.packed_on, time(0), self._zone).timestamp(), True
        ago = timedelta(0) if intake.is_bought else NOT_GIVEN_CUT
        return (intake.arrived_at - ago).timestamp(), False

    def _oldest(self) -> float:
        """Return when the first of the crates came into a room; logs are read from there."""
        firsts = [entries[0].at for entries in self._entries.values() if entries]
        return min(firsts, default=NOTHING_YET_S)

    def _load_links(self) -> dict[str, list[Parentage]]:
        links: dict[str, list[Parentage]] = defaultdict(list)
        fresh = set(self._lots)
        while fresh:
            found = list(Parentage.objects.filter(child_id__in=_some(fresh)))
            found = [link for link in found if link.child_id in fresh]
            for link in found:
                links[link.child_id].append(link)
            fresh = {link.parent_id for link in found} - set(self._lots)
            parents = Lot.objects.filter(pk__in=fresh).select_related(
                "crop", "intake__source", "container"
            )
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
        for lot_id, kind, at, *facts in rows:
            if lot_id in self._lots:
                entries[lot_id].append(_Entry(kind, at.timestamp(), *facts))
        return entries

    def _load_looks(self) -> dict[str, float]:
        rows = (
            Movement.objects.filter(
                lot_id__in=_some(self._lots),
                kind=Movement.Kind.INSPECTED,
                undone_by__isnull=True,
            )
            .order_by("occurred_at")
            .values_list("lot_id", "occurred_at")
        )
        return {lot_id: at.timestamp() for lot_id, at in rows}

    def _load_probes(self) -> dict[int, list[tuple[float, float]]]:
        probes: dict[int, list[tuple[float, float]]] = defaultdict(list)
        since = datetime.fromtimestamp(self._oldest(), self._zone)
        for probe in ProbeReading.objects.filter(at__gte=since):
            probes[probe.intake_id].append((probe.at.timestamp(), float(probe.temperature_c)))
        return probes


def coolings_of(intakes: Iterable[Intake], farm: Farm) -> dict[int, Cooling]:
    """Return how intakes cool, by their key; without cases that came cold, and after an undo."""
    warm = [intake.pk for intake in intakes if not intake.came_cold]
    lots = (
        Lot.objects.filter(intake__in=warm, parent_links__isnull=True)
        .exclude(state=Lot.State.VOID)
        .select_related("crop", "container", "intake__source", "position")
    )
    firsts = {lot.intake_id: lot for lot in lots.order_by("-pk")}
    histories = Histories(firsts.values(), farm)
    return {key: histories.cooling(lot.pk) for key, lot in firsts.items()}


def cooling_of(intake: Intake, farm: Farm) -> Cooling | None:
    """Return how one intake cools, if it does."""
    return coolings_of([intake], farm).get(intake.pk)


def recent_mean(room: CachedRoom, now: float) -> tuple[float, bool]:
    """Return a room's mean of the last three days if mostly measured, else what counts now."""
    if room.log.measured_share(now - RECENT_S, now) < 0.5:
        return room.log.at_moment(now).celsius, False
    return room.mean_c(now - RECENT_S, now), True


def _some(codes):
    """Return codes for an IN clause, or all lots where a database would refuse so many."""
    return list(codes) if len(codes) <= 500 else Lot.objects.values("pk")
