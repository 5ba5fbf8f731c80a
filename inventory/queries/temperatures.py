"""A room's temperatures as pages show them: the plot, spells out of range, what they cost."""

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta

from django.db.models import F, Q

from inventory.keeping.log import DAY_S, HOUR_S, Excursion, excursions, mean_kinetic_c
from inventory.models import AlarmClosing, Crop, Farm, LogChange, Lot, Reading, Room, RoomCheck
from inventory.queries.days import day_start
from inventory.queries.logs import CachedRoom, room_logs

ALARM_DAYS = 7
LATE_FROM, LATE_SHOWN = timedelta(hours=6), timedelta(days=1)
SPANS = {"day": 1, "week": 7, "month": 30}
PLOT_POINTS = 600
# A single reading warmer than both its neighbours by this much looks like an open door.
DOOR_JUMP_C = 2.0
DOOR_MOST_S = HOUR_S
SHORTEST_SPELL_S = HOUR_S


@dataclass(frozen=True)
class Alarm:
    """A room out of range for longer than its set time, that nobody has closed."""

    room: Room
    excursion: Excursion
    going_on: bool

    @property
    def hours(self) -> int:
        return int(self.excursion.hours)

    @property
    def started_s(self) -> int:
        return int(self.excursion.start)

    @property
    def started_at(self) -> datetime:
        return datetime.fromtimestamp(self.excursion.start, UTC)


def open_alarms(at: datetime) -> list[Alarm]:
    """Return the alarms of the last week, every room's. Two queries, the logs are in memory."""
    now = at.timestamp()
    since = now - ALARM_DAYS * DAY_S
    logs = room_logs(since)
    rooms = Room.objects.in_bulk(list(logs))
    found = []
    for room_id, cached in logs.items():
        if not cached.log.at:
            continue
        found += [
            Alarm(rooms[room_id], excursion, excursion.end >= now)
            for excursion in _alarming(rooms[room_id], cached, since, now)
        ]
    return _not_closed(found, at) if found else []


def _alarming(room: Room, cached: CachedRoom, since: float, now: float) -> list[Excursion]:
    steps = cached.log.steps(since, now)
    least_h = float(room.alarm_after_h)
    spells = excursions(steps, room.low_c, room.high_c)
    if spells and spells[0].start == since:
        spells[0] = replace(spells[0], start=_began(cached, room, spells[0]))
    return [spell for spell in spells if spell.hours >= least_h]


def _began(cached: CachedRoom, room: Room, spell: Excursion) -> float:
    """Return when a spell began that was going on before the days looked at."""
    log = cached.log
    index = log.index(spell.start)
    while index > 0:
        earlier = log.celsius[index - 1]
        out = earlier > room.high_c if spell.side == "warm" else earlier < room.low_c
        if not (log.measured[index - 1] and out):
            break
        index -= 1
    return log.at[index]


def _not_closed(alarms: list[Alarm], at: datetime) -> list[Alarm]:
    closings = list(AlarmClosing.objects.filter(closed_at__gte=at - timedelta(days=ALARM_DAYS)))
    return [alarm for alarm in alarms if not any(_covers(closing, alarm) for closing in closings)]


def _covers(closing: AlarmClosing, alarm: Alarm) -> bool:
    """Return whether a closing answers an alarm; one going on much longer comes back."""
    if closing.room_id != alarm.room.pk or closing.side != alarm.excursion.side:
        return False
    grace_s = float(alarm.room.alarm_after_h) * HOUR_S
    overlaps = closing.started_at.timestamp() <= alarm.excursion.end
    return overlaps and alarm.excursion.end <= closing.closed_at.timestamp() + grace_s


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
    crops = Crop.objects.filter(pk__in=Lot.objects.filter(position__room=room).values("crop_id"))
    spells = excursions(cached.log.steps(since, now), room.low_c, room.high_c)
    long = [spell for spell in reversed(spells) if spell.end - spell.start >= SHORTEST_SPELL_S]
    return [_spell(spell, room, cached, list(crops)) for spell in long]


def _spell(spell: Excursion, room: Room, cached: CachedRoom, crops: list[Crop]) -> Spell:
    target_c = float(room.target_c)
    cost = []
    for crop in crops:
        curve = cached.curve(crop.reference, "aging")
        at_target = spell.hours / 24 * curve.speed_at(target_c)
        extra = curve.between(spell.start, spell.end) - at_target
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
        limit_c=room.high_c if spell.side == "warm" else room.low_c,
        cost=sorted(cost, key=lambda pair: -pair[1])[:3],
    )


@dataclass(frozen=True)
class Plot:
    """A room's temperature over a span as points of an SVG drawing, y downward.

    lines: one text of points per unbroken run of measured readings. limits: (crop, °C, y) of
    the crops in the room. doors: x of spikes that look like an open door. grid: (label, y).
    """

    width: int
    height: int
    lines: list[str]
    band_y: float
    band_height: float
    limits: list[tuple[Crop, float, float]]
    doors: list[float]
    grid: list[tuple[int, float]]
    days: list[tuple[date, float]]


WIDTH, HEIGHT = 340, 180


def read_plot(room: Room, farm: Farm, at: datetime, days: int) -> Plot | None:
    """Return the drawing of the last days, None without a measured reading in them."""
    now = at.timestamp()
    since = now - days * DAY_S
    steps = [step for step in room_logs(since)[room.pk].log.steps(since, now) if step[3]]
    if not steps:
        return None
    low_c = min(room.low_c, min(step[2] for step in steps)) - 1
    high_c = max(room.high_c, max(step[2] for step in steps)) + 1

    def x(moment: float) -> float:
        return round((moment - since) / (now - since) * WIDTH, 1)

    def y(celsius: float) -> float:
        return round((high_c - celsius) / (high_c - low_c) * HEIGHT, 1)

    grid_step = 2 if high_c - low_c <= 14 else 5
    grid = range(int(low_c // grid_step + 1) * grid_step, int(high_c) + 1, grid_step)
    return Plot(
        width=WIDTH,
        height=HEIGHT,
        lines=_lines(_thinned(steps), x, y),
        band_y=y(room.high_c),
        band_height=y(room.low_c) - y(room.high_c),
        limits=[
            (crop, celsius, y(celsius))
            for crop, celsius in _limits(room)
            if low_c < celsius < high_c
        ],
        doors=[x(moment) for moment in door_spikes(steps)],
        grid=[(celsius, y(celsius)) for celsius in grid],
        days=_day_marks(farm, at, days, x),
    )


def _lines(steps, x, y) -> list[str]:
    """Join steps into lines, broken where the room was unknown."""
    lines: list[list[str]] = []
    last_end = None
    for start, end, celsius, _ in steps:
        if start != last_end:
            lines.append([])
        lines[-1] += [f"{x(start)},{y(celsius)}", f"{x(end)},{y(celsius)}"]
        last_end = end
    return [" ".join(line) for line in lines]


def _thinned(steps):
    """Keep a drawing light: of each bundle of neighbours only the warmest stays, widened.

    A bundle never spans a gap.
    """
    bundle = max(1, len(steps) // PLOT_POINTS)
    group = [steps[0]]
    for step in steps[1:]:
        if len(group) == bundle or step[0] != group[-1][1]:
            yield _bundled(group)
            group = []
        group.append(step)
    yield _bundled(group)


def _bundled(group):
    return group[0][0], group[-1][1], max(step[2] for step in group), True


def door_spikes(steps) -> list[float]:
    """Return when a short jump above both neighbours looks like an open door."""
    return [
        here[0]
        for before, here, after in zip(steps, steps[1:], steps[2:], strict=False)
        if here[1] - here[0] <= DOOR_MOST_S and here[2] - max(before[2], after[2]) >= DOOR_JUMP_C
    ]


def _limits(room: Room) -> list[tuple[Crop, float]]:
    """Return the lowest safe temperature of each crop in the room that has one."""
    crops = Crop.objects.filter(pk__in=Lot.objects.filter(position__room=room).values("crop_id"))
    found = []
    for crop in crops:
        reference = crop.reference
        lowest = reference.chilling_c if reference.chilling_c is not None else reference.freezing_c
        if lowest is not None:
            found.append((crop, lowest))
    return found


def _day_marks(farm: Farm, at: datetime, days: int, x) -> list[tuple[date, float]]:
    today = at.astimezone(farm.zone).date()
    every = max(1, days // 7)
    marks = [today - timedelta(days=back) for back in range(0, days, every)]
    found = [(mark, x(day_start(farm, mark).timestamp())) for mark in marks]
    return [(mark, where) for mark, where in found if where >= 0]


@dataclass(frozen=True)
class Summary:
    """A span in figures: hours in range and out of it, unknown, mean and mean kinetic [°C]."""

    in_range_h: float
    above_h: float
    below_h: float
    unknown_h: float
    mean_c: float | None
    kinetic_c: float | None


def summarise(room: Room, at: datetime, days: int) -> Summary:
    now = at.timestamp()
    since = now - days * DAY_S
    hours = {"in": 0.0, "above": 0.0, "below": 0.0, "unknown": 0.0}
    known: list[tuple[float, float]] = []
    for start, end, celsius, measured in room_logs(since)[room.pk].log.steps(since, now):
        where = "unknown" if not measured else "in"
        if measured:
            known.append((end - start, celsius))
            where = "above" if celsius > room.high_c else "below" if celsius < room.low_c else "in"
        hours[where] += (end - start) / HOUR_S
    total = sum(length for length, _ in known)
    return Summary(
        in_range_h=hours["in"],
        above_h=hours["above"],
        below_h=hours["below"],
        unknown_h=hours["unknown"],
        mean_c=sum(length * celsius for length, celsius in known) / total if total else None,
        kinetic_c=mean_kinetic_c(known) if total else None,
    )


def late_change(at: datetime) -> LogChange | None:
    """Return the last change of a log in the past day that reached far back, if there was one."""
    return (
        LogChange.objects.filter(
            recorded_at__gte=at - LATE_SHOWN, since__lt=F("recorded_at") - LATE_FROM
        )
        .select_related("room")
        .order_by("-recorded_at")
        .first()
    )


def rooms_unchecked(farm: Farm, at: datetime) -> list[Room]:
    """Return the rooms nobody has checked on this farm day."""
    today = at.astimezone(farm.zone).date()
    return list(Room.objects.exclude(checks__day=today))


def last_readings(room: Room, count: int = 6) -> list[Reading]:
    return list(room.readings.filter(set_aside="").order_by("-at", "-pk")[:count])


def month_of_checks(room: Room, farm: Farm, first: date) -> list[tuple[date, RoomCheck | None]]:
    """Return every day of a month with its check; a missed day stays blank."""
    following = (first.replace(day=28) + timedelta(days=4)).replace(day=1)
    checks = {
        check.day: check
        for check in room.checks.filter(Q(day__gte=first) & Q(day__lt=following)).select_related(
            "person"
        )
    }
    days = [first + timedelta(days=number) for number in range((following - first).days)]
    return [(day, checks.get(day)) for day in days]
