"""Crates and logged rooms made by hand, for what is pure: no database. Times are hours from NOW."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from inventory.keeping import RoomLog, load_reference
from inventory.keeping.log import HOUR_S, Measurement
from inventory.ledger.fold import State
from inventory.lives.clocks import Clocks
from inventory.lives.rooms import LoggedRoom
from inventory.lives.stays import Came, Record, Step

NOW = datetime(2026, 6, 10, 14, tzinfo=UTC)
NOW_S = NOW.timestamp()
COLD, CORNER = 1, 2  # rooms


def at(hours: float) -> datetime:
    return NOW + timedelta(hours=hours)


def seconds(hours: float) -> float:
    return NOW_S + hours * HOUR_S


def step(hours: float, state: str = State.IN_PLACE, room: int | None = COLD, **changes) -> Step:
    return Step(
        **{"kind": "moved", "at": seconds(hours), "state": state, "room_id": room} | changes
    )


def came(**changes) -> Came:
    """A case packed as it came, and as cold as its room."""
    return Came(**{"id": 1, "bought": True, "arrived_at": NOW_S, "packed_at": NOW_S} | changes)


@dataclass(frozen=True, eq=False)
class Crate(Record):
    """The record of one crate, with its code."""

    code: str = "A"


def record(key: str = "kale", code: str = "A", **changes) -> Crate:
    """A crate that came at NOW and has stood in the cold room since."""
    values = {
        "code": code,
        "crop_id": list(load_reference()).index(key),
        "reference": load_reference()[key],
        "came": came(),
        "steps": [step(0)],
    }
    return Crate(**values | changes)


def logged(
    target_c: float = 2.0, *readings: tuple[float, float], room: int = COLD, **sensors: Sequence
) -> LoggedRoom:
    """A room with (hours, °C) readings of one logger, or of several by name."""
    named = {"logger": readings, **sensors}
    taken = [
        Measurement(seconds(hours), celsius, sensor=name)
        for name, rows in named.items()
        for hours, celsius in rows
    ]
    taken.sort(key=lambda reading: reading.at)
    return LoggedRoom(room, 0, 0.0, RoomLog(target_c, taken), ((0.0, target_c),))


def steady(celsius: float, hours: int, start: int = 0) -> list[tuple[float, float]]:
    return [(start + hour, celsius) for hour in range(hours + 1)]


def clocks(*records: Crate, rooms: Sequence[LoggedRoom] = (), probes=None) -> Clocks:
    """The clocks of these crates; without rooms there is one at 2 °C that nobody measures."""
    known = {room.room_id: room for room in rooms or [logged()]}
    return Clocks({one.code: one for one in records}, known, probes or {}, UTC)
