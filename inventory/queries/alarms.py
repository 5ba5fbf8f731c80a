"""What every page warns of: rooms out of range for too long, doors that shut people in."""

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta

from django.db.models import Max

from inventory.keeping.log import DAY_S, HOUR_S, Excursion, excursions_of
from inventory.lives.logs import rooms_logged
from inventory.lives.rooms import LoggedRoom
from inventory.models import AlarmClosing, Room, RoomCheck

ALARM_DAYS = 7

# Put together once, asked by every page: which checks found a door that shuts in, and whether any.
_SHUT_IN = RoomCheck.objects.standing().filter(opens_from_inside=False).order_by()
_ANY_SHUT_IN = _SHUT_IN.values_list("pk", flat=True)[:1]


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
    """Return the alarms of the last week, every room's. One query, the logs are in memory."""
    now = at.timestamp()
    since = now - ALARM_DAYS * DAY_S
    found = []
    for room, cached in rooms_logged(since):
        if not cached.log.at:
            continue
        found += [
            Alarm(room, excursion, excursion.end >= now)
            for excursion in _alarming(room, cached, since, now)
        ]
    return _not_closed(found, at) if found else []


def _alarming(room: Room, cached: LoggedRoom, since: float, now: float) -> list[Excursion]:
    least_h = float(room.alarm_after_h)
    spells = excursions_of(cached.log, cached.bands(since, now, float(room.band_c)))
    spells = [
        replace(spell, start=_began(cached, room, spell)) if spell.start == since else spell
        for spell in spells
    ]
    return [spell for spell in spells if spell.hours >= least_h]


def _began(cached: LoggedRoom, room: Room, spell: Excursion) -> float:
    """Return when a spell began that was going on before the days looked at."""
    bands = cached.bands(cached.from_s, spell.start, float(room.band_c))
    before = [one for one in excursions_of(cached.log, bands) if one.side == spell.side]
    goes_on = bool(before) and before[-1].end == spell.start
    return before[-1].start if goes_on else spell.start


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


def doors_that_shut_in() -> list[RoomCheck]:
    """Return, room by room, the check since which its door is known not to open from inside.

    Until a later check says that it does; one that did not try the door says nothing. One query
    where none ever shut anybody in, else three.
    """
    if not list(_ANY_SHUT_IN.all()):
        return []
    tried = RoomCheck.objects.standing().filter(opens_from_inside=True).order_by()
    opened = dict(tried.values_list("room").annotate(last=Max("day")))
    checks = _SHUT_IN.select_related("room")
    still = [check for check in checks if check.day > opened.get(check.room_id, date.min)]
    since: dict[int, RoomCheck] = {}
    for check in sorted(still, key=lambda check: (check.room.order, check.room_id, check.day)):
        since.setdefault(check.room_id, check)
    return list(since.values())
