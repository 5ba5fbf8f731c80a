"""Quantities, counts and degrees in words."""

from decimal import Decimal

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inventory import measures


def unit_words(quantity: Decimal | float, unit: str) -> str:
    """Return a unit as it is said of a quantity: 1 bunch, 6 bunches."""
    whole = 1 if quantity == 1 else 2
    words = {
        "kg": lambda: "kg",
        "lb": lambda: "lb",
        "bunch": lambda: ngettext("bunch", "bunches", whole),
        "head": lambda: ngettext("head", "heads", whole),
        "piece": lambda: ngettext("piece", "pieces", whole),
    }
    return words[unit]()


def unit_name(unit: str) -> str:
    """Return a unit's name for beside a box to type in."""
    return unit_words(2, unit)


def amount_words(quantity: Decimal | float, unit: str) -> str:
    """Return a quantity with its unit: 12.5 kg, 1 bunch."""
    return f"{measures.plain(quantity)} {unit_words(quantity, unit)}"


def signed_words(quantity: Decimal, unit: str) -> str:
    """Return a change with its sign: +12 heads, or less 0.5 kg."""
    sign = "+" if quantity > 0 else "−"
    return f"{sign}{amount_words(abs(quantity), unit)}"


def span_words(low: str, high: str) -> str:
    """Return a span of figures, or the one they both are: 7 to 14, 21."""
    return low if low == high else _("%(low)s to %(high)s") % {"low": low, "high": high}


def crates_words(count: int) -> str:
    return ngettext("%(count)d crate", "%(count)d crates", count) % {"count": count}


def percent_words(share: float | None) -> str:
    """Return a share in percent; a dash for none."""
    if share is None:
        return "–"
    return f"{round(share * 100)} %"
