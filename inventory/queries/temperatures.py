"""A room's temperatures in figures: spells out of range, what they cost, checks, export."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from uuid import UUID

from django.db.models import Min

from inventory.keeping.log import DAY_S, HOUR_S, Excursion, Side, excursions_of, mean_kinetic_c
from inventory.lives.logs import every_room, room_logs, rooms_logged
from inventory.lives.rooms import LoggedRoom, target_at
from inventory.models import (
    Crop,
    Farm,
    LogChange,
    Lot,
    PaperLog,
    Person,
    ProbeReading,
    Reading,
    Room,
    RoomCheck,
)
from inventory.queries.days import day_bounds
from inventory.queries.ledger import safe_cell

LATE_SHOWN = timedelta(days=1)
SPANS = {"day": 1, "week": 7, "month": 30}
SHORTEST_SPELL_S = HOUR_S


@dataclass(frozen=True)
class Spell:
    """A spell out of range in words' figures. cost: (crop, hours of life) it cost, most first."""

    start: datetime
    end: datetime
    side: str
    hours: float
    peak_c: float
    limit_c: float
    cost: list[tuple[Crop, float]]


def read_spells(room: Room, at: datetime, days: int) -> list[Spell]:
    """Return the spells out of range of the last days, latest first, with what they cost.

    Shorter ones than an hour are opened doors, which the drawing marks.
    """
    now = at.timestamp()
    since = now - days * DAY_S
    cached = room_logs(since)[room.pk]
    spells = excursions_of(cached.log, cached.bands(since, now, float(room.band_c)))
    long = [spell for spell in reversed(spells) if spell.end - spell.start >= SHORTEST_SPELL_S]
    stands = _standing_since(room)
    return [_spell(spell, room, cached, stands) for spell in long]


def _standing_since(room: Room) -> list[tuple[Crop, float]]:
    """Return the crops in a room, and since when the first crate of each is in the house."""
    first = Min("movements__occurred_at")
    here = Lot.objects.filter(position__room=room, state=Lot.State.IN_PLACE)
    rows = here.values_list("crop_id").annotate(first).order_by()
    crops = Crop.objects.in_bulk([pk for pk, _ in rows])
    return [(crops[pk], since.timestamp()) for pk, since in rows]


def _spell(
    spell: Excursion, room: Room, cached: LoggedRoom, stands: list[tuple[Crop, float]]
) -> Spell:
    target_c = target_at(cached.targets, spell.start)
    band_c = float(room.band_c)
    cost = []
    for crop, since in stands:
        start = min(max(spell.start, since), spell.end)
        curve = cached.curve(crop.reference, "aging")
        at_target = (spell.end - start) / DAY_S * curve.speed_at(target_c)
        extra = curve.between(start, spell.end) - at_target
        # Told in hours at the room's target, which is how long the crop would have kept more.
        hours = extra / curve.speed_at(target_c) * 24
        if hours >= 0.5:
            cost.append((crop, hours))
    return Spell(
        start=datetime.fromtimestamp(spell.start, UTC),
        end=datetime.fromtimestamp(spell.end, UTC),
        side=spell.side,
        hours=spell.hours,
        peak_c=spell.peak_c,
        limit_c=target_c + (band_c if spell.side == Side.WARM else -band_c),
        cost=sorted(cost, key=lambda pair: -pair[1])[:6],
    )


@dataclass(frozen=True)
class Summary:
    """A span in figures: hours in range and out of it, unknown, mean and mean kinetic [°C].

    Above by the warmest thermometer, below by the coldest: a room with two can be both at once.
    The means are of the warmest.
    """

    in_range_h: float
    above_h: float
    below_h: float
    unknown_h: float
    mean_c: float | None
    kinetic_c: float | None


def summarise(room: Room, at: datetime, days: int) -> Summary:
    now = at.timestamp()
    since = now - days * DAY_S
    cached = room_logs(since)[room.pk]
    hours = {"in": 0.0, "above": 0.0, "below": 0.0, "unknown": 0.0}
    known: list[tuple[float, float]] = []
    for start, end, low_c, high_c in cached.bands(since, now, float(room.band_c)):
        warm, cold = cached.log.steps(start, end), cached.log.steps(start, end, True)
        for (at_s, to_s, warmest_c, measured), (_, _, coldest_c, _) in zip(warm, cold, strict=True):
            length = (to_s - at_s) / HOUR_S
            above, below = warmest_c > high_c, coldest_c < low_c
            if not measured:
                hours["unknown"] += length
                continue
            known.append((to_s - at_s, warmest_c))
            hours["above"] += length * above
            hours["below"] += length * below
            hours["in"] += length * (not above and not below)
    return _summary(hours, known)


def _summary(hours: dict[str, float], known: list[tuple[float, float]]) -> Summary:
    total = sum(length for length, _ in known)
    return Summary(
        in_range_h=hours["in"],
        above_h=hours["above"],
        below_h=hours["below"],
        unknown_h=hours["unknown"],
        mean_c=sum(length * celsius for length, celsius in known) / total if total else None,
        kinetic_c=mean_kinetic_c(known) if total else None,
    )


@dataclass(frozen=True)
class AirNow:
    """A room's air as it is now: the warmest thermometer, the coldest where that is the trouble.

    celsius: None where nothing was measured lately. side: where it is off by more than the room
    allows, None where it is right or unknown.
    """

    room: Room
    celsius: float | None
    side: Side | None


def read_air(at: datetime) -> list[AirNow]:
    """Return how every room is now, in the rooms' order."""
    now = at.timestamp()
    return [_air(room, log, now) for room, log in rooms_logged(now)]


def _air(room: Room, cached: LoggedRoom, now: float) -> AirNow:
    knot = cached.log.at_moment(now)
    if not knot.measured:
        return AirNow(room, None, None)
    target_c, apart_c = target_at(cached.targets, now), float(room.band_c)
    if knot.celsius > target_c + apart_c:
        return AirNow(room, knot.celsius, Side.WARM)
    if knot.coldest_c < target_c - apart_c:
        return AirNow(room, knot.coldest_c, Side.COLD)
    return AirNow(room, knot.celsius, None)


def late_change(at: datetime) -> LogChange | None:
    """Return the last change of a log in the past day that reached far back, if there was one."""
    return (
        LogChange.objects.filter(recorded_at__gte=at - LATE_SHOWN, late=True)
        .select_related("room")
        .order_by("-recorded_at")
        .first()
    )


def rooms_unchecked(farm: Farm, at: datetime) -> list[Room]:
    """Return the rooms nobody has checked on this farm day."""
    today = at.astimezone(farm.zone).date()
    checked = set(RoomCheck.objects.standing().filter(day=today).values_list("room_id", flat=True))
    return [room for key, room in every_room().items() if key not in checked]


def last_readings(room: Room, count: int = 6) -> list[Reading]:
    return list(room.readings.filter(set_aside="").order_by("-at", "-pk")[:count])


def readings_aside(room: Room, at: datetime) -> list[Reading]:
    """Return the readings of the last week that count for nothing, latest first, ten at most."""
    since = at - timedelta(days=SPANS["week"])
    aside = room.readings.exclude(set_aside="").filter(at__gte=since)
    return list(aside.select_related("taken_back_by").order_by("-at")[:10])


def typed_under(entry: UUID) -> Reading | None:
    """Return the reading that the form of this id wrote, if it did."""
    return Reading.objects.filter(entry_id=entry).first()


def may_take_back(
    done: Reading | PaperLog | ProbeReading | RoomCheck, person: Person, farm: Farm, at: datetime
) -> bool:
    """Return whether this person typed it, on this farm day."""
    if done.person_id != person.pk:
        return False
    start, end = day_bounds(farm, at)
    if not isinstance(done, Reading):
        return start <= done.at < end
    written = LogChange.objects.filter(room=done.room_id, since=done.at)
    written_at = written.order_by("pk").values_list("recorded_at", flat=True).first()
    return done.kind == Reading.Kind.TYPED and start <= (written_at or done.at) < end


def month_of_checks(room: Room, farm: Farm, first: date) -> list[tuple[date, RoomCheck | None]]:
    """Return every day of a month with its check; a missed day stays blank."""
    following = _following(first)
    standing = RoomCheck.objects.standing().filter(room=room, day__gte=first, day__lt=following)
    checks = {check.day: check for check in standing.select_related("person")}
    days = [first + timedelta(days=number) for number in range((following - first).days)]
    return [(day, checks.get(day)) for day in days]


def checks_taken_back(room: Room, first: date) -> list[RoomCheck]:
    """Return the checks of a month that were taken back."""
    found = room.checks.filter(day__gte=first, day__lt=_following(first))
    found = found.filter(taken_back_at__isnull=False)
    return list(found.select_related("person", "taken_back_by"))


def _following(first: date) -> date:
    return (first.replace(day=28) + timedelta(days=4)).replace(day=1)


def log_rows(room: Room, farm: Farm, at: datetime) -> Iterator[list[str]]:
    """Yield a room's last month as a table: its summary, its readings, its closed alarms."""
    summary = summarise(room, at, SPANS["month"])
    yield ["room", safe_cell(room.name)]
    for name, value in (
        ("mean C", summary.mean_c), ("mean kinetic temperature C (USP 1079.2)", summary.kinetic_c),
        ("hours in range", summary.in_range_h), ("hours above", summary.above_h),
        ("hours below", summary.below_h), ("hours unknown", summary.unknown_h),
    ):  # fmt: skip
        yield [name, "" if value is None else f"{value:.2f}"]
    yield ["when", "C", "sensor", "how", "who", "set aside"]
    since = at - timedelta(days=SPANS["month"])
    for reading in room.readings.filter(at__gte=since).select_related("person").order_by("at"):
        yield [
            reading.at.astimezone(farm.zone).isoformat(timespec="seconds"),
            f"{reading.temperature_c:.2f}", safe_cell(reading.sensor), reading.kind,
            safe_cell(reading.person.name) if reading.person else "", reading.set_aside,
        ]  # fmt: skip
    yield ["out of range from", "to", "peak C", "closed", "by", "done"]
    for closing in room.alarm_closings.select_related("person"):
        yield [
            closing.started_at.isoformat(), closing.ended_at.isoformat(), f"{closing.peak_c:.1f}",
            closing.closed_at.isoformat(), safe_cell(closing.person.name), safe_cell(closing.done),
        ]  # fmt: skip
