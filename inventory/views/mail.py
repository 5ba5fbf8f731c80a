"""Telling the owner by mail that a room is out of range."""

import logging
from datetime import datetime

from django.conf import settings
from django.core.mail import send_mail

from inventory.models import AlarmMail
from inventory.queries.temperatures import open_alarms

log = logging.getLogger(__name__)


def mail_alarms(at: datetime) -> None:
    """Mail each open alarm once, if anybody is to be told. A mail server's trouble is logged."""
    if not settings.ALARM_MAIL_TO:
        return
    for alarm in open_alarms(at):
        _, fresh = AlarmMail.objects.get_or_create(room=alarm.room, started_at=alarm.started_at)
        if fresh:
            _mail(alarm)


def _mail(alarm) -> None:
    side = "warm" if alarm.excursion.side == "warm" else "cold"
    subject = f"{alarm.room}: too {side} for {alarm.hours} h"
    body = (
        f"{subject}, at the furthest {alarm.excursion.peak_c:.1f} °C.\n"
        "Shut the door, look at the room, and say in the log what was done.\n"
    )
    try:
        send_mail(subject, body, None, settings.ALARM_MAIL_TO)
    except OSError:
        log.exception("the alarm of %s could not be mailed", alarm.room)
