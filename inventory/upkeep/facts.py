"""What was last done, sent and seen: read for inventory.upkeep.due."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.conf import settings

from inventory.models import AlarmMail, Chore, Farm, Mail, RoomCheck, Sensor, Watch
from inventory.queries.alarms import Alarm, open_alarms
from inventory.queries.temperatures import rooms_unchecked
from inventory.upkeep.due import LONGEST_BREAK, Done, Facts, Posting
from inventory.upkeep.mail import alarm_key


def read_facts(farm: Farm, at: datetime, chores: Iterable[str]) -> Facts:
    """Return what is known now. chores: the names of those this program has, in their order."""
    done = {row.name: Done(row.tried_at, row.done_at) for row in Chore.objects.all()}
    watch = Watch.objects.first()
    mailed = bool(settings.ALARM_MAIL_TO)
    alarms = open_alarms(at) if mailed else []
    checked = RoomCheck.objects.standing().order_by("-day").values_list("day", flat=True)
    return Facts(
        zone=farm.zone,
        check_hour=settings.CHECK_HOUR,
        mailed=mailed,
        listening_since=watch.since if watch else at,
        done={name: done.get(name) for name in chores},
        said=frozenset(Mail.objects.values_list("key", flat=True)) | _said_before(alarms),
        next_tries=tuple(Mail.objects.filter(sent_at=None).values_list("next_try_at", flat=True)),
        alarms=tuple(
            alarm_key(alarm.room.pk, alarm.started_at, alarm.excursion.side) for alarm in alarms
        ),
        sensors=read_posting(),
        unchecked=bool(rooms_unchecked(farm, at)),
        checked_on=checked.first(),
        week_mail_day=farm.week_mail_day,
        week_start=farm.week_start,
    )


def _said_before(alarms: list[Alarm]) -> frozenset[str]:
    """Return the keys of alarms that were written of, also long ago."""
    if not alarms:
        return frozenset()
    noted = AlarmMail.objects.filter(started_at__gte=min(alarm.started_at for alarm in alarms))
    return frozenset(alarm_key(note.room_id, note.started_at, note.side) for note in noted)


def read_posting() -> tuple[Posting, ...]:
    """Return the sensors at work, and when each posted the last few times."""
    return tuple(
        Posting.of(sensor.pk, sensor.posts)
        for sensor in Sensor.objects.filter(revoked_at__isnull=True).order_by("pk")
    )


def note_round(at: datetime) -> None:
    """Note that the watch is awake; after a break it listens from now on."""
    watch = Watch.objects.first()
    awake = watch is not None and timedelta(0) <= at - watch.last_round_at <= LONGEST_BREAK
    since = watch.since if watch is not None and awake else at
    Watch.objects.update_or_create(pk=1, defaults={"since": since, "last_round_at": at})
