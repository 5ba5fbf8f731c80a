"""A crate in words: where it is, how long it keeps, why it is on a list."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from inventory import measures
from inventory.keeping import Reference
from inventory.keeping.chilling import freezing_c
from inventory.keeping.cooling import Cooling
from inventory.lives.clocks import Life
from inventory.models import Lot
from inventory.queries.crates import Crate, FridgeDays
from inventory.queries.shelves import Box, Mark
from inventory.words.days import day_words, days_words, hours_words


def keeps_words(crate: Crate) -> str:
    """Return how long a crate still keeps, or for how long it has not."""
    if crate.is_past_use_by:
        return _("past its use-by date")
    if crate.is_over:
        over = crate.days_over
        return ngettext("%(n)d day over", "%(n)d days over", over) % {"n": over}
    return ngettext("%(n)d day left", "%(n)d days left", crate.days_left) % {"n": crate.days_left}


def days_left_words(count: int) -> str:
    """Return what stands beside the days that a crate still keeps."""
    return ngettext("day left", "days left", count)


def days_over_words(count: int) -> str:
    """Return what stands beside the days that a crate is past its time."""
    return ngettext("day over", "days over", count)


def far_past_words(crate: Crate) -> str:
    """Return the question before a crate far past its time goes out; "" of any other."""
    if not crate.is_far_past:
        return ""
    over = crate.days_over
    return ngettext(
        "It is %(n)d day past its time. Take it out all the same?",
        "It is %(n)d days past its time. Take it out all the same?",
        over,
    ) % {"n": over}


def far_past_among_words(crates: Sequence[Crate]) -> str:
    """Return the question before crates go out together of which these are far past; "" of none."""
    if not crates:
        return ""
    named = {"codes": ", ".join(crate.code for crate in crates)}
    return _("Far past their time: %(codes)s. Take them out all the same?") % named


def whole_past_words(crates: Sequence[Crate]) -> str:
    """Return the question before crates are put together of which some, not all, are past.

    "" where the whole would not count as past its time, or each of them does already.
    """
    past = [crate for crate in crates if crate.is_over]
    if not past or len(past) == len(crates):
        return ""
    over = max(crate.days_over for crate in past)
    return ngettext(
        "The whole would count as %(n)d day over. Put them together all the same?",
        "The whole would count as %(n)d days over. Put them together all the same?",
        over,
    ) % {"n": over}


def stands_words(crate: Crate) -> str:
    """Return where a crate is."""
    lot = crate.lot
    if lot.position:
        return lot.position.name
    return str(Lot.State(lot.state).label)


def mark_words(mark: Mark) -> str:
    """Return what a mark on a drawn crate means."""
    return {
        Mark.NONE: lambda: "",
        Mark.PAST: lambda: _("past"),
        Mark.FIRST: lambda: _("sell first"),
        Mark.LOOK: lambda: _("look first"),
        Mark.KEPT: lambda: _("looked at, kept"),
        Mark.HELD: lambda: _("on hold"),
    }[mark]()


def key_words(box: Box) -> str:
    """Return what a sample box in the key of a drawing means."""
    if box.part:
        return _("part crate")
    return mark_words(box.mark) or _("room for one")


def box_words(box: Box) -> str:
    """Return a drawn crate for who can't see it: Kale, 2 days left, sell first, A1, 5SR2."""
    crate = box.crate
    if crate is None:
        return ""
    told = [
        crate.lot.crop.shown_name,
        "" if box.mark == Mark.HELD else keeps_words(crate),
        "" if box.mark == Mark.PAST else mark_words(box.mark),
        _("part crate") if box.part else "",
        stands_words(crate),
        crate.code[-4:],
    ]
    return ", ".join(word for word in told if word)


def dated_words(crate: Crate) -> str:
    """Return the day it was cut or packed; where nobody gave one, the day it came in."""
    life = crate.life
    if not life.time_given:
        return _("in %s") % day_words(life.arrived_at)
    return (_("packed %s") if life.bought else _("cut %s")) % day_words(life.harvested_at)


def packers_date_words(kind: str) -> str:
    """Return what the packer's date on a case says. kind: an Intake.DateKind."""
    return {
        "": _("Best before, on the case (which kind of date is not known)"),
        "best before": _("Best before, on the case"),
        "sell by": _("Sell by, on the case"),
        "use by": _("Use by, on the case"),
    }[kind]


def case_dates_words(crate: Crate) -> list[str]:
    """Return what the cases say that a crate was filled from, the use-by date first."""
    return [
        f"{packers_date_words(kind)}: {day_words(day)}" for kind, day in crate.standing.dates.told
    ]


def why_words(crate: Crate, unit: str) -> str:
    """Return the rule that put a crate on its list. unit: the farm's, of temperatures."""
    return {
        "few-days": lambda: _("Few days left:"),
        "share-used": lambda: _("Most of its time is used:"),
        "past-use-by": lambda: _("Past its use-by date: discard it or send it back;"),
        "spent": lambda: _("Past its time:"),
        "froze": lambda: _("It froze: look before you sell;"),
        "said-gone": lambda: _("Somebody found it no longer good: look, then decide;"),
        "chilled": lambda: _chilled(crate.life, unit),
        "past-date": lambda: _("Past the date on its case: look before you sell;"),
        "kept": lambda: _("Kept until %s:") % day_words(crate.lot.kept_until or crate.today),
        "": lambda: "",
    }[crate.verdict.why]()


def _chilled(life: Life, unit: str) -> str:
    facts = {
        "days": days_words(round(life.chill_days)),
        "cold": measures.temperature_words(life.chill_c or 0.0, unit),
    }
    if life.chill_used is not None:
        return _("Hurt by cold (%(days)s at %(cold)s): look before you sell;") % facts
    return _("Too cold for %(days)s, at %(cold)s: look before you sell;") % facts


def freezing_words(crate: Crate, unit: str) -> str:
    """Return that a crate froze, for how long, by which freezing point, and what that does."""
    reference, life = crate.lot.crop.reference, crate.life
    point = measures.temperature_words(freezing_c(reference), unit)
    facts = {"point": point, "hours": hours_words(life.frozen_h)}
    told = (
        _(
            "It was at or below %(point)s for %(hours)s. No freezing point of it is published: "
            "this one is assumed."
        )
        if life.freezing_assumed
        else _("It was at or below its freezing point, %(point)s, for %(hours)s.")
    )
    return f"{told % facts} {_freezing_class(reference)}".strip()


def _freezing_class(reference: Reference) -> str:
    """Return what one freeze does: USDA Handbook 66 (2016), pages 65-66."""
    return {
        "": "",
        "most": _("One light freeze ruins it."),
        "moderate": _("It recovers from one or two light freezes."),
        "least": _("It stands several light freezes."),
    }[reference.freezing_class]


def fridge_words(found: FridgeDays, unit: str) -> str:
    """Return how long a crate keeps in a buyer's fridge, or that it is not for the fridge."""
    facts = {
        "days": days_words(found.days),
        "cold": measures.temperature_words(found.celsius, unit, decimals=0),
    }
    if found.in_fridge:
        return _("In a buyer's fridge at %(cold)s: %(days)s.") % facts
    return _("Not in the fridge: %(days)s at %(cold)s.") % facts


def part_words(part: str) -> str:
    """Return where some of a crate's time went."""
    return {
        "field": _("before it came in"),
        "cooling": _("cooling down"),
        "room": _("in the room"),
        "out": _("out"),
        "left": _("left"),
    }[part]


def life_parts(life: Life) -> list[tuple[str, int]]:
    """Return whole percents of a life by where they went, and what is left."""
    parts = [(part, round(share * 100)) for part, share in life.parts.items()]
    left = max(100 - sum(share for _, share in parts), 0)
    return [(part, share) for part, share in parts if share] + [("left", left)]


def life_bars(life: Life) -> list[tuple[str, str, str]]:
    """Return (part, x, width) of the life line, 100 wide; a life overspent fills it to the end."""
    bars, x = [], 0.0
    for part, share in life.parts.items():
        width = min(share * 100, 100 - x)
        if width > 0:
            bars.append((part, f"{x:.1f}", f"{width:.1f}"))
            x += width
    return bars


def harm_words(harm: str) -> str:
    """Return what a place does to a crop."""
    return {
        "freezes": _("freezes here"),
        "chills": _("hurt by cold here"),
        "cold-spot": _("known cold spot: may freeze here"),
        "": "",
    }[harm]


def start_words(cooling: Cooling, unit: str) -> str:
    """Return how warm a harvest came in, and how that is known."""
    warm = {"warm": measures.temperature_words(cooling.start_c, unit)}
    return {
        "measured": _("It came in at %(warm)s inside, measured."),
        "probes": _("It came in at about %(warm)s inside, reckoned back from its first probe."),
        "assumed": _("It came in at %(warm)s inside: assumed, not measured."),
    }[cooling.start_from] % warm


def source_words(source: str) -> str:
    """Return the name of a published source of advice."""
    return {
        "hb66": _("USDA Agriculture Handbook 66, 2016"),
        "ncsu": _("NC State Extension, Mixed Loads, 1995"),
        "ah668": _("USDA Agriculture Handbook 668, 1989"),
        "ucmix": _("a list of UC Davis, as carriers quote it"),
    }[source]


# What has no printed title is told in the reader's language, as SOURCES.md has it in English.
_UNTITLED = {
    "can-tbl": gettext_lazy(
        "A table of vegetable storage with freezing points, web page without a date (kypros.org)"
    ),
    "farm": gettext_lazy("Two growers' web pages on garlic scapes"),
    "mem": gettext_lazy("No printed source found"),
    "micro": gettext_lazy(
        "A study on packaging and storage of daikon radish microgreens (Xiao and others, "
        "USDA-ARS Beltsville)"
    ),
}


def reference_words(reference: Reference) -> str:
    """Return where a crop's storage figures are from; what nothing printed was found for, last."""
    keys = reference.source.split(";")
    titles = dict(zip(keys, reference.source_titles, strict=True)) | {
        key: str(words) for key, words in _UNTITLED.items() if key in keys
    }
    unprinted = titles.pop("mem", "")
    if unprinted and titles:
        unprinted = _("No printed source found for the rest")
    return "; ".join(filter(None, [*titles.values(), unprinted]))


def evidence_words(evidence: str) -> str:
    """Return whether the source of a figure was seen."""
    return {
        "read": _("printed source seen"),
        "mixed": _("seen in part"),
        "memory": _("no printed source seen"),
    }[evidence]
