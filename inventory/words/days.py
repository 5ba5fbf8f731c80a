"""Days, moments and spans of time in words."""

from datetime import date, datetime

from django.utils.formats import date_format
from django.utils.timezone import localtime
from django.utils.translation import gettext as _
from django.utils.translation import ngettext


def day_words(day: date) -> str:
    """Return a day short enough for a row, in the reader's language: Wed 25 Nov.

    Of a moment it is the day on the farm's clock.
    """
    return date_format(localtime(day) if isinstance(day, datetime) else day, _("D j M"))


def moment_words(moment: datetime) -> str:
    """Return a moment on the farm's clock: Wed 25 Nov 14:05."""
    local = localtime(moment)
    return f"{day_words(local)} {local:%H:%M}"


def clock_words(moment: datetime, today: date) -> str:
    """Return a moment of today by its time alone."""
    local = localtime(moment)
    return f"{local:%H:%M}" if local.date() == today else moment_words(moment)


def days_words(count: int) -> str:
    return ngettext("%(count)d day", "%(count)d days", count) % {"count": count}


def hours_words(hours: float) -> str:
    """Return a span of time: 3 h 10 min, or 25 min."""
    minutes = round(hours * 60)
    if minutes < 60:
        return _("%(minutes)s min") % {"minutes": minutes}
    if not minutes % 60:
        return f"{minutes // 60} h"
    return _("%(hours)s h %(minutes)s min") % {"hours": minutes // 60, "minutes": minutes % 60}


def lost_words(hours: float) -> str:
    """Return how much keeping life something cost: about 5 hours, about half a day."""
    if hours < 9:
        return ngettext("about %(n)d hour", "about %(n)d hours", round(hours)) % {"n": round(hours)}
    if hours < 18:
        return _("about half a day")
    days = round(hours / 24)
    return ngettext("about %(n)d day", "about %(n)d days", days) % {"n": days}
