"""Where a crate was, from its entries: field, rooms, stalls and vans. Pure.

Times are seconds since 1970 (UTC). Temperatures nobody measured are said to be assumed. Of what a
page reads by the thousand, named tuples: they are made in a third of the time.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from inventory.keeping import Reference
from inventory.keeping.log import HOUR_S
from inventory.ledger.fold import HERE, State

FIELD_C = 20.0
STALL_C = 25.0  # also a van, when nobody measured
NOT_GIVEN_CUT_S = 2 * HOUR_S  # the longest of the quick answers
PARTS = ("field", "cooling", "room", "out")


class Came(NamedTuple):
    """An intake, as far as the life of its crates depends on it.

    cut_at, packed_at: as they were given. pulp_c: inside temperature at arrival. [°C]
    """

    id: int
    bought: bool
    arrived_at: float
    cut_at: float | None = None
    packed_at: float | None = None
    pulp_c: float | None = None

    @property
    def came_cold(self) -> bool:
        """Whether no field heat is reckoned with: bought cases that nobody measured."""
        return self.bought and self.pulp_c is None

    @property
    def time_given(self) -> bool:
        return self.cut_at is not None or self.packed_at is not None

    @property
    def harvested_at(self) -> float:
        """When the first was cut or packed, as given or as assumed."""
        if self.cut_at is not None:
            return self.cut_at
        if self.packed_at is not None:
            return self.packed_at
        return self.arrived_at - (0 if self.bought else NOT_GIVEN_CUT_S)


class Step(NamedTuple):
    """An entry that said where a crate stands from then on."""

    kind: str
    at: float
    state: str
    room_id: int | None
    warm_hours: float | None = None


class Link(NamedTuple):
    """A crate this one was filled from, and until when that one's life counts."""

    parent: str
    at: float


@dataclass(frozen=True, eq=False, slots=True)
class Record:
    """All that a crate's life depends on; crates alike share one, which is told by being it.

    came: None for a crate of several intakes. looked_at, gone_at: when somebody last looked and
    found it good, or no longer good, 0 if never. half_cooling_h: of its kind of crate. ended_at:
    when it was empty for good; None while anything of it may still be somewhere.
    """

    crop_id: int
    reference: Reference
    came: Came | None
    steps: Sequence[Step] = ()
    links: Sequence[Link] = ()
    looked_at: float = 0.0
    gone_at: float = 0.0
    half_cooling_h: float | None = None
    ended_at: float | None = None

    def until(self, moment: float) -> float:
        """Return up to when its life runs by a moment."""
        return moment if self.ended_at is None else min(moment, self.ended_at)


class Stay(NamedTuple):
    """A span of time somewhere: in a room by its log, elsewhere at one temperature."""

    part: str
    start: float
    end: float
    room_id: int | None = None
    celsius: float = 0.0


Records = Mapping[str, Record]


def before_c(record: Record) -> float:
    """Return how warm a crate's content was before it came: probed, or assumed. [°C]"""
    came = record.came
    assert came is not None, "a crate of several intakes has no field of its own"
    if came.bought:
        return record.reference.temp_high_c
    return FIELD_C if came.pulp_c is None else came.pulp_c


def oldest_content(records: Records, record: Record) -> Came:
    """Return how the oldest of a crate's content came in."""
    if record.links:
        found = [oldest_content(records, records[link.parent]) for link in record.links]
        return min(found, key=lambda came: (came.harvested_at, came.time_given))
    assert record.came is not None
    return record.came


def stays(records: Records, record: Record, until: float, first_room: int | None) -> list[Stay]:
    """Return where a crate was from harvest, or from leaving its parents, up to a moment.

    first_room: the room of a crate that is not put away yet.
    """
    # What was done twice at one moment leaves an empty span between.
    return [stay for stay in _spans(records, record, until, first_room) if stay.end > stay.start]


def _spans(
    records: Records, record: Record, until: float, first_room: int | None
) -> Iterator[Stay]:
    steps = [step for step in record.steps if step.at <= until]
    first = steps[0].at if steps else until
    room = _room_of_parents(records, record) or first_room
    if record.links:
        left = min(link.at for link in record.links)
        yield from _away(left, first, steps[0].warm_hours if steps else None, room)
    else:
        start = oldest_content(records, record).harvested_at
        yield Stay("field", min(start, first), first, celsius=before_c(record))
    since = None
    for step, following in pairwise([*steps, None]):
        assert step is not None
        room = step.room_id or room
        end = following.at if following else until
        if step.state == State.OUT:
            warm_hours = following.warm_hours if following else None
            yield from _away(step.at, end, warm_hours, room)
        elif step.state in HERE:
            since = step.at if since is None else since
            if following and following.state in HERE and following.room_id in (None, room):
                continue  # from shelf to shelf: its air stays the same
            yield Stay("room", since, end, room)
            since = None


def last_room(records: Records, record: Record) -> int | None:
    """Return the room a crate was in last, else the one its parents left; None if in none."""
    rooms = [step.room_id for step in record.steps if step.room_id]
    return rooms[-1] if rooms else _room_of_parents(records, record)


def _room_of_parents(records: Records, record: Record) -> int | None:
    """Return the room in which the first of a crate's parents stood when it left them."""
    for link in record.links:
        parent = records[link.parent]
        rooms = [step.room_id for step in parent.steps if step.room_id and step.at <= link.at]
        found = rooms[-1] if rooms else _room_of_parents(records, parent)
        if found:
            return found
    return None


def _away(start: float, end: float, warm_hours: float | None, room: int | None) -> Iterator[Stay]:
    """A stall or a van: warm for as long as was said, else all the time.

    The rest counts as in the room it left.
    """
    away = max(end - start, 0.0)
    warm = away if warm_hours is None else min(away, warm_hours * HOUR_S)
    yield Stay("out", start, start + warm, celsius=STALL_C)
    yield Stay("out", start + warm, start + away, room)
