"""Messages to the owner: written once into a queue, sent from it until each has gone out."""

import hashlib
import logging
import smtplib
import ssl
from collections.abc import Callable
from datetime import date, datetime, timedelta

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.db import transaction
from django.db.models import F, Q, QuerySet
from django.utils import translation
from django.utils.translation import gettext as _

from inventory import measures
from inventory.models import AlarmMail, Farm, Mail, Person, Sensor
from inventory.queries.alarms import Alarm, open_alarms
from inventory.queries.kept_order import read_kept_order
from inventory.queries.temperatures import rooms_unchecked
from inventory.queries.week import ledger_differs, read_weeks
from inventory.upkeep.due import LONGEST_GAP, gap_after
from inventory.words.days import farm_days, moment_words
from inventory.words.rooms import alarm_words
from inventory.words.week import week_mail

log = logging.getLogger(__name__)

KEPT_FOR = timedelta(days=30)
MOST_A_ROUND = 20

Words = Callable[[Farm], tuple[str, str]]


def queue(key: str, at: datetime, words: Words) -> None:
    """Write a message, unless one of this key was written.

    It is in the first owner's language, the farm's unit and on its clock, and says when it was
    written: it may come late.
    """
    if Mail.objects.filter(key=key).exists():
        return
    farm = Farm.objects.get()
    owner = Person.objects.filter(role=Person.Role.OWNER, is_active=True).order_by("pk").first()
    with translation.override(owner.language if owner else "en"), farm_days(farm, at):
        subject, body = words(farm)
        body = f"{body}\n\n{farm.name}, {moment_words(at)}\n"
    Mail.objects.get_or_create(
        key=key,
        defaults={"subject": subject[:200], "body": body, "written_at": at, "next_try_at": at},
    )


def alarm_key(room: int, started_at: datetime, side: str) -> str:
    return f"alarm {room} {started_at.timestamp():.0f} {side}"


def queue_alarms(at: datetime) -> None:
    """Write of each open alarm once, if anybody is to be told. Nothing is sent here."""
    if not settings.ALARM_MAIL_TO:
        return
    for alarm in open_alarms(at):
        _write_of(alarm, at)


def _write_of(alarm: Alarm, at: datetime) -> None:
    started_at, side = alarm.started_at, alarm.excursion.side
    noted = AlarmMail.objects.filter(room=alarm.room, started_at=started_at, side=side)
    if noted.exists():
        return
    with transaction.atomic():
        AlarmMail.objects.get_or_create(room=alarm.room, started_at=started_at, side=side)
        key = alarm_key(alarm.room.pk, started_at, side)
        queue(key, at, lambda farm: _of_alarm(alarm, farm))


def _of_alarm(alarm: Alarm, farm: Farm) -> tuple[str, str]:
    peak = measures.temperature_words(alarm.excursion.peak_c, farm.temperature_unit)
    body = _(
        "At the furthest %(peak)s. Shut the door, look at the room, "
        "and say in the log what was done."
    )
    return alarm_words(alarm), body % {"peak": peak}


def queue_silence(key: str, at: datetime) -> None:
    """Write that a sensor has gone silent. key: due.silence_key of it."""
    _silent, pk, posted_s = key.split()
    sensor = Sensor.objects.select_related("room").get(pk=int(pk))
    posted_at = datetime.fromtimestamp(int(posted_s), at.tzinfo)
    queue(key, at, lambda _farm: _of_silence(sensor, posted_at))


def _of_silence(sensor: Sensor, posted_at: datetime) -> tuple[str, str]:
    facts = {"sensor": sensor.name, "room": sensor.room, "when": moment_words(posted_at)}
    body = _(
        "It last sent a temperature on %(when)s. Look at its power and its signal. Until it is "
        "heard again, read the thermometer and write that down in the log."
    )
    return _("%(room)s: the sensor %(sensor)s is silent") % facts, body % facts


def queue_unchecked(key: str, at: datetime) -> None:
    """Write which rooms nobody has checked today."""
    rooms = rooms_unchecked(Farm.objects.get(), at)
    if rooms:
        queue(key, at, lambda _farm: _of_unchecked(", ".join(room.name for room in rooms)))


def _of_unchecked(rooms: str) -> tuple[str, str]:
    subject = _("Not checked today: %(rooms)s") % {"rooms": rooms}
    return subject, _("Look at the door and the thermometer, and write the check down in the log.")


def queue_week(key: str, at: datetime) -> None:
    """Write the first screen of a week. key: due.week_key of it."""
    first_day = date.fromisoformat(key.split()[1])
    queue(
        key,
        at,
        lambda farm: week_mail(
            read_weeks(farm, first_day), read_kept_order(farm, first_day), farm, ledger_differs()
        ),
    )


def queue_differences(found: str, at: datetime) -> None:
    """Write what the nightly check of the ledger found; the same again is not said every night."""
    digest = hashlib.sha256(found.encode()).hexdigest()
    queue(f"ledger {digest}", at, lambda _farm: _of_differences(found))


def _of_differences(found: str) -> tuple[str, str]:
    body = _(
        "The crates below are kept otherwise than their entries say. No entry is lost. Count them, "
        "and show this to whoever looks after the program."
    )
    return _("The nightly check found something in the log"), f"{body}\n\n{found}"


def send_waiting(at: datetime) -> None:
    """Send what waits. At the first trouble the rest is left for the next round.

    Each message is claimed before it is sent, so that two watches send it once. Only where the
    machine dies between the server's yes and our note of it does a message go out twice.
    """
    if not settings.ALARM_MAIL_TO:
        return
    for mail in waiting(at)[:MOST_A_ROUND]:
        if _claimed(mail, at) and not _sent(mail, at):
            return


def waiting(at: datetime) -> QuerySet[Mail]:
    """Return the messages to be tried now; one put off under a wrong clock is among them."""
    come = Q(next_try_at__lte=at) | Q(next_try_at__gt=at + LONGEST_GAP)
    return Mail.objects.filter(come, sent_at=None)


def _claimed(mail: Mail, at: datetime) -> bool:
    """Return whether this try is ours: of two at once the second finds another number of tries."""
    stands = Mail.objects.filter(pk=mail.pk, tries=mail.tries, sent_at=None)
    tries = mail.tries + 1
    return bool(stands.update(tries=F("tries") + 1, next_try_at=at + gap_after(tries)))


def _sent(mail: Mail, at: datetime) -> bool:
    row = Mail.objects.filter(pk=mail.pk)
    try:
        _post(mail)
    except Exception as error:  # whatever it is, the message must not be lost
        log.warning("a message could not be mailed and will be tried again: %s", error)
        row.update(trouble=trouble_of(error), server_said=str(error)[:200])
        return False
    row.update(sent_at=at, trouble="", server_said="")
    return True


def _post(mail: Mail) -> None:
    """Hand a message to the mail server, and hang up also where it did not come to that."""
    server = get_connection()
    try:
        EmailMessage(
            mail.subject, mail.body, None, settings.ALARM_MAIL_TO, connection=server
        ).send()
    finally:
        server.close()


def trouble_of(error: Exception) -> str:
    """Return the code of what went wrong with the mail server; words/health.py has a sentence."""
    if not settings.EMAIL_HOST:
        return "no-server"
    if isinstance(error, smtplib.SMTPNotSupportedError) and "STARTTLS" in str(error):
        return "no-tls"
    kinds: list[tuple[type[Exception], str]] = [
        (smtplib.SMTPAuthenticationError, "password"),
        (smtplib.SMTPRecipientsRefused, "address"),
        (smtplib.SMTPSenderRefused, "address"),
        (ssl.SSLCertVerificationError, "certificate"),
        (OSError, "no-answer"),
    ]
    return next((code for kind, code in kinds if isinstance(error, kind)), "other")


def drop_sent(at: datetime) -> None:
    """Forget what was sent long ago. What waits is never dropped."""
    Mail.objects.filter(sent_at__lt=at - KEPT_FOR).delete()
