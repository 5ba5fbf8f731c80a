"""How the log itself is doing, a line a thing: a mark, what it is about, how that stands."""

from dataclasses import dataclass
from datetime import datetime

from django.utils.formats import number_format
from django.utils.timezone import localtime
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inventory.models import Chore, TemperatureFile
from inventory.queries.health import Health, Post, RoomSeen, SensorSeen
from inventory.words.days import clock_words, day_words

GOOD, BAD, NEUTRAL = "✓", "!", "–"


@dataclass(frozen=True)
class Line:
    """One thing. details: what a person who looks after the program wants to read."""

    mark: str
    title: str
    words: str
    details: str = ""

    @property
    def is_bad(self) -> bool:
        return self.mark == BAD


def health_lines(health: Health) -> list[Line]:
    """Return all lines, those to look at first."""
    lines = [
        _watch_line(health),
        _copy_line(health),
        _post_line(health),
        _ledger_line(health),
        _disk_line(health),
        *[_room_line(seen) for seen in health.rooms],
        *[_sensor_line(health, seen) for seen in health.sensors],
        *[_file_line(health, *one) for one in health.failed],
        *_clearing_lines(health),
        Line(NEUTRAL, _("Program"), f"{health.version}, {health.database}".lstrip(", ")),
    ]
    return sorted(lines, key=lambda line: not line.is_bad)


def _when(health: Health, moment: datetime) -> str:
    return clock_words(moment, localtime(health.at).date())


def _watch_line(health: Health) -> Line:
    title = _("The watch")
    if health.is_watched:
        awake = _("Awake, last at %(when)s.")
        return Line(GOOD, title, awake % {"when": _when(health, health.watch.last_round_at)})
    what = _("Nothing is mailed, copied or checked. Run start, or manage.py watch beside it.")
    if health.watch is None:
        return Line(BAD, title, what)
    since = _("Asleep since %(when)s.") % {"when": _when(health, health.watch.last_round_at)}
    return Line(BAD, title, f"{since} {what}")


def _copy_line(health: Health) -> Line:
    title, chore = _("Last copy"), health.chores.get("copy")
    when = _when(health, health.copied_at) if health.copied_at else _("None yet.")
    if chore is not None and chore.trouble:
        words = _("%(when)s. Since then it failed: see below.") if health.copied_at else "%(when)s"
        return Line(BAD, title, words % {"when": when}, chore.trouble)
    return Line(BAD if health.is_old(health.copied_at) else GOOD, title, when)


def _post_line(health: Health) -> Line:
    title, post = _("Mail"), health.post
    waits = _waiting_words(post)
    if post.lacks == "nobody":
        return Line(NEUTRAL, title, _("Nobody is told of alarms: COLDROOM_ALARM_MAIL is not set."))
    if post.lacks:
        return Line(BAD, title, f"{trouble_words(post.lacks)} {waits}".strip())
    if post.failed is not None:
        next_try = _("Next try %(when)s.") % {"when": _when(health, post.failed.next_try_at)}
        words = f"{trouble_words(post.failed.trouble)} {waits} {next_try}"
        return Line(BAD, title, words, post.failed.server_said)
    if waits:
        return Line(NEUTRAL, title, waits)
    words = _("Nothing waits.")
    if post.sent_at:
        words += " " + _("Last sent %(when)s.") % {"when": _when(health, post.sent_at)}
    return Line(GOOD, title, words)


def _waiting_words(post: Post) -> str:
    if not post.waiting:
        return ""
    words = ngettext("%(n)d message waits.", "%(n)d messages wait.", post.waiting)
    return words % {"n": post.waiting}


def trouble_words(trouble: str) -> str:
    """Return what is wrong with the mail server, and what to do."""
    return {
        "no-server": _("No mail server is named: COLDROOM_MAIL_HOST is not set."),
        "no-tls": _(
            "The mail server offers no TLS on this port, so neither password nor message was "
            "sent. Ports 465 and 587 do."
        ),
        "password": _("The mail server refuses the name or the password."),
        "address": _("The mail server refuses the address it goes to or comes from."),
        "certificate": _("The mail server's certificate is not good, so nothing was sent."),
        "no-answer": _("The mail server does not answer as it should."),
        "other": _("A message could not be sent."),
    }[trouble]


def _ledger_line(health: Health) -> Line:
    title, chore = _("Adding up"), health.chores.get("ledger")
    if chore is None or (chore.done_at is None and not chore.trouble):
        return Line(NEUTRAL, title, _("Not checked yet."))
    if chore.trouble:
        return Line(BAD, title, _("It could not be checked."), chore.trouble)
    when = {"when": _when(health, chore.done_at)}
    if chore.found:
        words = _("Checked %(when)s: some crates are kept otherwise than their entries say.")
        return Line(BAD, title, words % when, chore.found)
    words = _("Checked %(when)s: every crate is as its entries say.")
    return Line(BAD if health.is_old(chore.done_at) else GOOD, title, words % when)


def _disk_line(health: Health) -> Line:
    title, free = _("Disk"), {"free": size_words(health.free_bytes)}
    if health.is_full:
        words = _("Only %(free)s free. Make room, or soon nothing more can be written down.")
        return Line(BAD, title, words % free)
    return Line(GOOD, title, _("%(free)s of room left") % free)


def size_words(size: int) -> str:
    """Return an amount of storage: 820 MB, 3.4 GB, 120 GB."""
    if size < 10**9:
        return f"{size // 10**6} MB"
    return f"{number_format(size / 10**9, 1 if size < 10**10 else 0)} GB"


def _room_line(seen: RoomSeen) -> Line:
    title = _("Check of %(room)s") % {"room": seen.room}
    if seen.check is None:
        return Line(NEUTRAL, title, _("Never yet."))
    facts = {"when": day_words(seen.check.day), "who": seen.check.person}
    if seen.is_missed:
        return Line(BAD, title, _("Missed. The last was %(when)s, by %(who)s.") % facts)
    return Line(GOOD, title, _("%(when)s, by %(who)s") % facts)


def _sensor_line(health: Health, seen: SensorSeen) -> Line:
    title = f"{seen.sensor.name} ({seen.sensor.room})"
    if seen.reading_at is None:
        return Line(BAD if seen.is_silent else NEUTRAL, title, _("No reading yet."))
    when = {"when": _when(health, seen.reading_at)}
    if seen.is_silent:
        words = _("Silent. Last reading %(when)s. Look at its power and its signal.")
        return Line(BAD, title, words % when)
    return Line(GOOD, title, _("Last reading %(when)s") % when)


def _file_line(health: Health, file: TemperatureFile, trouble: str) -> Line:
    title = _("Logger's file for %(room)s") % {"room": file.room}
    words = _("Sent %(when)s and not loaded: the others go on without it, it is tried every hour.")
    return Line(BAD, title, words % {"when": _when(health, file.uploaded_at)}, trouble)


def _clearing_lines(health: Health) -> list[Line]:
    """Return a line for each kind of old things that could not be cleared away."""
    titles = {
        "photos": _("Old photos"),
        "uploads": _("Files nobody confirmed"),
        "mail": _("Mail sent long ago"),
    }
    troubled = [chore for chore in health.chores.values() if chore.trouble]
    return [_clearing_line(titles[one.name], one) for one in troubled if one.name in titles]


def _clearing_line(title: str, chore: Chore) -> Line:
    return Line(BAD, title, _("Could not be cleared away."), chore.trouble)
