"""Telling the owner by mail that a room is out of range."""

import logging
from datetime import datetime

from django.conf import settings
from django.core.mail import send_mail
from django.utils import translation
from django.utils.translation import gettext as _

from inventory import measures
from inventory.models import AlarmMail, Farm, Person
from inventory.queries.alarms import Alarm, open_alarms
from inventory.words.days import farm_days
from inventory.words.rooms import alarm_words

log = logging.getLogger(__name__)


def mail_alarms(at: datetime) -> None:
    """Mail each open alarm once, if anybody is to be told. A mail server's trouble is logged."""
    if not settings.ALARM_MAIL_TO:
        return
    for alarm in open_alarms(at):
        _made, fresh = AlarmMail.objects.get_or_create(
            room=alarm.room, started_at=alarm.started_at, side=alarm.excursion.side
        )
        if fresh:
            _mail(alarm, at)


def _mail(alarm: Alarm, at: datetime) -> None:
    """Mail one alarm in the first owner's language, the farm's unit and on its clock."""
    farm = Farm.objects.get()
    owner = Person.objects.filter(role=Person.Role.OWNER, is_active=True).order_by("pk").first()
    with translation.override(owner.language if owner else "en"), farm_days(farm, at):
        subject, body = _words(alarm, farm.temperature_unit)
    try:
        send_mail(subject, body, None, settings.ALARM_MAIL_TO)
    except OSError:
        log.exception("the alarm of %s could not be mailed", alarm.room)


def _words(alarm: Alarm, unit: str) -> tuple[str, str]:
    peak = measures.temperature_words(alarm.excursion.peak_c, unit)
    body = _(
        "At the furthest %(peak)s. Shut the door, look at the room, "
        "and say in the log what was done."
    )
    return alarm_words(alarm), body % {"peak": peak}
