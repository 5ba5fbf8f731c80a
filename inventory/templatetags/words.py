"""How figures, codes and rules are put into words on a page."""

from uuid import uuid4

from django import template
from django.utils.html import format_html
from django.utils.timezone import localtime
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inventory import measures
from inventory.forms.crates import AS_WRITTEN, COUNT_REASONS, HOLD_REASONS
from inventory.models import Lot, Movement, Position
from inventory.models.crops import amount_words, unit_words
from inventory.queries.crates import Crate
from inventory.queries.days import day_words, moment_words

register = template.Library()

_PICKED_NOTES = dict([*COUNT_REASONS, *HOLD_REASONS, AS_WRITTEN])


@register.filter
def plain(number) -> str:
    """A number without needless zeros."""
    return "" if number is None else measures.plain(number)


@register.filter
def amount(quantity, unit: str) -> str:
    """A quantity with its unit: 12.5 kg, 1 bunch, 6 bunches."""
    return amount_words(quantity, unit)


@register.filter
def signed(quantity, unit: str) -> str:
    """A change with its sign: +12 heads, or less 0.5 kg."""
    sign = "+" if quantity > 0 else "−"
    return f"{sign}{amount(abs(quantity), unit)}"


@register.filter
def minus(quantity, unit: str) -> str:
    """What left, with the sign it adds up with."""
    return signed(-quantity, unit)


@register.simple_tag
def unit_word(quantity, unit: str) -> str:
    return unit_words(quantity, unit)


@register.simple_tag(takes_context=True)
def degrees(context, celsius) -> str:
    """A temperature in the farm's unit."""
    return measures.temperature_words(celsius, context["farm"].temperature_unit)


@register.filter
def up_to(low, high) -> str:
    """A span of figures, or the one they both are: 7 to 14, 21."""
    return _span(plain(low), plain(high))


@register.simple_tag(takes_context=True)
def best_degrees(context, reference) -> str:
    """The recommended temperature of a crop, or its span, in the farm's unit."""
    low, high = reference.temp_low_c, reference.temp_high_c
    return _span(degrees(context, low), degrees(context, high))


def _span(low: str, high: str) -> str:
    return low if low == high else _("%(low)s to %(high)s") % {"low": low, "high": high}


@register.filter
def code(text: str) -> str:
    """A code with its last four, which are enough to find a crate, biggest."""
    return format_html('<span class="code">{}<b>{}</b></span>', text[:-4], text[-4:])


@register.filter
def days(count: int) -> str:
    return ngettext("%(count)d day", "%(count)d days", count) % {"count": count}


@register.filter
def keeps(crate: Crate) -> str:
    """How long a crate still keeps, or for how long it has not."""
    if crate.days_over:
        over = crate.days_over
        return ngettext("%(n)d day over", "%(n)d days over", over) % {"n": over}
    return ngettext("%(n)d day left", "%(n)d days left", crate.days_left) % {"n": crate.days_left}


@register.filter
def crates(count: int) -> str:
    return ngettext("%(count)d crate", "%(count)d crates", count) % {"count": count}


@register.filter
def day(value) -> str:
    """A day short enough for a row: Wed 25 Nov."""
    return day_words(value)


@register.filter
def moment(value) -> str:
    """A local moment: Wed 25 Nov 14:05."""
    return moment_words(localtime(value))


@register.filter
def clock(value, today) -> str:
    """A moment of today by its time alone."""
    found = localtime(value)
    return f"{found:%H:%M}" if found.date() == today else moment(value)


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
        "froze": lambda: _("It froze: look before you sell;"),
        "chilled": lambda: _("Hurt by cold: look before you sell;"),
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
    return str(_PICKED_NOTES.get(note, note))


@register.filter
def percent(share: float) -> str:
    return f"{round(share * 100)} %"


@register.filter
def unlocalized(number: float) -> str:
    """A coordinate of a drawing, always with a point."""
    return f"{number:g}"


@register.filter
def part_words(part: str) -> str:
    """Where some of a crate's time went."""
    return {
        "field": _("before it came in"),
        "cooling": _("cooling down"),
        "room": _("in the room"),
        "out": _("out"),
        "left": _("left"),
    }[part]


@register.filter
def life_parts(life) -> list[tuple[str, int]]:
    """Whole percents of a life by where they went, and what is left."""
    parts = [(part, round(share * 100)) for part, share in life.parts.items()]
    left = max(100 - sum(share for _, share in parts), 0)
    return [(part, share) for part, share in parts if share] + [("left", left)]


@register.filter
def life_bars(life) -> list[tuple[str, str, str]]:
    """(part, x, width) of the life line, 100 wide; a life overspent fills it to the end."""
    bars, x = [], 0.0
    for part, share in life.parts.items():
        width = min(share * 100, 100 - x)
        if width > 0:
            bars.append((part, f"{x:.1f}", f"{width:.1f}"))
            x += width
    return bars


@register.filter
def advice_words(advice) -> str:
    """What stands badly, and why."""
    takers = ", ".join(crop.shown_name for crop in advice.takers)
    names = {"giver": advice.giver.shown_name, "taker": takers}
    return {
        "ethylene": _("%(giver)s gives off ripening gas; it ages: %(taker)s."),
        "odour": _("%(giver)s gives off a smell; this takes it on: %(taker)s."),
        "cold": _("This room is too cold for %(taker)s: the cold hurts it."),
        "dry": _("%(taker)s keeps dry; this room is damp."),
        "stone-fruit": _(
            "%(taker)s spoils inside fastest at 2 to 8 °C: colder or warmer is better."
        ),
    }[advice.kind] % names


@register.filter
def source_words(source: str) -> str:
    """The name of a published source of advice."""
    return {
        "hb66": _("USDA Agriculture Handbook 66, 2016"),
        "ncsu": _("NC State Extension, Mixed Loads, 1995"),
    }[source]


@register.filter
def evidence_words(evidence: str) -> str:
    """How a published figure was come by."""
    return {
        "read": _("read there"),
        "mixed": _("read there in part, the rest from memory"),
        "memory": _("from memory, not read"),
    }[evidence]


@register.filter
def bad_row_words(reason: str) -> str:
    return {
        "short": _("columns are missing"),
        "time": _("no date and time"),
        "figure": _("no temperature"),
        "missing-hour": _("an hour the clocks skipped"),
        "when": _("still to come, or years ago"),
    }[reason]


@register.filter
def weekly_words(check) -> str:
    """The weekly questions of a daily check that were answered."""
    answers = (
        (_("drip tray"), check.drip_tray_clean),
        (_("thermometer"), check.thermometer_right),
        (_("opens from inside"), check.opens_from_inside),
    )
    told = [f"{name} {'✓' if good else '✗'}" for name, good in answers if good is not None]
    return ", ".join(told)


def _hours(hours: float) -> str:
    """3 h 10 min, or 25 min."""
    minutes = round(hours * 60)
    if minutes < 60:
        return _("%(minutes)s min") % {"minutes": minutes}
    if not minutes % 60:
        return f"{minutes // 60} h"
    return _("%(hours)s h %(minutes)s min") % {"hours": minutes // 60, "minutes": minutes % 60}


def _lost(hours: float) -> str:
    """How much keeping life something cost, in words: about 5 hours, about half a day."""
    if hours < 9:
        return ngettext("about %(n)d hour", "about %(n)d hours", round(hours)) % {"n": round(hours)}
    if hours < 18:
        return _("about half a day")
    days_lost = round(hours / 24)
    return ngettext("about %(n)d day", "about %(n)d days", days_lost) % {"n": days_lost}


@register.filter
def spell_words(spell, farm) -> str:
    """One spell out of range: how long, when, and what it cost."""
    limit = degrees({"farm": farm}, spell.limit_c)
    facts = {"limit": limit, "hours": _hours(spell.hours), "when": moment(spell.start)}
    words = {
        "warm": _("Above %(limit)s for %(hours)s from %(when)s."),
        "cold": _("Below %(limit)s for %(hours)s from %(when)s."),
    }[spell.side] % facts
    costs = [f"{crop.shown_name} {_lost(hours)}" for crop, hours in spell.cost]
    if costs:
        words += " " + _("It cost: %s.") % ", ".join(costs)
    return words


@register.filter
def alarm_words(alarm) -> str:
    """A room out of range for too long: for how long now, or from when it was."""
    facts = {"room": alarm.room, "h": alarm.hours, "when": moment(alarm.started_at)}
    return {
        ("warm", True): _("%(room)s: too warm for %(h)s h"),
        ("cold", True): _("%(room)s: too cold for %(h)s h"),
        ("warm", False): _("%(room)s: was too warm for %(h)s h from %(when)s"),
        ("cold", False): _("%(room)s: was too cold for %(h)s h from %(when)s"),
    }[alarm.excursion.side, alarm.going_on] % facts


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
