"""Days, moments and spans of time in words."""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import lru_cache

from django.utils import timezone
from django.utils.dateformat import format as date_format
from django.utils.timezone import localtime
from django.utils.translation import get_language, ngettext
from django.utils.translation import gettext as _

from inventory.models import Farm

# A day further off than this carries its year.
THREE_MONTHS = timedelta(days=92)


@dataclass(frozen=True)
class _Manner:
    """How days are said: the American way or not, and from which day on they are seen."""

    american: bool = False
    today: date | None = None


_MANNER = ContextVar("how days are said", default=_Manner())  # noqa: B039, it is frozen


@contextmanager
def farm_days(farm: Farm, at: datetime) -> Iterator[None]:
    """Say days and moments, within this, on the farm's clock and in its manner."""
    american = farm.region == Farm.Region.US
    token = _MANNER.set(_Manner(american, at.astimezone(farm.zone).date()))
    try:
        with timezone.override(farm.zone):
            yield
    finally:
        _MANNER.reset(token)


def is_american() -> bool:
    """Return whether days and times are said the American way."""
    return _MANNER.get().american


def day_words(day: date) -> str:
    """Return a day short enough for a row, in the reader's language: Wed 25 Nov, or Wed Nov 25.

    Of a moment it is the day on the farm's clock. One more than three months off has its year.
    """
    return _day_words(localtime(day).date() if isinstance(day, datetime) else day)


def _day_words(local: date) -> str:
    manner = _MANNER.get()
    far = manner.today is not None and abs(local - manner.today) > THREE_MONTHS
    return _in_words(local, manner.american, far, get_language())


@lru_cache(maxsize=1000)
def _in_words(day: date, american: bool, far: bool, language: str | None) -> str:
    """Return a day in the language that is read now, which is given to tell answers apart."""
    if american:
        pattern = _("D M j, Y") if far else _("D M j")
    else:
        pattern = _("D j M Y") if far else _("D j M")
    return date_format(day, pattern)


def time_words(moment: datetime) -> str:
    """Return the time of day on the farm's clock: 14:05, or 2:05 PM."""
    return _time_words(localtime(moment))


def _time_words(local: datetime) -> str:
    return date_format(local, "g:i A") if _MANNER.get().american else f"{local:%H:%M}"


def moment_words(moment: datetime) -> str:
    """Return a moment on the farm's clock: Wed 25 Nov 14:05, or Wed Nov 25 2:05 PM."""
    local = localtime(moment)
    return f"{_day_words(local.date())} {_time_words(local)}"


def clock_words(moment: datetime, today: date) -> str:
    """Return a moment of today by its time alone."""
    return time_words(moment) if localtime(moment).date() == today else moment_words(moment)


def weekday_words(day: date) -> str:
    """Return a day of a month that is known: Wed 25."""
    return date_format(day, "D j")


def long_weekday_words(day: date) -> str:
    """Return a day of the next eight, within a sentence: Thursday, jueves."""
    name = date_format(day, "l")
    return name if get_language() == "en" else name.lower()


def month_words(day: date) -> str:
    """Return a day's month and year: November 2026."""
    return date_format(day, _("F Y"))


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
