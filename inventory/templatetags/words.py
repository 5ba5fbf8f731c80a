"""How figures, codes and rules are put into words on a page."""

from uuid import uuid4

from django import template
from django.utils.formats import date_format
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inventory import measures
from inventory.models import Lot, Movement, Position
from inventory.queries.crates import Crate

register = template.Library()


@register.filter
def plain(number) -> str:
    """A number without needless zeros."""
    return "" if number is None else measures.plain(number)


@register.filter
def amount(quantity, unit: str) -> str:
    """A quantity with its unit: 12.5 kg, 1 bunch, 6 bunches."""
    return f"{measures.plain(quantity)} {unit_word(quantity, unit)}"


@register.filter
def signed(quantity, unit: str) -> str:
    """A change with its sign: +12 heads, or less 0.5 kg."""
    sign = "+" if quantity > 0 else "−"
    return f"{sign}{amount(abs(quantity), unit)}"


@register.simple_tag
def unit_word(quantity, unit: str) -> str:
    whole = 1 if quantity == 1 else 2
    words = {
        "kg": "kg",
        "lb": "lb",
        "bunch": ngettext("bunch", "bunches", whole),
        "head": ngettext("head", "heads", whole),
        "piece": ngettext("piece", "pieces", whole),
    }
    return words[unit]


@register.simple_tag(takes_context=True)
def degrees(context, celsius) -> str:
    """A temperature in the farm's unit."""
    unit = context["farm"].temperature_unit
    if unit == "C":
        return f"{measures.plain(celsius)} °C"
    return f"{measures.plain(round(float(celsius) * 1.8 + 32, 1))} °F"


@register.filter
def code(text: str) -> str:
    """A code with its last four, which are enough to find a crate, biggest."""
    return format_html('<span class="code">{}<b>{}</b></span>', text[:-4], text[-4:])


@register.filter
def days(count: int) -> str:
    return ngettext("%(count)d day", "%(count)d days", count) % {"count": count}


@register.filter
def crates(count: int) -> str:
    return ngettext("%(count)d crate", "%(count)d crates", count) % {"count": count}


@register.filter
def day(value) -> str:
    """A day short enough for a row: Wed 25 Nov."""
    return date_format(value, "D j M")


@register.filter
def moment(value) -> str:
    """A local moment: Wed 25 Nov 14:05."""
    from django.utils.timezone import localtime

    return date_format(localtime(value), "D j M H:i")


@register.filter
def stands(crate: Crate) -> str:
    """Where a crate is, in words."""
    lot = crate.lot
    if lot.position_id:
        return lot.position.name
    return Lot.State(lot.state).label


@register.filter
def why(crate: Crate) -> str:
    """The rule that put a crate on its list."""
    return {
        "few-days": lambda: _("Few days left:"),
        "share-used": lambda: _("Most of its time is used:"),
        "spent": lambda: _("Past its time:"),
        "kept": lambda: _("Kept until %s:") % day(crate.lot.kept_until),
        "": lambda: "",
    }[crate.verdict.reason]()


@register.filter
def harm_words(harm: str) -> str:
    return {
        "freezes": _("freezes here"),
        "chills": _("hurt by cold here"),
        "cold-spot": _("known cold spot: may freeze here"),
        "": "",
    }[harm]


@register.filter
def short_reason(reason: str) -> str:
    """Why a line of a pull will not be filled."""
    return {
        "none": _("there is none in the rooms"),
        "refused": _("the rest is something they do not take"),
        "too-old": _("the rest would not keep long enough there"),
        "not-enough": _("there is no more"),
    }[reason]


@register.filter
def happened(entry: Movement) -> str:
    """One entry of the ledger in a few words."""
    words = [entry.get_kind_display()]
    if entry.change:
        words.append(signed(entry.change, entry.lot.unit))
    elif entry.amount:
        words.append(amount(entry.amount, entry.lot.unit))
    if entry.figure is not None:
        words.append(_("seen: %s") % amount(entry.figure, entry.lot.unit))
    if entry.position_id:
        words.append(f"→ {entry.position.room} {entry.position.name}")
    for label in (
        entry.get_purpose_display(),
        entry.other_party,
        entry.get_outcome_display(),
        entry.get_reason_display(),
        entry.get_destination_display(),
    ):
        if label:
            words.append(str(label))
    if entry.kept_until:
        words.append(_("kept until %s") % day(entry.kept_until))
    if entry.note:
        words.append(f"“{_note(entry.note)}”")
    return " · ".join(words)


def _note(note: str) -> str:
    """Notes picked from a list are kept in English and shown in the reader's language."""
    from inventory.forms.crates import COUNT_REASONS, HOLD_REASONS

    return str(dict([*COUNT_REASONS, *HOLD_REASONS]).get(note, note))


@register.simple_tag
def uuid_key() -> str:
    """A new id for a form that stands several times on a page."""
    return str(uuid4())


@register.filter
def place_label(position: Position) -> str:
    return f"{position.room} {position.name}"


@register.filter
def get(mapping, key):
    """An entry of a mapping, by a key only known in the template."""
    return mapping.get(str(key))
