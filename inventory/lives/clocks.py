"""The clocks of a crate: what it used of its keeping life, the cold's harm, frost. Pure.

Temperatures in order of trust: a probe in the produce, the room's log, an assumption.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta, tzinfo
from functools import cache
from typing import NamedTuple

from inventory.keeping import AgingCurve, rate
from inventory.keeping import cooling as field_heat
from inventory.keeping.chilling import freezing_c, must_be_looked_at, published_injury
from inventory.keeping.cooling import Cooling
from inventory.keeping.log import DAY_S, HOUR_S
from inventory.ledger.fold import State
from inventory.lives.rooms import LoggedRoom, recent_mean, recent_speed
from inventory.lives.stays import (
    PARTS,
    Link,
    Record,
    Records,
    Stay,
    before_c,
    last_room,
    oldest_content,
    stays,
)

ASSUMED_AFTER_H = 1.0  # hours at an assumed freezing point before somebody must look


class Life(NamedTuple):
    """How far a crate is through its keeping life, and how long it lasts where it stands.

    used: fraction; parts: the same split by where it went. days_left, generous_days_left: with
    the cautious and the long end of the published range. [d] harvested_at: cut or packed, as
    given or as assumed; arrived_at, bought: how the oldest of its content came. here_c: what is
    forecast with, measured or assumed. chill_used: fraction of the days to chilling injury, None
    without a figure; chill_days: days spent too cold, at chill_c on average; chill_seen_days: how
    many of them when somebody last looked. frozen_h: hours at or below freezing since
    somebody last looked; frozen_ever: whether there were any at all; freezing_assumed: at or
    below an assumed freezing point, since none is published. said_gone: whoever looked last
    found it no longer good. speed: days at the best temperature that a day here uses; hurts: the
    share of the days to injury that it does.
    """

    used: float
    parts: dict[str, float]
    days_left: float
    generous_days_left: float
    keep_until: datetime
    harvested_at: datetime
    arrived_at: datetime
    time_given: bool
    bought: bool
    here_c: float
    measured: bool
    chill_used: float | None
    chill_days: float
    chill_c: float | None
    chill_seen_days: float | None
    frozen_h: float
    frozen_ever: bool
    freezing_assumed: bool
    said_gone: bool
    speed: float = 1.0
    hurts: float = 0.0

    @property
    def flag(self) -> str:
        """Why somebody must look before it is sold: "froze", "said-gone", "chilled" or ""."""
        if self.frozen_h > (ASSUMED_AFTER_H if self.freezing_assumed else 0):
            return "froze"
        if self.said_gone:
            return "said-gone"
        return "chilled" if self._is_chilled else ""

    @property
    def _is_chilled(self) -> bool:
        if self.chill_used is not None:
            return self.chill_used >= 1
        return must_be_looked_at(self.chill_days, self.chill_seen_days)


class Here(NamedTuple):
    """How a crop lives on in a room. celsius: measured, or assumed. speed, hurts: see Life."""

    celsius: float
    measured: bool
    speed: float
    hurts: float

    def until_injury(self, injury: float) -> float:
        """Return the days until injury is to be expected; infinite if never. [d]

        What is hurt already has none left, however warm it stands now.
        """
        if injury >= 1:
            return 0.0
        return (1 - injury) / self.hurts if self.hurts > 0 else float("inf")


_NO_DAYS = dict.fromkeys(PARTS, 0.0)


@dataclass
class Sums:
    """What a crate has used by a moment, in days at rate 1 and by clock. [d]

    passed: the days that its stays took, by part.
    """

    parts: dict[str, float] = field(default_factory=_NO_DAYS.copy)
    injury: float = 0.0
    exposure: float = 0.0
    cold_degrees: float = 0.0
    passed: dict[str, float] = field(default_factory=_NO_DAYS.copy)

    @property
    def aged(self) -> float:
        return sum(self.parts.values())


class Clocks:
    """The clocks of many crates that stood in the same rooms.

    records: of the crates and of all they were filled from. rooms: every room, in the farm's
    order. probes: (time, °C) inside the produce by intake, in order of time. past: the rooms in
    earlier spans, for crates that left before `rooms` begin. unplaced: the room of crates that are
    not put away, None for the first. What was worked out once is kept as long as this is.
    """

    def __init__(
        self,
        records: Records,
        rooms: Mapping[int, LoggedRoom],
        probes: Mapping[int, Sequence[tuple[float, float]]],
        zone: tzinfo,
        past: Sequence[Mapping[int, LoggedRoom]] = (),
        unplaced: int | None = None,
    ):
        self.records = records
        self._rooms = rooms
        self._past = past
        self._probes = probes
        self._zone = zone
        self._first_room = unplaced or next(iter(rooms), None)
        logs = [room for each in (rooms, *past) for room in each.values()]
        self._coldest_c = min((room.coldest_c for room in logs), default=99.0)
        self._references = {record.crop_id: record.reference for record in records.values()}
        self._life = cache(self._find_life)
        self._sums_at = cache(self._add_up)
        self._speed = cache(self._find_speed)
        self._here = cache(self._find_here)
        self._upto = cache(AgingCurve.upto)  # many crates came, went or are asked for at once
        self._cools = cache(self._find_cooling)
        self._heat = cache(self._find_heat)

    def life(self, code: str, at: datetime) -> Life:
        """Return a crate's life at a moment; crates alike share one."""
        return self._life(self.records[code], at)

    def _find_life(self, record: Record, at: datetime) -> Life:
        now = at.timestamp()
        reference = self._references[record.crop_id]
        then = record.until(now)
        sums = self._sums_at(record, then)
        here = self._here(record.crop_id, self._room_of(record), now)
        looked = self._sums_looked_at(record)
        injury = _injury(sums, looked)
        until_injury = here.until_injury(injury)
        base, aged = reference.base_days, sums.aged
        days_left = min((base - aged) / here.speed, until_injury)
        longer_left = (reference.generous_days - aged) / here.speed
        oldest = oldest_content(self.records, record)
        frozen_h, frozen_ever = self._frost(record, then)
        return Life(
            used=aged / base,
            parts={part: days / base for part, days in sums.parts.items()},
            days_left=days_left,
            generous_days_left=min(longer_left, until_injury),
            keep_until=at + timedelta(days=days_left),
            harvested_at=datetime.fromtimestamp(oldest.harvested_at, self._zone),
            arrived_at=datetime.fromtimestamp(oldest.arrived_at, self._zone),
            time_given=oldest.time_given,
            bought=oldest.bought,
            here_c=here.celsius,
            measured=here.measured,
            chill_used=injury if published_injury(reference) else None,
            chill_days=sums.exposure,
            chill_c=sums.cold_degrees / sums.exposure if sums.exposure else None,
            chill_seen_days=looked.exposure if looked else None,
            frozen_h=frozen_h,
            frozen_ever=frozen_ever,
            freezing_assumed=reference.freezing_c is None,
            said_gone=self._said_gone(record),
            speed=here.speed,
            hurts=here.hurts,
        )

    def _sums_looked_at(self, record: Record) -> Sums | None:
        """Return what was used when somebody last looked and found it good, None if nobody has.

        A look at a crate holds for what was filled from it later.
        """
        if record.looked_at:
            return self._sums_at(record, record.looked_at)
        if not record.links:
            return None
        coldest = max(record.links, key=lambda link: self._sums_left(link).exposure)
        parent = self.records[coldest.parent]
        return self._sums_looked_at(parent) if parent.looked_at <= coldest.at else None

    def _said_gone(self, record: Record) -> bool:
        """Whether who looked last at a crate, or at one it was filled from, found it gone."""
        if record.looked_at or record.gone_at:
            return record.gone_at > record.looked_at
        if not record.links:
            return False
        parents = ((self.records[link.parent], link.at) for link in record.links)
        return any(parent.gone_at <= at and self._said_gone(parent) for parent, at in parents)

    def room_of(self, code: str) -> int | None:
        """Return the room a crate is in, was in last, or counts as standing in."""
        return self._room_of(self.records[code])

    def _room_of(self, record: Record) -> int | None:
        return last_room(self.records, record) or self._first_room

    def aged_days(self, code: str, at: datetime) -> float:
        """Return a crate's age in days at its crop's best temperature. [d]"""
        return self._sums_at(self.records[code], at.timestamp()).aged

    def spent(self, code: str, at: datetime) -> tuple[dict[str, float], dict[str, float]]:
        """Return the days a crate aged, at its crop's best temperature, and those by the clock.

        Both by part; of a crate filled from others as the oldest of them. [d]
        """
        sums = self._sums_at(self.records[code], at.timestamp())
        return sums.parts, sums.passed

    def before_cold(self, code: str, at: datetime) -> float:
        """Return the days a crate aged in the field and by its field heat, up to a moment. [d]"""
        record = self.records[code]
        until = record.until(at.timestamp())
        field_days = (
            self._passed(record.crop_id, stay, "aging")
            for stay in self._stays(record, until)
            if stay.part == "field"
        )
        return sum(field_days) + self._field_heat(record, until)

    def time_given(self, code: str) -> bool:
        """Whether anybody said when the oldest of a crate's content was cut or packed."""
        return oldest_content(self.records, self.records[code]).time_given

    def room_mean(self, code: str, at: datetime) -> tuple[float, float] | None:
        """Return the mean of the rooms a crate stood in, and the share of it measured."""
        record = self.records[code]
        found = [stay for stay in self._stays(record, record.until(at.timestamp())) if stay.room_id]
        total = sum(stay.end - stay.start for stay in found)
        if total <= 0:
            return None
        mean = share = 0.0
        for stay in found:
            weight = (stay.end - stay.start) / total
            room = self._room_at(stay.room_id or 0, stay.start)
            mean += weight * room.mean_c(stay.start, stay.end)
            share += weight * room.log.measured_share(stay.start, stay.end)
        return mean, share

    def cooling(self, code: str, start: float | None = None) -> Cooling:
        """Return how the harvest of a crate cools: by its probes, else as assumed."""
        record = self.records[code]
        start = record.steps[0].at if start is None else start
        return self._cools(*_how_it_cools(record, self._first_room), start)

    def _stays(self, record: Record, until: float) -> list[Stay]:
        return stays(self.records, record, until, self._first_room)

    def _room_at(self, room_id: int, start: float) -> LoggedRoom:
        """Return the log of a room that reaches back to a moment, the one kept if it does."""
        kept = self._rooms[room_id]
        if kept.from_s <= start or not self._past:
            return kept
        reaching = (each[room_id] for each in self._past if each[room_id].from_s <= start)
        return max(reaching, key=lambda room: room.from_s, default=kept)

    def _find_speed(self, crop_id: int, celsius: float) -> float:
        return rate(self._references[crop_id], celsius)

    def _find_here(self, crop_id: int, room_id: int, now: float) -> Here:
        room, reference = self._rooms[room_id], self._references[crop_id]
        speeds = (recent_speed(room, reference, clock, now) for clock in ("aging", "injury"))
        return Here(*recent_mean(room, now), *speeds)

    def _add_up(self, record: Record, until: float) -> Sums:
        """Return what a crate has used: the most of any parent, and what came after."""
        sums = self._inherited(record)
        reference = self._references[record.crop_id]
        for stay in self._stays(record, until):
            sums.parts[stay.part] += self._passed(record.crop_id, stay, "aging")
            sums.passed[stay.part] += (stay.end - stay.start) / DAY_S
            if reference.chilling_c is not None:
                sums.injury += self._passed(record.crop_id, stay, "injury")
                sums.exposure += self._passed(record.crop_id, stay, "exposure")
                sums.cold_degrees += self._passed(record.crop_id, stay, "cold degrees")
        sums.parts["cooling"] += self._field_heat(record, until)
        return sums

    def _inherited(self, record: Record) -> Sums:
        if not record.links:
            return Sums()
        parents = [self._sums_left(link) for link in record.links]
        oldest = max(parents, key=lambda sums: sums.aged)
        coldest = max(parents, key=lambda sums: sums.exposure)
        injury = max(sums.injury for sums in parents)
        parts, passed = dict(oldest.parts), dict(oldest.passed)
        return Sums(parts, injury, coldest.exposure, coldest.cold_degrees, passed)

    def _sums_left(self, link: Link) -> Sums:
        """Return what a crate had used when another was filled from it."""
        return self._sums_at(self.records[link.parent], link.at)

    def _passed(self, crop_id: int, stay: Stay, clock: str) -> float:
        """Return the days on one of a crop's clocks that pass in a stay. [d]"""
        if stay.end <= stay.start:
            return 0.0
        if stay.room_id is not None:
            room = self._room_at(stay.room_id, stay.start)
            curve = room.curve(self._references[crop_id], clock)
            return self._upto(curve, stay.end) - self._upto(curve, stay.start)
        if clock != "aging":
            return 0.0
        return (stay.end - stay.start) / DAY_S * self._speed(crop_id, stay.celsius)

    def _field_heat(self, record: Record, until: float) -> float:
        """Return what field heat costs beyond the room's own warmth. [d]

        A crate filled from others goes on cooling as the warmest of them would have.
        """
        if not record.links:
            out = (step.at for step in record.steps if step.state == State.OUT)
            return self._cooling_cost(record, min(next(out, until), until))
        return max(self._cost_after_leaving(link.parent, link.at, until) for link in record.links)

    def _cost_after_leaving(self, code: str, left_at: float, until: float) -> float:
        """Return what the heat still in a crate costs after some of it left. [d]"""
        record = self.records[code]
        if record.links:
            return max(
                self._cost_after_leaving(link.parent, left_at, until) for link in record.links
            )
        return self._cooling_cost(record, until) - self._cooling_cost(record, left_at)

    def _cooling_cost(self, record: Record, until: float) -> float:
        """Return what the heat of a harvest costs up to a moment, in a room all along. [d]"""
        if not record.steps or record.came is None or record.came.came_cold:
            return 0.0
        start = record.steps[0].at
        if until <= start:
            return 0.0
        return self._heat(record.crop_id, _how_it_cools(record, self._first_room), start, until)

    def _find_heat(self, crop_id: int, how: tuple, start: float, until: float) -> float:
        cooled = self._cools(*how, start)
        longest_h = field_heat.DONE_AFTER_HALVES * cooled.half_cooling_h
        hours = min((until - start) / HOUR_S, longest_h)
        # Rounded, so that harvests alike share the sum.
        return field_heat.extra_aging_days(
            self._references[crop_id],
            round(cooled.start_c, 1),
            round(cooled.air_c, 1),
            round(cooled.half_cooling_h, 2),
            round(hours, 2),
        )

    def _find_cooling(
        self, intake_id: int, pulp_c: float | None, assumed_c: float, usual_h: float | None,
        room_id: int, start: float,
    ) -> Cooling:  # fmt: skip
        return field_heat.cooling_by(
            start,
            self._room_at(room_id, start).mean_c(start, start + DAY_S),
            self._probes.get(intake_id, ()),
            pulp_c=pulp_c,
            assumed_c=assumed_c,
            usual_h=usual_h or field_heat.DEFAULT_HALF_COOLING_H,
        )

    def _frost(self, record: Record, until: float) -> tuple[float, bool]:
        """Return the hours of frost since somebody last looked, and whether there were any ever."""
        if self._coldest_c > freezing_c(self._references[record.crop_id]):
            return 0.0, False
        ever_h = self._frozen_h(record, until, looked=False)
        return self._frozen_h(record, until), ever_h > 0

    def _frozen_h(self, record: Record, until: float, looked: bool = True) -> float:
        """Return the hours at or below freezing, the parents' too, up to a moment. [h]

        looked: count only from when somebody last looked; a look at a crate speaks for what
        its parents went through as well.
        """
        since = record.looked_at if looked else 0.0
        days = sum(
            self._passed(record.crop_id, _from(stay, since), "frozen")
            for stay in self._stays(record, until)
            if stay.room_id
        )
        if since:
            return days * 24
        inherited = (
            self._frozen_h(self.records[link.parent], link.at, looked) for link in record.links
        )
        return days * 24 + max(inherited, default=0.0)


def _injury(sums: Sums, looked: Sums | None) -> float:
    """Return the share of the days to injury used.

    A look that found a crate good when all of them were used begins them anew.
    """
    return sums.injury - looked.injury if looked and looked.injury >= 1 else sums.injury


def _from(stay: Stay, since: float) -> Stay:
    return Stay(stay.part, max(stay.start, since), stay.end, stay.room_id)


def _how_it_cools(record: Record, first_room: int | None) -> tuple:
    """Return what the cooling of a crate depends on; crates alike share one answer."""
    came = record.came
    assert came is not None, "a crate of several intakes cools as its parents do"
    pulp_c = came.pulp_c
    room_id = next((step.room_id for step in record.steps if step.room_id), first_room)
    return came.id, pulp_c, before_c(record), record.half_cooling_h, room_id
