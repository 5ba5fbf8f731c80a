"""Orders in words."""

from datetime import time
from urllib.parse import quote

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inventory import measures
from inventory.keeping.chilling import days_to_injury
from inventory.models import Crop, Outlet
from inventory.queries.book import CASE, BookOrder, Planned, Wanted
from inventory.queries.orders import LineNow, OrderNow
from inventory.rotation import Short
from inventory.rotation.fit import WAS_OUT
from inventory.words.days import day_words, is_american
from inventory.words.units import amount_words, unit_words

_MOST_NAMED = 3


def short_words(short: Short, unit: str) -> str:
    """Return why a line of an order will not be filled; of several reasons how much for each."""
    if len(short.parts) == 1:
        return reason_words(short.reason)
    told = [
        f"{amount_words(amount, unit)}: {reason_words(reason)}" for reason, amount in short.parts
    ]
    return "; ".join(told)


def reason_words(reason: str) -> str:
    return {
        "none": _("there is none in the rooms that may go"),
        "refused": _("the rest is something they do not take"),
        "too-old": _("the rest would not keep long enough there"),
        "not-enough": _("there is no more that may go"),
    }[reason]


def restriction_words(restriction: str) -> str:
    """Return why a buyer refuses a crate."""
    return {
        "bought-in": _("it was bought in"),
        "not-organic": _("it is not organic"),
        WAS_OUT: _("it was out of our hands"),
    }[restriction]


def fridge_caution(crop: Crop, outlet: Outlet) -> str:
    """Return that a crop is not for this buyer's fridge: nobody has shown that it stands that."""
    too_cold = days_to_injury(crop.reference, outlet.fridge) is None
    return _("Not in the fridge") if too_cold else ""


def order_words(now: OrderNow) -> str:
    """Return how far an order is: 6 lines: 4 got, 2 to get."""
    lines = len(now.lines)
    told = ngettext("%(n)d line", "%(n)d lines", lines) % {"n": lines}
    if now.got == lines:
        return _("%(lines)s, all got") % {"lines": told}
    if not now.is_begun:
        crops = ", ".join(line.line.crop.shown_name for line in now.lines[:_MOST_NAMED])
        return f"{told}: {crops}…" if lines > _MOST_NAMED else f"{told}: {crops}"
    facts = {"lines": told, "got": now.got, "rest": lines - now.got}
    return _("%(lines)s: %(got)d got, %(rest)d to get") % facts


def lacking_words(line: LineNow) -> str:
    """Return what a line will lack, and whether the buyer knows: Kale: 6 bunches missing."""
    facts = {
        "crop": line.line.crop.shown_name,
        "quantity": amount_words(line.lacks, line.line.unit),
    }
    return _("%(crop)s: %(quantity)s missing") % facts


def short_sms(now: OrderNow) -> str:
    """Return a link that opens the phone's own messages with that text."""
    return sms_link(now.order.outlet.telephone, short_message(now))


def sms_link(telephone: str, text: str) -> str:
    """Return a link that opens the phone's own messages with a text (RFC 5724)."""
    return f"sms:{_dialled(telephone)}?body={quote(text)}"


def tel_link(outlet: Outlet) -> str:
    """Return a link that dials a buyer's number (RFC 3966)."""
    return f"tel:{_dialled(outlet.telephone)}"


def _dialled(telephone: str) -> str:
    return "".join(sign for sign in telephone if sign in "+0123456789")


def planned_words(take: Planned) -> str:
    """Return which order of which day the plan sends a crate to: 6 bunches planned for X, Wed."""
    facts = {
        "quantity": amount_words(take.quantity, take.line.unit),
        "who": take.outlet.name,
        "day": day_words(take.due),
    }
    return _("%(quantity)s of it planned for %(who)s, %(day)s.") % facts


def not_here_words(now: OrderNow) -> str:
    """Return what an order of a later day wants that is not in the house yet, crop by crop."""
    crops = ", ".join(line.line.crop.shown_name for line in now.lacking)
    return _("Not in the house yet: %s") % crops


def all_untold_words(orders: list[OrderNow]) -> str:
    """Return of how many orders nobody told what lacks, or of the one which."""
    if len(orders) == 1:
        return untold_words(orders[0])
    return _("orders will lack something: tell them")


def late_words(orders: list[BookOrder]) -> str:
    """Return of how many orders nobody said that they went out, or of the one which."""
    if len(orders) == 1:
        facts = {"who": orders[0].outlet.name, "day": day_words(orders[0].due)}
        return _("%(who)s, %(day)s: not gone out") % facts
    return _("orders have not gone out")


def untold_words(now: OrderNow) -> str:
    """Return whom nobody told what lacks: Tamberlow Inn: Kale missing, not told yet."""
    crops = ", ".join(line.line.crop.shown_name for line in now.untold)
    facts = {"who": now.order.outlet.name, "crops": crops}
    return _("%(who)s: %(crops)s missing, not told yet") % facts


def short_message(now: OrderNow) -> str:
    """Return what to write to a buyer of whom something will lack, in plain words."""
    lines = "; ".join(
        _("%(crop)s: %(got)s of %(wanted)s")
        % {
            "crop": line.line.crop.shown_name,
            "got": measures.plain(line.line.quantity - line.lacks),
            "wanted": amount_words(line.line.quantity, line.line.unit),
        }
        for line in now.lacking
    )
    facts = {"day": day_words(now.order.due), "lines": lines}
    told = _("For %(day)s we can send: %(lines)s. All else as ordered.") % facts
    instead = {line.instead.crop.shown_name: line.instead for line in now.lacking if line.instead}
    if not instead:
        return told
    offers = ", ".join(
        f"{name} ({amount_words(offer.free, offer.unit)})" for name, offer in instead.items()
    )
    return f"{told} {_('Instead you could have: %s.') % offers}"


def asked_words(asked: str) -> str:
    """Return how a line was said where that was in another unit: 6 kg, 2 cases."""
    return " + ".join(_said(part) for part in asked.split(" + "))


def _said(part: str) -> str:
    number, _space, unit = part.partition(" ")
    if unit == CASE:
        many = 1 if number == "1" else 2
        return f"{number} {ngettext('case', 'cases', many)}"
    return f"{number} {unit_words(1 if number == '1' else 2, unit)}" if unit else part


def wanted_words(wanted: Wanted) -> str:
    """Return how much is wanted, as it was said too: 24 bunches (6 kg)."""
    amount = amount_words(wanted.quantity, wanted.unit)
    return f"{amount} ({asked_words(wanted.asked)})" if wanted.asked else amount


def hour_words(moment: time) -> str:
    """Return a time of day in the farm's manner: 9:00, or 9:00 AM."""
    return date_format(moment, "g:i A" if is_american() else "H:i")
