"""Writing down temperatures, from whatever way they come in, and what was done about alarms."""

import hashlib
from base64 import urlsafe_b64encode
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import Max, Min, QuerySet
from django.utils.crypto import salted_hmac

from inventory.actions.owner import ADDED, note
from inventory.actions.undo import undo
from inventory.errors import Conflict, Refused
from inventory.keeping.log import FORGOTTEN_S, implausible
from inventory.ledger.book import CLOCKS_DIFFER, Act, Book, need_owner, recorded
from inventory.ledger.weeks import forget_losses_of
from inventory.models import (
    Action,
    AlarmClosing,
    Intake,
    LogChange,
    Lot,
    Movement,
    PaperLog,
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
_FORGOTTEN = timedelta(seconds=FORGOTTEN_S)
POSTS_NOTED = 9  # so that a sensor's usual gap is known by eight


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
    paper: PaperLog | None = None,
) -> Recorded:
    """Write readings of a room's air: (moment, °C) pairs in any order, one transaction.

    The same sensor and moment again adds nothing. Implausible ones are kept but set aside.

    Raises Refused("future", "six-years-ago"); then nothing is written.
    """
    like = Reading(room=room, kind=kind, sensor=sensor, person=person, paper=paper)
    return write_rows(room, make_rows(like, readings, at), at)


def make_rows(
    like: Reading, readings: Iterable[tuple[datetime, float]], at: datetime
) -> list[Reading]:
    """Return readings of one kind as rows, made before anything waits for them to be written.

    Raises Refused("future", "six-years-ago").
    """
    rows = []
    for moment, celsius in readings:
        _need_plausible_moment(moment, at)
        aside = Reading.Aside.IMPLAUSIBLE if implausible(celsius) else ""
        rows.append(like.alike(at=moment, temperature_c=celsius, set_aside=aside))
    return rows


@transaction.atomic
def write_rows(room: Room, rows: list[Reading], at: datetime) -> Recorded:
    """Write the rows of one sensor's readings, as far as they are not known yet."""
    # In turn, so that the numbers of changes are committed in their order; who only names the room,
    # and may hold the farm's row, waits for nobody (no key).
    Room.objects.select_for_update(no_key=True).get(pk=room.pk)
    fresh = _fresh(room, rows)
    Reading.write_new(fresh)
    counted = [row.at for row in fresh if not row.set_aside]
    if counted:
        _note_change(room, min(counted), max(counted), at)
    aside = sum(1 for row in fresh if row.set_aside)
    return Recorded(len(fresh) - aside, len(rows) - len(fresh), aside)


def _note_change(room: Room, first: datetime, last: datetime, at: datetime) -> None:
    """Note that readings from one moment to another came to a room's log, or count no more."""
    LogChange.objects.note(room, first, at)
    as_before = room.readings.filter(set_aside="", at__gte=last + _FORGOTTEN).order_by("at")
    forget_losses_of(first, as_before.values_list("at", flat=True).first())


def _fresh(room: Room, rows: list[Reading]) -> list[Reading]:
    """Return the readings not known yet, each moment once."""
    if not rows:
        return []
    moments = {row.at: row for row in reversed(rows)}
    known = set(
        Reading.objects.filter(
            room=room, sensor=rows[0].sensor, at__gte=min(moments), at__lte=max(moments)
        )
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

    The same entry again adds nothing; another figure of the same second is put after the first.

    Raises Refused("future", "six-years-ago"), Conflict("sent-before").
    """
    with transaction.atomic():
        earlier = Reading.objects.filter(entry_id=act.id).first()
        if earlier is not None:
            if (earlier.person_id, earlier.temperature_c) != (act.person.pk, celsius):
                raise Conflict("sent-before")
            return Recorded(0, 1, 0)
        Room.objects.select_for_update(no_key=True).get(pk=room.pk)
        typed = Reading.objects.filter(room=room, sensor="").exclude(set_aside=Reading.Aside.WRONG)
        others = typed.exclude(temperature_c=celsius)
        typed_at = _free_second((moment or act.happened_at).replace(microsecond=0), others)
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


def _free_second(moment: datetime, rows: QuerySet) -> datetime:
    """Return the first moment, by whole seconds from this one on, that none of these rows is of."""
    while rows.filter(at=moment).exists():
        moment += timedelta(seconds=1)
    return moment


def set_reading_aside(act: Act, *, reading: Reading) -> None:
    """Let a reading that was typed or measured wrong count no more; it stays on record.

    Crew take back what they typed themselves until the end of the farm's day.

    Raises Refused("owner-only").
    """
    _need_right(act, reading)
    with transaction.atomic():
        _count_no_more(act, reading.room, Reading.objects.filter(pk=reading.pk, set_aside=""))


def _need_right(act: Act, done: Reading | PaperLog | ProbeReading | RoomCheck) -> None:
    if not may_take_back(done, act.person, act.farm, act.at):
        need_owner(act)


def _count_no_more(act: Act, room: Room, readings: QuerySet[Reading]) -> None:
    """Mark readings of one room as wrong, and let its log be read again from the first on."""
    Room.objects.select_for_update(no_key=True).get(pk=room.pk)
    span = readings.filter(set_aside="").aggregate(first=Min("at"), last=Max("at"))
    readings.update(set_aside=Reading.Aside.WRONG, taken_back_at=act.at, taken_back_by=act.person)
    if span["first"] is not None:
        _note_change(room, at=act.at, **span)


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
        readings = Reading.objects.filter(file=file).exclude(set_aside=Reading.Aside.WRONG)
        _count_no_more(act, file.room, readings)


def type_paper_log(act: Act, *, room: Room, rows: list[tuple[datetime, float]]) -> PaperLog:
    """Write down a paper log typed in bulk. The same entry again adds nothing.

    Raises Refused("future", "six-years-ago"), Conflict("sent-before").
    """
    with transaction.atomic():
        log, made = PaperLog.objects.get_or_create(
            pk=act.id, defaults={"room": room, "person": act.person, "at": act.at}
        )
        if (log.room_id, log.person_id) != (room.pk, act.person.pk):
            raise Conflict("sent-before")
        if made:
            recorded = record_readings(
                room, rows, kind=Reading.Kind.PAPER, at=act.at, person=act.person, paper=log
            )
            log.added, log.already_there = recorded.added, recorded.already_there
            log.set_aside = recorded.set_aside
            log.save()
    return log


def take_back_paper_log(act: Act, *, log: PaperLog) -> None:
    """Let all that a paper log brought count no more; it stays on record.

    Crew take back what they typed themselves until the end of the farm's day.

    Raises Refused("owner-only").
    """
    _need_right(act, log)
    with transaction.atomic():
        if _mark_taken_back(act, PaperLog.objects.filter(pk=log.pk)):
            readings = Reading.objects.filter(paper=log).exclude(set_aside=Reading.Aside.WRONG)
            _count_no_more(act, log.room, readings)


def _mark_taken_back(act: Act, done: QuerySet[Any]) -> bool:
    """Mark a row as taken back, once; return whether it stood until now."""
    stands = done.filter(taken_back_at__isnull=True)
    return bool(stands.update(taken_back_at=act.at, taken_back_by=act.person))


def note_post(sensor: Sensor, at: datetime) -> None:
    """Note that a sensor posted, so that its silence is noticed."""
    sensor.posts = [*sensor.posts, int(at.timestamp())][-POSTS_NOTED:]
    sensor.save(update_fields=["posts"])


@recorded(Action.Kind.CHANGE)
def make_sensor(book: Book, *, name: str, room: Room) -> None:
    """Make a sensor. Its token (token_of) is shown once and kept only hashed.

    Raises Refused("owner-only", "sensor-exists").
    """
    need_owner(book.act)
    if Sensor.objects.filter(name__iexact=name, revoked_at__isnull=True).exists():
        raise Refused("sensor-exists", field="name")
    sensor = Sensor.objects.create(
        name=name, room=room, token_hash=hash_token(token_of(book.action)), made_at=book.act.at
    )
    note(book, sensor, ADDED, "", str(sensor))


def token_of(action: Action) -> str:
    """Return the token of the sensor that was made by an action.

    Drawn from the action's id and the installation's secret: a form sent twice at once answers
    the same one both times, and nothing that is stored tells it.
    """
    drawn = salted_hmac("a sensor's token", str(action.pk), algorithm="sha256")
    return urlsafe_b64encode(drawn.digest()).decode().rstrip("=")


def hash_token(token: str) -> str:
    """Return how a sensor's token is kept: random enough to need no slow hash."""
    return hashlib.sha256(token.encode()).hexdigest()


@recorded(Action.Kind.CHANGE)
def revoke_sensor(book: Book, *, sensor: Sensor) -> None:
    """End a sensor's token.

    Raises Refused("owner-only").
    """
    need_owner(book.act)
    at_work = Sensor.objects.filter(pk=sensor.pk, revoked_at__isnull=True)
    if at_work.update(revoked_at=book.act.at):
        note(book, sensor, "revoked_at", "", book.act.at.isoformat())


def probe(act: Act, *, intake: Intake, celsius: Decimal) -> ProbeReading:
    """Write down the temperature inside the produce of an intake, measured now.

    The same entry again adds nothing; another of the same moment is put after the first.

    Raises Refused("before-arrival"), Conflict("sent-before").
    """
    if act.happened_at < intake.arrived_at:
        raise Refused("before-arrival", field="pulp_c")
    said = {"intake": intake, "temperature_c": celsius, "person": act.person}
    with transaction.atomic():
        Intake.objects.select_for_update(no_key=True).get(pk=intake.pk)
        sent = ProbeReading.objects.filter(entry_id=act.id).first()
        if sent is not None:
            _need_same(sent, said)
            return sent
        counted = intake.probes.filter(taken_back_at=None)
        made = ProbeReading.objects.create(
            entry_id=act.id, at=_free_second(act.happened_at, counted), **said
        )
        forget_losses_of(intake.arrived_at, intake.arrived_at)
    return made


def _need_same(sent: ProbeReading | RoomCheck, said: dict[str, Any]) -> None:
    """Raise Conflict("sent-before") where an entry that was sent already says another thing now."""
    if any(getattr(sent, name) != value for name, value in said.items()):
        raise Conflict("sent-before")


def take_back_probe(act: Act, *, probe: ProbeReading) -> None:
    """Let a probe's reading count no more; it stays on record.

    Crew take back what they measured themselves until the end of the farm's day.

    Raises Refused("owner-only").
    """
    _need_right(act, probe)
    with transaction.atomic():
        if _mark_taken_back(act, ProbeReading.objects.filter(pk=probe.pk)):
            arrived_at = probe.intake.arrived_at
            forget_losses_of(arrived_at, arrived_at)


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
    act: Act,
    *,
    room: Room,
    celsius: float | None,
    door_shut: bool,
    odd: str,
    judged: Action | None = None,
    **weekly: bool | None,
) -> RoomCheck:
    """Write down the daily look at a room; a later one on a day replaces the earlier.

    But for what it did not look at: the earlier one's word on that stands. The same entry again
    adds nothing. judged: what was answered of the one crate asked about.

    Raises Refused("future"), Conflict("sent-before").
    """
    look = {
        "person": act.person,
        "temperature_c": celsius,
        "door_shut": door_shut,
        "odd": odd,
    }
    with transaction.atomic():
        Room.objects.select_for_update(no_key=True).get(pk=room.pk)
        sent = RoomCheck.objects.filter(entry_id=act.id).first()
        if sent is not None:
            _need_same(sent, look)
            return sent
        if celsius is not None:
            type_reading(act, room=room, celsius=celsius, moment=None)
        earlier = RoomCheck.objects.standing().filter(room=room, day=act.today).first()
        if earlier is not None and earlier.at > act.happened_at:
            return earlier
        check = RoomCheck(room=room, day=act.today, at=act.happened_at, entry_id=act.id, **look)
        check.judged = judged
        for name in RoomCheck.WEEKLY:
            answer = weekly.get(name)
            setattr(check, name, getattr(earlier, name, None) if answer is None else answer)
        return _put_in_place_of(check, earlier)


def _put_in_place_of(check: RoomCheck, earlier: RoomCheck | None) -> RoomCheck:
    """Save a check in the place of the one that stands for its day, if one does."""
    if earlier is None:
        check.save()
        return check
    # One stands a day, so that the new one begins as replaced by the old.
    check.replaced_by = earlier
    check.save()
    RoomCheck.objects.filter(pk=earlier.pk).update(replaced_by=check)
    RoomCheck.objects.filter(pk=check.pk).update(replaced_by=None)
    check.refresh_from_db()
    return check


def take_back_check(act: Act, *, check: RoomCheck) -> None:
    """Let a daily check count no more, with its temperature and what was said of its crate.

    It stays on record; what it had replaced stands again. Crew take back their own until the end
    of the farm's day.

    Raises Refused("owner-only"), Conflict("check-replaced") and what undo raises of the crate.
    """
    _need_right(act, check)
    with transaction.atomic():
        # In the order in which whoever writes a check holds them: the crate it judges, the room.
        judged = Movement.objects.filter(action=check.judged_id).values("lot")
        Lot.objects.select_for_update(no_key=True).filter(pk__in=judged).first()
        Room.objects.select_for_update(no_key=True).get(pk=check.room_id)
        check.refresh_from_db()
        if check.replaced_by_id is not None:
            raise Conflict("check-replaced")
        if not _mark_taken_back(act, RoomCheck.objects.filter(pk=check.pk)):
            return
        RoomCheck.objects.filter(replaced_by=check).update(replaced_by=None)
        # Crates are locked before the farm's row, which what happens to a log holds to its end.
        if check.judged is not None and not Action.objects.filter(undoes=check.judged).exists():
            undo(act, action=check.judged)
        if check.entry_id is not None:
            typed = Reading.objects.filter(room=check.room_id, entry_id=check.entry_id)
            _count_no_more(act, check.room, typed.exclude(set_aside=Reading.Aside.WRONG))
