"""Delivery slips in words: how long a crate keeps there, how to store it, the slip as text."""

from django.conf import settings
from django.utils.translation import gettext as _
from django.utils.translation import ngettext, override

from inventory import measures
from inventory.keeping import Reference
from inventory.keeping.neighbours import feels_ethylene, gives_ethylene
from inventory.models import Credit, Farm
from inventory.queries.slips import Keeps, Slip, SlipLine
from inventory.words.days import day_words
from inventory.words.units import amount_words, crates_words, span_words

# What is stored at more or less than this is said to want damp or dry air. [% RH]
_DAMP_PCT, _DRY_PCT = 85, 75


def degrees_span(low_c: float, high_c: float, unit: str) -> str:
    """Return a span of temperatures in whole degrees: 1 to 5 °C, or the one they both are."""
    low, high = (
        measures.temperature_words(celsius, unit, decimals=0) for celsius in (low_c, high_c)
    )
    return high if low == high else span_words(low.partition(" ")[0], high)


def keeps_there_words(keeps: Keeps, unit: str) -> str:
    """Return how long a crate keeps with a buyer: about 5 days at 1 to 5 °C."""
    best = _about(keeps.days, degrees_span(keeps.low_c, keeps.high_c, unit))
    if not keeps.hurt_by_cold:
        return best
    if keeps.counter >= keeps.days:
        best = _("%(best)s or on the counter") % {"best": best}
    else:
        best = _("%(best)s, on the counter about %(days)d") % {"best": best, "days": keeps.counter}
    if keeps.fridge is None:
        return _("%(best)s; not in a fridge") % {"best": best}
    return _("%(best)s; in a fridge about %(days)d") % {"best": best, "days": keeps.fridge}


def _about(days: int, degrees: str) -> str:
    if not days:
        return _("use it today; keep it at %(degrees)s") % {"degrees": degrees}
    told = ngettext("about %(n)d day at %(degrees)s", "about %(n)d days at %(degrees)s", days)
    return told % {"n": days, "degrees": degrees}


def storing_words(reference: Reference, unit: str) -> str:
    """Return how a crop is best kept: best at 0 °C, damp, away from what ripens."""
    best = degrees_span(reference.temp_low_c, reference.temp_high_c, unit)
    told = [_("best at %(degrees)s") % {"degrees": best}, _air(reference)]
    if gives_ethylene(reference):
        told.append(_("gives off ripening gas: apart from greens"))
    elif feels_ethylene(reference):
        told.append(_("away from apples, melons and ripe tomatoes"))
    return ", ".join(filter(None, told))


def _air(reference: Reference) -> str:
    low, high = reference.humidity_low_pct, reference.humidity_high_pct
    if low is not None and low >= _DAMP_PCT:
        return _("damp: covered or bagged")
    if high is not None and high <= _DRY_PCT:
        return _("dry and airy")
    return ""


def slip_name(line: SlipLine) -> str:
    """Return what is in a crate on a slip, in the reader's language as far as it has words for it.

    What was printed is in the language of whoever handed it over, and a variety is a name.
    """
    for language, _name in settings.LANGUAGES:
        with override(language):
            printed = line.crop.shown_name
        if line.name == printed or line.name.startswith(f"{printed}, "):
            return line.crop.shown_name + line.name.removeprefix(printed)
    return line.name


def slip_day_words(line: SlipLine) -> str:
    """Return the day a crate on a slip was cut or packed; else when it came in."""
    told = {"cut": _("cut %s"), "packed": _("packed %s"), "in": _("in %s")}[line.kind]
    return told % day_words(line.day)


def fridge_basis_words(slip: Slip, unit: str) -> str:
    """Return what the days were reckoned for, where nobody knows the buyer's fridge; else ""."""
    if not slip.has_reckoned_fridge:
        return ""
    limit = measures.temperature_words(5, unit, decimals=0)
    return _("Your fridge is not known: reckoned at %(limit)s, the food code's limit.") % {
        "limit": limit
    }


def basis_words() -> str:
    """Return what the days on a slip mean."""
    return _(
        "For whole, uncut produce from this hand-over. Days are an estimate of quality, not of "
        "food safety."
    )


def slip_title(slip: Slip) -> str:
    told = _("Delivery slip %(number)s") % {"number": slip.handover.number}
    return _("%(slip)s (withdrawn)") % {"slip": told} if slip.handover.is_withdrawn else told


def slip_crates_words(slip: Slip) -> str:
    """Return how many of our crates this delivery left, and how many it took back."""
    handover = slip.handover
    told = [_("Our crates left with you: %(n)d") % {"n": handover.crates_out}]
    if handover.crates_back:
        told.append(_("brought back: %(n)d") % {"n": handover.crates_back})
    return ", ".join(told)


def slip_text(slip: Slip, farm: Farm) -> str:
    """Return a slip as plain text, for a message."""
    unit = farm.temperature_unit
    own = ", ".join(filter(None, slip.own.values()))
    buyer = ", ".join(filter(None, (slip.buyer["name"], slip.buyer["address"])))
    head = [slip_title(slip), day_words(slip.handover.at), _("From: %s") % own, _("To: %s") % buyer]
    lines = []
    for crop, each in slip.crops:
        for line in each:
            lines.append(_line_words(line, unit))
        lines.append(f"  {storing_words(crop.reference, unit)}")
    foot = [slip_crates_words(slip), basis_words(), fridge_basis_words(slip, unit)]
    return "\n".join([*head, "", *lines, "", *filter(None, foot)])


def _line_words(line: SlipLine, unit: str) -> str:
    was_out = _("was out")
    return "; ".join(
        [
            f"{slip_name(line)}, {amount_words(line.quantity, line.unit)}",
            slip_day_words(line) + (f"; {was_out}" if line.was_out else ""),
            _("crate %(code)s, lot %(lots)s")
            % {"code": line.code, "lots": " + ".join(line.lot_codes)},
            keeps_there_words(line.keeps, unit),
        ]
    )


def credit_words(credit: Credit) -> str:
    """Return what a buyer said of a crate: Kale K7M2Q4X, 6 bunches: soft (The Heron, slip 12)."""
    facts = {
        "crop": credit.lot.crop.shown_name,
        "code": credit.lot_id,
        "quantity": amount_words(credit.quantity, credit.lot.unit),
        "what": credit.get_what_display(),
        "who": credit.handover.order.outlet,
        "number": credit.handover.number,
    }
    return _("%(crop)s %(code)s, %(quantity)s: %(what)s (%(who)s, slip %(number)s)") % facts


def standing_words(crates: int | None) -> str:
    """Return how many of our crates stand with a buyer; "" of none."""
    return _("%(crates)s of ours there") % {"crates": crates_words(crates)} if crates else ""
