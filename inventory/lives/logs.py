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
from inventory.lives.rooms import LoggedRoom
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
    target_c = float(room.target_c)
    if found is None or found.target_c != target_c or found.from_s > since_s:
        found = _load(room, target_c, version, since_s - SPARE_S)
    elif found.version < version:
        found = _taken_up(found, version)
    _cache[room.pk] = found
    return found


def _load(room: Room, target_c: float, version: int, from_s: float) -> LoggedRoom:
    log = RoomLog(target_c, _readings(room.pk, from_s))
    return LoggedRoom(room.pk, target_c, version, from_s, log)


def _taken_up(cached: LoggedRoom, version: int) -> LoggedRoom:
    """Return the room with its log cut where it changed first and read on from there.

    A new object each time: requests that read the old one go on undisturbed.
    """
    changes = LogChange.objects.filter(room=cached.room_id, pk__gt=cached.version)
    since = min(change.since for change in changes).timestamp()
    length = cached.log.last_measured(since - SPARE_S)
    restart = cached.log.at[length] if length else cached.from_s
    # A day more is read, so that the cautious figure of a gap sees the same day as before.
    fresh = RoomLog(cached.target_c, _readings(cached.room_id, restart - DAY_S))
    log = cached.log.with_tail(length, fresh, fresh.readings_from(restart))
    curves = {key: curve.regrown(log, length) for key, curve in list(cached.curves.items())}
    return replace(cached, version=version, log=log, curves=curves)


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
