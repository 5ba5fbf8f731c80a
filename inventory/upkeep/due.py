"""What the watch has to do now, decided from what was last done, sent and seen."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from itertools import pairwise
from statistics import median

NIGHT_HOUR = 2  # on the farm's clock: nobody harvests, and a copy is there before the day begins
TRY_AGAIN = timedelta(hours=1)
LEAST_SILENCE = timedelta(hours=1)
UNKNOWN_SILENCE = timedelta(days=1)  # of a sensor that has not yet shown how often it posts
# What is older is not said any more: sent mail is dropped in time, and with it that it was said.
SAID_FOR = timedelta(days=21)
WEEK_HOUR = 17  # on the farm's clock: the market is in, and nobody sits at supper yet
WEEK_TOLD_LATE = timedelta(days=2)  # where nobody kept watch at that hour
CHECKS_KEPT_UP = timedelta(days=14)
LONGEST_GAP = timedelta(hours=1)
LONGEST_BREAK = timedelta(minutes=15)  # a copy of years takes a while, and the watch stands by it


@dataclass(frozen=True)
class Task:
    """One thing to do now. about: the key of the message to write, or nothing."""

    kind: str
    about: str = ""


@dataclass(frozen=True)
class Posting:
    """A sensor at work: the moments of its last posts, oldest first."""

    sensor: int
    posts: tuple[datetime, ...]

    @classmethod
    def of(cls, sensor: int, posts_s: Iterable[float]) -> "Posting":
        """Return one from the moments as they are kept, in seconds since 1970."""
        return cls(sensor, tuple(datetime.fromtimestamp(moment, UTC) for moment in posts_s))


@dataclass(frozen=True)
class Done:
    """When a chore was last tried, and when it was last done."""

    tried_at: datetime
    done_at: datetime | None


@dataclass(frozen=True)
class Facts:
    """What was last done, sent and seen.

    mailed: whether the farm names anybody to be told; said: keys of messages that are written
    already; next_tries: when each message that waits is to be tried; alarms: keys of the alarms
    that are open; unchecked: whether a room has no check today; checked_on: the last day with
    one; listening_since: since when the watch goes its rounds; done: chores by name, with nothing
    for one that was never tried; week_mail_day, week_start: weekdays, 0 is Monday.
    """

    zone: tzinfo
    check_hour: int
    mailed: bool
    listening_since: datetime
    done: Mapping[str, Done | None]
    said: frozenset[str] = frozenset()
    next_tries: tuple[datetime, ...] = ()
    alarms: tuple[str, ...] = ()
    sensors: tuple[Posting, ...] = field(default=())
    unchecked: bool = False
    checked_on: date | None = None
    week_mail_day: int | None = None
    week_start: int = 0


def due(now: datetime, facts: Facts) -> list[Task]:
    """Return what is to be done now, in this order: first what somebody must hear of, at last
    what can wait.
    """
    tasks: list[Task] = []
    if facts.mailed:
        tasks += [Task("alarm", key) for key in facts.alarms if key not in facts.said]
        tasks += _silent(now, facts)
        tasks += _check_missed(now, facts)
        tasks += _week_to_tell(now, facts)
        if tasks or any(_has_come(moment, now) for moment in facts.next_tries):
            tasks.append(Task("mail"))
    night = last_night(now, facts.zone)
    return tasks + [
        Task("chore", name) for name, done in facts.done.items() if is_due(done, night, now)
    ]


def _silent(now: datetime, facts: Facts) -> Iterator[Task]:
    """Yield the silences nobody was told of yet, but for those of weeks ago."""
    for sensor in facts.sensors:
        key = silence_key(sensor)
        if not is_silent(sensor, now, facts.listening_since) or key in facts.said:
            continue
        if now - sensor.posts[-1] <= SAID_FOR:
            yield Task("silent", key)


def is_silent(sensor: Posting, now: datetime, listening_since: datetime) -> bool:
    """Return whether a sensor that posts has gone silent.

    Nothing is silent that could not have been heard: time counts from when the watch listens.
    """
    if not sensor.posts:
        return False
    return now - max(sensor.posts[-1], listening_since) > longest_silence(sensor.posts)


def longest_silence(posts: tuple[datetime, ...]) -> timedelta:
    """Return how long a sensor may say nothing: twice its usual gap, one hour at the least.

    posts: moments of its last posts. Of fewer than three no gap is usual yet.
    Example: posts at 08:00, 08:40, 09:20 → 1 h 20 min.
    """
    if len(posts) < 3:
        return UNKNOWN_SILENCE
    gaps_s = [(later - earlier).total_seconds() for earlier, later in pairwise(posts)]
    return max(timedelta(seconds=2 * median(gaps_s)), LEAST_SILENCE)


def silence_key(sensor: Posting) -> str:
    """Return what a silence is said under: the sensor, and its last post; nothing without one."""
    return f"silent {sensor.sensor} {sensor.posts[-1].timestamp():.0f}" if sensor.posts else ""


def _check_missed(now: datetime, facts: Facts) -> Iterator[Task]:
    """Yield that today's check is missing, on a farm that has kept checks up until now."""
    local = now.astimezone(facts.zone)
    key = f"check {local.date()}"
    kept_up = facts.checked_on and local.date() - facts.checked_on <= CHECKS_KEPT_UP
    if facts.unchecked and kept_up and local.hour >= facts.check_hour and key not in facts.said:
        yield Task("unchecked", key)


def _week_to_tell(now: datetime, facts: Facts) -> Iterator[Task]:
    """Yield the week that is to be mailed, from its hour on the chosen day."""
    if facts.week_mail_day is None:
        return
    local = now.astimezone(facts.zone)
    day = local.date() - timedelta(days=(local.weekday() - facts.week_mail_day) % 7)
    at = datetime.combine(day, time(WEEK_HOUR), facts.zone)
    key = week_key(week_told_on(day, facts.week_start))
    if timedelta(0) <= now - at <= WEEK_TOLD_LATE and key not in facts.said:
        yield Task("week", key)


def week_told_on(day: date, week_start: int) -> date:
    """Return the first day of the week that is told on a day: the last that is over by its end.

    Example: on Sunday 22 November, of weeks that begin on Monday → 16 November
    """
    after = day + timedelta(days=1)
    return after - timedelta(days=(after.weekday() - week_start) % 7 + 7)


def week_key(first_day: date) -> str:
    return f"week {first_day}"


def _has_come(moment: datetime, now: datetime) -> bool:
    """Return whether a try is due; one further off than any gap was noted under a wrong clock."""
    return moment <= now or moment > now + LONGEST_GAP


def last_night(now: datetime, zone: tzinfo) -> datetime:
    """Return when the night's work last fell due, in UTC.

    Example: at 14:05 in a zone of UTC+1 → 01:00 UTC of that day, 02:00 on the farm's clock.
    """
    local = now.astimezone(zone)
    night = local.replace(hour=NIGHT_HOUR, minute=0, second=0, microsecond=0, fold=0)
    if local < night:
        night -= timedelta(days=1)
    return night.astimezone(UTC)


def is_due(done: Done | None, night: datetime, now: datetime) -> bool:
    """Return whether a chore was not done since the night, nor tried just now.

    A note from the future was made under a wrong clock, and counts for nothing.
    """
    if done is None:
        return True
    if done.done_at is not None and night <= done.done_at <= now:
        return False
    return not now - TRY_AGAIN < done.tried_at <= now


def gap_after(tries: int) -> timedelta:
    """Return how long a message waits after so many tries in vain: 1, 2, 4, … 60 minutes."""
    return min(timedelta(minutes=2 ** min(tries - 1, 10)), LONGEST_GAP)
