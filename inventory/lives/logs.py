"""Rooms' temperature logs and their aging curves, kept in memory and brought up to date.

Each server process keeps its own. Each request compares the version of a room's history
(the number of its last change) and takes up only what changed.
"""

import threading
from dataclasses import replace
from datetime import UTC, datetime

from django.db.models import Max

from inventory.keeping import RoomLog
from inventory.keeping.log import BY_PERSON, DAY_S, LOGGER_HOLD_S, PERSON_HOLD_S, Measurement
from inventory.lives.rooms import RECENT_S, LoggedRoom, target_at
from inventory.models import LogChange, Reading, Room

SPARE_S = 2 * DAY_S  # read a little further back than asked, so that gaps are judged right

_cache: dict[int, LoggedRoom] = {}
_lock = threading.Lock()


def forget() -> None:
    """Drop everything kept in memory; for tests, whose databases come and go."""
    with _lock:
        _cache.clear()


def room_logs(since_s: float) -> dict[int, LoggedRoom]:
    """Return every room's log from a moment on at the latest, up to date."""
    versions = dict(LogChange.objects.values_list("room_id").annotate(version=Max("pk")).order_by())
    with _lock:
        return {
            room.pk: _current(room, versions.get(room.pk, 0), since_s)
            for room in Room.objects.all()
        }


def _current(room: Room, version: int, since_s: float) -> LoggedRoom:
    found = _cache.get(room.pk)
    if found is None or found.from_s > since_s:
        # Of the youngest crate too the forecast asks for its last days.
        found = _load(room, version, since_s - RECENT_S - SPARE_S)
    elif found.version < version:
        found = _taken_up(found, room, version)
    _cache[room.pk] = found
    return found


def _load(room: Room, version: int, from_s: float) -> LoggedRoom:
    targets = _targets(room)
    return LoggedRoom(room.pk, version, from_s, _log(room, targets, from_s), targets)


def _log(room: Room, targets: tuple[tuple[float, float], ...], from_s: float) -> RoomLog:
    changes = [change for change in targets if change[0] > from_s]
    return RoomLog(target_at(targets, from_s), _readings(room.pk, from_s), changes)


def _targets(room: Room) -> tuple[tuple[float, float], ...]:
    rows = room.targets.order_by("since").values_list("since", "target_c")
    found = tuple((since.timestamp(), float(celsius)) for since, celsius in rows)
    return found or ((0.0, float(room.target_c)),)


def _taken_up(cached: LoggedRoom, room: Room, version: int) -> LoggedRoom:
    """Return the room with its log cut where it changed first and read on from there.

    A new object each time: requests that read the old one go on undisturbed.
    """
    changes = LogChange.objects.filter(room=room, pk__gt=cached.version)
    since = min(change.since for change in changes).timestamp()
    length = cached.log.last_measured(since - SPARE_S)
    restart = cached.log.at[length] if length else cached.from_s
    targets = _targets(room)
    # A day more is read, so that the cautious figure of a gap sees the same day as before.
    fresh = _log(room, targets, restart - DAY_S)
    log = cached.log.with_tail(length, fresh, fresh.readings_from(restart))
    curves = {key: curve.regrown(log, length) for key, curve in list(cached.curves.items())}
    return replace(cached, version=version, log=log, targets=targets, curves=curves)


def _readings(room_id: int, from_s: float) -> list[Measurement]:
    """Return the readings of a room in order of time, without those set aside."""
    rows = (
        Reading.objects.filter(
            room=room_id, set_aside="", at__gte=datetime.fromtimestamp(from_s, UTC)
        )
        .order_by("at", "pk")
        .values_list("at", "temperature_c", "kind", "sensor")
    )
    return [_measurement(*row) for row in rows.iterator(chunk_size=10_000)]


def _measurement(at: datetime, celsius: float, kind: str, sensor: str) -> Measurement:
    if kind in (Reading.Kind.TYPED, Reading.Kind.PAPER):
        return Measurement(at.timestamp(), celsius, PERSON_HOLD_S, BY_PERSON)
    return Measurement(at.timestamp(), celsius, LOGGER_HOLD_S, sensor or kind)
