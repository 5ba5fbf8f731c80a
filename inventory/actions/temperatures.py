"""Writing down temperatures, from whatever way they come in, and what was done about alarms."""

import hashlib
import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.db.models import Min

from inventory.errors import Conflict, Refused
from inventory.keeping.log import implausible
from inventory.ledger.book import CLOCKS_DIFFER, Act, need_owner
from inventory.models import (
    AlarmClosing,
    Intake,
    LogChange,
    Person,
    ProbeReading,
    Reading,
    Room,
    RoomCheck,
    Sensor,
    TemperatureFile,
)
from inventory.queries.temperatures import may_take_back

OLDEST_READING = timedelta(days=6 * 365)


@dataclass(frozen=True)
class Recorded:
    """What became of some readings: how many were new, known already, or set aside."""

    added: int
    already_there: int
    set_aside: int


def record_readings(
    room: Room,
    readings: Iterable[tuple[datetime, float]],
    *,
    kind: str,
    at: datetime,
    sensor: str = "",
    person: Person | None = None,
    file: TemperatureFile | None = None,
) -> Recorded:
    """Write readings of a room's air: (moment, °C) pairs in any order, one transaction.

    The same sensor and moment again adds nothing. Implausible ones are kept but set aside.

    Raises Refused("future", "six-years-ago"); then nothing is written.
    """
    rows = [
        Reading(
            room=room,
            sensor=sensor,
            at=moment,
            temperature_c=celsius,
            kind=kind,
            person=person,
            file=file,
            set_aside=Reading.Aside.IMPLAUSIBLE if implausible(celsius) else "",
        )
        for moment, celsius in readings
    ]
    for row in rows:
        _need_plausible_moment(row.at, at)
    with transaction.atomic():
        # In turn, so that the numbers of changes are committed in their order.
        Room.objects.select_for_update().get(pk=room.pk)
        fresh = _fresh(room, sensor, rows)
        Reading.objects.bulk_create(fresh, ignore_conflicts=True, batch_size=500)
        counted = [row.at for row in fresh if not row.set_aside]
        if counted:
            LogChange.objects.create(room=room, since=min(counted), recorded_at=at)
    aside = sum(1 for row in fresh if row.set_aside)
    return Recorded(len(fresh) - aside, len(rows) - len(fresh), aside)


def _fresh(room: Room, sensor: str, rows: list[Reading]) -> list[Reading]:
    """Return the readings not known yet, each moment once."""
    if not rows:
        return []
    moments = {row.at: row for row in reversed(rows)}
    known = set(
        Reading.objects.filter(room=room, sensor=sensor, at__gte=min(moments), at__lte=max(moments))
        .exclude(set_aside=Reading.Aside.WRONG)
        .values_list("at", flat=True)
    )
    return [row for moment, row in sorted(moments.items()) if moment not in known]


def _need_plausible_moment(moment: datetime, at: datetime) -> None:
    if moment > at + CLOCKS_DIFFER:
        raise Refused("future", field="moment")
    if moment < at - OLDEST_READING:
        raise Refused("six-years-ago", field="moment")


def type_reading(act: Act, *, room: Room, celsius: float, moment: datetime | None) -> Recorded:
    """Write down what a person read off the thermometer, now unless told otherwise.

    The same entry again adds nothing.

    Raises Refused("future", "six-years-ago"), Conflict("sent-before").
    """
    with transaction.atomic():
        earlier = Reading.objects.filter(entry_id=act.id).first()
        if earlier is not None:
            if (earlier.person_id, earlier.temperature_c) != (act.person.pk, celsius):
                raise Conflict("sent-before")
            return Recorded(0, 1, 0)
        typed_at = (moment or act.happened_at).replace(microsecond=0)
        recorded = record_readings(
            room,
            [(typed_at, celsius)],
            kind=Reading.Kind.TYPED,
            at=act.at,
            person=act.person,
        )
        if recorded.added or recorded.set_aside:
            made = Reading.objects.filter(room=room, sensor="", at=typed_at, entry_id=None)
            made.exclude(set_aside=Reading.Aside.WRONG).update(entry_id=act.id)
    return recorded


def set_reading_aside(act: Act, *, reading: Reading) -> None:
    """Let a reading that was typed or measured wrong count no more; it stays on record.

    Crew take back what they typed themselves until the end of the farm's day.

    Raises Refused("owner-only").
    """
    if not may_take_back(reading, act.person, act.farm, act.at):
        need_owner(act)
    with transaction.atomic():
        wrong = Reading.objects.filter(pk=reading.pk, set_aside="")
        if wrong.update(set_aside=Reading.Aside.WRONG):
            LogChange.objects.create(room=reading.room, since=reading.at, recorded_at=act.at)


def set_file_aside(act: Act, *, file: TemperatureFile) -> None:
    """Let all readings of a file that was read wrongly count no more; they stay on record.

    What of it was not taken up yet never is.

    Raises Refused("owner-only").
    """
    need_owner(act)
    with transaction.atomic():
        locked = TemperatureFile.objects.select_for_update(of=("self",)).get(pk=file.pk)
        locked.next_row = locked.rows
        locked.save(update_fields=["next_row"])
        readings = Reading.objects.filter(file=file)
        since = readings.filter(set_aside="").aggregate(since=Min("at"))["since"]
        readings.update(set_aside=Reading.Aside.WRONG)
        if since is not None:
            Room.objects.select_for_update().get(pk=file.room_id)
            LogChange.objects.create(room=file.room, since=since, recorded_at=act.at)


def type_paper_log(act: Act, *, room: Room, rows: list[tuple[datetime, float]]) -> Recorded:
    """Write down a paper log typed in bulk.

    Raises Refused("future", "six-years-ago").
    """
    return record_readings(room, rows, kind=Reading.Kind.PAPER, at=act.at, person=act.person)


def make_sensor(act: Act, *, name: str, room: Room) -> tuple[Sensor, str]:
    """Make a sensor and return it with its token, which is shown once and kept only hashed.

    Raises Refused("owner-only", "sensor-exists").
    """
    need_owner(act)
    if Sensor.objects.filter(name__iexact=name, revoked_at__isnull=True).exists():
        raise Refused("sensor-exists", field="name")
    token = secrets.token_urlsafe(24)
    sensor = Sensor.objects.create(
        name=name, room=room, token_hash=hash_token(token), made_at=act.at
    )
    return sensor, token


def hash_token(token: str) -> str:
    """Return how a sensor's token is kept: random enough to need no slow hash."""
    return hashlib.sha256(token.encode()).hexdigest()


def revoke_sensor(act: Act, *, sensor: Sensor) -> None:
    """End a sensor's token.

    Raises Refused("owner-only").
    """
    need_owner(act)
    Sensor.objects.filter(pk=sensor.pk, revoked_at__isnull=True).update(revoked_at=act.at)


def probe(act: Act, *, intake: Intake, celsius: Decimal) -> ProbeReading:
    """Write down the temperature inside the produce of an intake, measured now.

    Raises Refused("before-arrival").
    """
    if act.happened_at < intake.arrived_at:
        raise Refused("before-arrival", field="pulp_c")
    made, _ = ProbeReading.objects.get_or_create(
        entry_id=act.id,
        defaults={
            "intake": intake,
            "at": act.happened_at,
            "temperature_c": celsius,
            "person": act.person,
        },
    )
    return made


def close_alarm(
    act: Act,
    *,
    room: Room,
    started_at: float,
    ended_at: float,
    side: str,
    peak_c: float,
    done: str,
) -> AlarmClosing:
    """Close a spell out of range with what was done about it. Times in seconds since 1970.

    Raises Refused("owner-only", "alarm-done").
    """
    need_owner(act)
    if not done:
        raise Refused("alarm-done", field="done")
    return AlarmClosing.objects.create(
        room=room,
        started_at=datetime.fromtimestamp(started_at, UTC),
        ended_at=datetime.fromtimestamp(ended_at, UTC),
        side=side,
        peak_c=peak_c,
        closed_at=act.at,
        person=act.person,
        done=done,
    )


def check_room(
    act: Act, *, room: Room, celsius: float | None, door_shut: bool, odd: str, **weekly: bool | None
) -> RoomCheck:
    """Write down the daily look at a room; a later one on a day replaces the earlier.

    But for what it did not look at: the earlier one's word on that stands.
    """
    seen = {name: answer for name, answer in weekly.items() if answer is not None}
    look = {
        "at": act.happened_at,
        "person": act.person,
        "temperature_c": celsius,
        "door_shut": door_shut,
        "odd": odd,
        **seen,
    }
    with transaction.atomic():
        check, made = RoomCheck.objects.get_or_create(room=room, day=act.today, defaults=look)
        if not made and check.at <= act.happened_at:
            RoomCheck.objects.filter(pk=check.pk).update(**look)
            check.refresh_from_db()
        if celsius is not None:
            type_reading(act, room=room, celsius=celsius, moment=None)
    return check
