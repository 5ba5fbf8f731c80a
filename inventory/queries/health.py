"""How the log itself is doing: what keeps it going, and whether that worked the last time."""

import shutil
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.db import connection
from django.db.models import Max

from inventory.models import (
    Chore,
    Farm,
    Mail,
    Reading,
    Room,
    RoomCheck,
    Sensor,
    TemperatureFile,
    Watch,
)
from inventory.queries.imports import failed_files
from inventory.upkeep.due import LONGEST_BREAK, Posting, is_silent

LITTLE_BYTES = 10**9  # a year of a busy farm is a tenth of it. Common practice, no source.
LONG_AGO = timedelta(days=2)  # for what is done every night: one night may be missed


@dataclass(frozen=True)
class SensorSeen:
    """A sensor at work, its last reading, and whether it has gone silent."""

    sensor: Sensor
    reading_at: datetime | None
    is_silent: bool


@dataclass(frozen=True)
class RoomSeen:
    """A room and its last daily check. is_missed: it should have been looked at since."""

    room: Room
    check: RoomCheck | None
    is_missed: bool


@dataclass(frozen=True)
class Post:
    """The farm's mail: how much waits, the message that failed last, and what was sent last.

    lacks: what has to be set before anything can be sent: "nobody", "no-server", or nothing.
    """

    lacks: str
    waiting: int
    failed: Mail | None
    sent_at: datetime | None


@dataclass(frozen=True)
class Health:
    """What the owner's page of it shows.

    copied_at: when the last good copy was made. failed: loggers' files that fail again and again,
    and why.
    """

    at: datetime
    watch: Watch | None
    free_bytes: int
    copied_at: datetime | None
    sensors: list[SensorSeen]
    rooms: list[RoomSeen]
    post: Post
    chores: dict[str, Chore]
    failed: list[tuple[TemperatureFile, str]]
    version: str
    database: str

    @property
    def is_watched(self) -> bool:
        return self.watch is not None and self.at - self.watch.last_round_at <= LONGEST_BREAK

    @property
    def is_full(self) -> bool:
        return self.free_bytes < LITTLE_BYTES

    def is_old(self, moment: datetime | None) -> bool:
        return moment is None or self.at - moment > LONG_AGO


def read_health(farm: Farm, at: datetime, copied_at: datetime | None) -> Health:
    watch = Watch.objects.first()
    return Health(
        at=at,
        watch=watch,
        free_bytes=shutil.disk_usage(settings.DATA_DIR).free,
        copied_at=copied_at,
        sensors=_sensors(at, watch.since if watch else at),
        rooms=_rooms(farm, at),
        post=_post(),
        chores={chore.name: chore for chore in Chore.objects.all()},
        failed=failed_files(),
        version=settings.VERSION,
        database=connection.display_name,
    )


def _sensors(at: datetime, listening_since: datetime) -> list[SensorSeen]:
    found = []
    for sensor in Sensor.objects.filter(revoked_at__isnull=True).select_related("room"):
        # Asked as the index is made, one step finds the last of years.
        own = Reading.objects.filter(room=sensor.room, sensor=sensor.name)
        counting = own.exclude(set_aside=Reading.Aside.WRONG)
        last = counting.order_by("-at").values_list("at", flat=True).first()
        posting = Posting.of(sensor.pk, sensor.posts)
        silent = is_silent(posting, at, listening_since)
        found.append(SensorSeen(sensor, last, silent))
    return found


def _rooms(farm: Farm, at: datetime) -> list[RoomSeen]:
    local = at.astimezone(farm.zone)
    expected = local.date() - timedelta(days=int(local.hour < settings.CHECK_HOUR))
    found = []
    for room in Room.objects.all():
        checks = RoomCheck.objects.standing().filter(room=room).select_related("person")
        last = checks.order_by("-day").first()
        found.append(RoomSeen(room, last, last is not None and last.day < expected))
    return found


def _post() -> Post:
    waiting = Mail.objects.filter(sent_at=None)
    lacks = "" if settings.EMAIL_HOST else "no-server"
    return Post(
        lacks=lacks if settings.ALARM_MAIL_TO else "nobody",
        waiting=waiting.count(),
        failed=waiting.exclude(trouble="").order_by("-next_try_at").first(),
        sent_at=Mail.objects.aggregate(at=Max("sent_at"))["at"],
    )
