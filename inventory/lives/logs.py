"""Rooms' temperature logs and their aging curves, kept in memory and brought up to date.

Each server process keeps its own. Each request compares the version of a room's history
(the number of its last change) and takes up only what changed.
"""

import math
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import replace
from datetime import UTC, datetime

from django.db.models import Exists, Max, OuterRef, QuerySet, Subquery

from inventory.keeping import RoomLog
from inventory.keeping.log import (
    BY_PERSON,
    DAY_S,
    FORGOTTEN_S,
    LOGGER_HOLD_S,
    PERSON_HOLD_S,
    Measurement,
)
from inventory.lives.rooms import RECENT_S, LoggedRoom, target_at
from inventory.models import LogChange, Reading, Room

SPARE_S = 2 * DAY_S  # read a little further back than asked, so that gaps are judged right

# The rooms with their last changes: put together once, asked anew by every page.
_LAST = LogChange.objects.filter(room=OuterRef("pk")).order_by("-pk").values("pk")[:1]
_ROOMS = Room.objects.annotate(version=Subquery(_LAST))

# What changed, and whether it is that readings count no more.
_TAKEN_BACK = Reading.objects.filter(
    room=OuterRef("room"), at=OuterRef("since"), taken_back_at=OuterRef("recorded_at")
)
_CHANGES = LogChange.objects.annotate(takes_back=Exists(_TAKEN_BACK))
_READ_OF_IT = ("at", "temperature_c", "kind", "sensor")

_cache: dict[int, LoggedRoom] = {}
_lock = threading.Lock()
# Who needs more of the past than is kept waits for whoever reads it already; nobody else does.
_reading = threading.Lock()
# Of those who find a log changed one takes the change up; else each would, all at once.
_taking_up = threading.Lock()


# Each room with the number of its last change, while that is kept: nothing yet, or the one answer.
_READ: ContextVar["list[tuple[Room, int]] | None"] = ContextVar("rooms read", default=None)


@contextmanager
def rooms_read_once() -> Iterator[None]:
    """Ask the database at most once, within this, how far each room's history has come.

    For a page that only shows: every crate on it is then of one and the same history.
    """
    token = _READ.set([])
    try:
        yield
    finally:
        _READ.reset(token)


def forget() -> None:
    """Drop everything kept in memory; for tests, whose databases come and go."""
    with _lock:
        _cache.clear()


def room_logs(since_s: float) -> dict[int, LoggedRoom]:
    """Return every room's log from a moment on at the latest, up to date."""
    return {room.pk: log for room, log in rooms_logged(since_s)}


def rooms_logged(since_s: float) -> list[tuple[Room, LoggedRoom]]:
    """Return every room, in the farm's order, with its log from a moment on at the latest."""
    return [(room, _current(room, version, since_s)) for room, version in _versions()]


def every_room() -> dict[int, Room]:
    """Return every room by its key, in the farm's order."""
    return {room.pk: room for room, _version in _versions()}


def past_logs(since_s: float, until_s: float) -> dict[int, LoggedRoom]:
    """Return every room's log of a span that is over; it is not kept.

    What a crate that left long ago went through costs what its own days cost, and no one else.
    """
    return {
        room.pk: _load(room, version, since_s - SPARE_S, until_s + SPARE_S)
        for room, version in _versions()
    }


def _versions() -> list[tuple[Room, int]]:
    """Return each room with the number of its last change."""
    kept = _READ.get()
    if kept:
        return kept
    found: list[tuple[Room, int]] = [(room, room.version or 0) for room in _ROOMS.all()]
    if kept is not None:
        kept += found
    return found


def _current(room: Room, version: int, since_s: float) -> LoggedRoom:
    found = _cache.get(room.pk)
    if found is None or found.from_s > since_s:
        with _reading:
            found = _cache.get(room.pk)
            if found is None or found.from_s > since_s:
                # Of the youngest crate too the forecast asks for its last days.
                found = _keep(_load(room, version, since_s - RECENT_S - SPARE_S))
    if found.version < version:
        with _taking_up:
            kept = _cache.get(room.pk)
            if kept is not None and kept.from_s <= since_s:
                found = kept
            if found.version < version:
                found = _keep(_taken_up(found, room, version))
    return found


def _keep(fresh: LoggedRoom) -> LoggedRoom:
    """Keep a log for later requests, unless somebody has kept one that reaches further back."""
    with _lock:
        kept = _cache.get(fresh.room_id)
        if kept is None or (fresh.from_s, -fresh.version) <= (kept.from_s, -kept.version):
            _cache[fresh.room_id] = fresh
    return fresh


def _load(room: Room, version: int, from_s: float, to_s: float | None = None) -> LoggedRoom:
    targets, last = _targets(room), 0
    if to_s is None:  # of a span that is over nothing is ever taken up
        last = room.readings.aggregate(last=Max("pk"))["last"] or 0
    return LoggedRoom(room.pk, version, from_s, _log(room, targets, from_s, to_s), targets, last)


def _log(
    room: Room, targets: tuple[tuple[float, float], ...], from_s: float, to_s: float | None = None
) -> RoomLog:
    """Return what counts in a room from a moment on, first what did already."""
    begin = _begin(room, from_s)
    changes = [change for change in targets if change[0] > begin]
    log = RoomLog(target_at(targets, begin), _readings(room.pk, begin, to_s), changes)
    return log.with_tail(0, log, max(log.index(from_s), 0))


def _begin(room: Room, from_s: float) -> float:
    """Return from when a room's readings tell what counts at a moment.

    However long nothing was read by then: the mean of the day before that counts all the while,
    and of what held on that day.
    """
    read = room.readings.filter(set_aside="", at__lte=_moment(from_s)).order_by("-at")
    last = read.values_list("at", flat=True).first()
    return from_s if last is None else last.timestamp() - DAY_S - PERSON_HOLD_S


def _targets(room: Room) -> tuple[tuple[float, float], ...]:
    rows = room.targets.order_by("since").values_list("since", "target_c")
    found = tuple((since.timestamp(), float(celsius)) for since, celsius in rows)
    return found or ((0.0, float(room.target_c)),)


def _taken_up(cached: LoggedRoom, room: Room, version: int) -> LoggedRoom:
    """Return the room with what changed of its log since it was kept, and no more read again.

    A new object each time: requests that read the old one go on undisturbed.
    """
    changes = list(_CHANGES.filter(room=room, pk__gt=cached.version))
    since, targets = min(change.since for change in changes), _targets(room)
    seen = max(change.pk for change in changes)
    alike = targets == cached.targets and not any(change.takes_back for change in changes)
    if alike and since.timestamp() > cached.log.last_at >= cached.from_s:
        taken_up = _grown(cached, room, since)
    else:
        taken_up = _changed(cached, room, since, targets, alike)
    if room.log_changes.filter(pk__gt=seen).exists():
        # Of what came meanwhile only a part was seen: the later, but not what is before `since`.
        return _taken_up(cached, room, version)
    return replace(taken_up, version=version)


def _grown(cached: LoggedRoom, room: Room, since: datetime) -> LoggedRoom:
    """Return the room with what was read after all that its log has, as a sensor's posts are."""
    rows = room.readings.filter(at__gte=since).order_by("at", "pk")
    came = list(rows.values_list("pk", "set_aside", *_READ_OF_IT))
    log = cached.log.grown(_measurement(*row) for _key, aside, *row in came if not aside)
    last = max([cached.last_reading, *(key for key, *_ in came)])
    return _regrown(replace(cached, last_reading=last), log, cached.log.settled)


def _changed(
    cached: LoggedRoom,
    room: Room,
    since: datetime,
    targets: tuple[tuple[float, float], ...],
    alike: bool,
) -> LoggedRoom:
    """Return the room with its log read anew from where it changed first until it is as it was.

    alike: whether readings only came.
    """
    last, until = _came(cached, room)
    if not alike:
        until = math.inf
    taken_up = replace(cached, targets=targets, last_reading=last)
    if _is_before(until, cached):
        return taken_up
    return _regrown(taken_up, *_read_again(cached, room, targets, since.timestamp(), until))


def _regrown(room: LoggedRoom, log: RoomLog, length: int, later: int = 0) -> LoggedRoom:
    """Return the room with another log, which has so many of the first and last knots it had."""
    curves = {key: curve.regrown(log, length, later) for key, curve in list(room.curves.items())}
    return replace(room, log=log, curves=curves)


def _is_before(until: float, cached: LoggedRoom) -> bool:
    """Return whether what changed up to a moment is forgotten where a log begins."""
    log = cached.log
    begins_known = bool(log.measured) and bool(log.measured[0]) and log.at[0] <= cached.from_s
    return begins_known and until + FORGOTTEN_S < log.at[0]


def _came(cached: LoggedRoom, room: Room) -> tuple[int, float]:
    """Return the number of a room's last reading, and of when the latest is that a log lacks."""
    # By number alone: by their time all readings since would be looked at, a year's perhaps.
    new = room.readings.filter(pk__gt=cached.last_reading)
    came = new.aggregate(last=Max("pk"), until=Max("at"))
    if came["until"] is None:
        return cached.last_reading, -math.inf
    return came["last"], came["until"].timestamp()


def _read_again(
    cached: LoggedRoom,
    room: Room,
    targets: tuple[tuple[float, float], ...],
    since: float,
    until: float,
) -> tuple[RoomLog, int, int]:
    """Return the log of a room that changed in a span, and how many of its first and of its last
    knots are as before."""
    before = cached.log
    length = before.last_measured(since)
    restart = before.at[length] if length else cached.from_s
    as_before = before.first_measured(until + FORGOTTEN_S)
    end = before.at[as_before] if as_before < len(before.at) else None
    fresh = _log(room, targets, restart, end)
    log = before.with_tail(length, fresh, fresh.readings_from(restart)) if length else fresh
    if end is not None:
        log = log.with_tail(log.readings_from(end), before, as_before)
    # Most of what was read again is as it was: of that, curves keep their sums.
    return log, before.first_differing(log, length), len(before.at) - as_before


def _readings(room_id: int, from_s: float, to_s: float | None) -> list[Measurement]:
    """Return the readings of a room in order of time, without those set aside."""
    found: QuerySet[Reading] = Reading.objects.filter(
        room=room_id, set_aside="", at__gte=_moment(from_s)
    )
    if to_s is not None:
        found = found.filter(at__lte=_moment(to_s))
    rows = found.order_by("at", "pk").values_list(*_READ_OF_IT)
    return [_measurement(*row) for row in rows.iterator(chunk_size=10_000)]


def _moment(seconds: float) -> datetime:
    return datetime.fromtimestamp(seconds, UTC)


def _measurement(at: datetime, celsius: float, kind: str, sensor: str) -> Measurement:
    if kind in (Reading.Kind.TYPED, Reading.Kind.PAPER):
        return Measurement(at.timestamp(), celsius, PERSON_HOLD_S, BY_PERSON)
    return Measurement(at.timestamp(), celsius, LOGGER_HOLD_S, sensor or kind)
