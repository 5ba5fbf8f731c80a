"""What could be promised, as it is written to a buyer."""

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inventory import measures
from inventory.queries.availability import Availability, Available, Part
from inventory.words.days import day_words, days_words, long_weekday_words
from inventory.words.orders import sms_link
from inventory.words.units import amount_words

# A message of six parts, in letters that take two bytes each: what phones still send as one.
MOST_LETTERS = 900


def part_keeps_words(part: Part) -> str:
    """Return how long something keeps at a buyer's: about 5 days."""
    if part.keeps.in_fridge:
        return _("about %(days)s") % {"days": days_words(part.keeps.days)}
    return _("about %(days)s, not in the fridge") % {"days": days_words(part.keeps.days)}


def available_words(row: Available) -> str:
    """Return one crop of the list: Kale: 24 bunches (about 5 days), 36 to be cut Thursday."""
    told = [
        _("%(quantity)s (%(keeps)s)") % _facts(row.here, row.unit) if row.here else "",
        _("%(quantity)s to be cut %(day)s (%(keeps)s)") % _facts(row.to_cut, row.unit)
        if row.to_cut
        else "",
    ]
    return f"{row.crop.shown_name}: {', '.join(filter(None, told))}"


def _facts(part: Part, unit: str) -> dict[str, str]:
    return {
        "quantity": amount_words(part.quantity, unit),
        "keeps": part_keeps_words(part),
        "day": long_weekday_words(part.cut_on) if part.cut_on else "",
    }


def availability_text(found: Availability) -> str:
    """Return the list ready to send, under 900 letters; of what does not go in how much it is."""
    lines = [available_words(row) for row in found.rows]
    for shown in range(len(lines), -1, -1):
        text = "\n".join([_head(found), *lines[:shown], *_tail(found, len(lines) - shown)])
        if len(text) < MOST_LETTERS:
            return text
    return text[: MOST_LETTERS - 1]


def _head(found: Availability) -> str:
    return _("%(farm)s, for %(day)s:") % {"farm": found.farm.name, "day": day_words(found.day)}


def _tail(found: Availability, left_out: int) -> list[str]:
    more = ngettext("and %(n)d crop more: ask us.", "and %(n)d crops more: ask us.", left_out)
    cold = measures.temperature_words(found.fridge, found.farm.temperature_unit, decimals=0)
    told = _("Days: in a fridge at %(cold)s, from that day.") % {"cold": cold}
    return [*([more % {"n": left_out}] if left_out else []), *([told] if found.rows else [])]


def availability_sms(found: Availability) -> str:
    """Return a link that opens the phone's own messages with that text."""
    telephone = found.outlet.telephone if found.outlet else ""
    return sms_link(telephone, availability_text(found))
