"""The week's figures in words."""

from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from urllib.parse import urlencode

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from inventory import measures
from inventory.models import Farm, Movement
from inventory.queries.ages import Ages
from inventory.queries.kept_order import KeptOrder
from inventory.queries.ledger import LedgerSearch
from inventory.queries.week import Line, Week, WeekRow
from inventory.words.days import day_words, is_american, weekday_words
from inventory.words.units import span_words

# By the name of the figure: queries/figures.ENTRIES has what each of them adds up.
FIGURES = {
    "harvested": gettext_lazy("Brought in"),
    "bought": gettext_lazy("Bought in"),
    "counted": gettext_lazy("Set right by counting"),
    "kitchens": gettext_lazy("Sold to kitchens"),
    "stalls": gettext_lazy("Sold at market"),
    "at_market": gettext_lazy("Out at market, not yet counted back"),
    "given": gettext_lazy("Given away"),
    "own_use": gettext_lazy("Own use"),
    "sent_back": gettext_lazy("Sent back to the supplier"),
    "returned": gettext_lazy("Of what went out, brought back"),
    "discarded": gettext_lazy("Discarded"),
    "lost": gettext_lazy("Lost at market"),
    "weight_lost": gettext_lazy("Weight lost"),
}
_FEW = 10  # below it a weight has a decimal


def figure_words(line: Line) -> str:
    """Return what a figure is: Own use, or Discarded: wilted → compost."""
    if line.figure == "counted":
        return _("Missing at a count") if line.amount < 0 else _("Found at a count")
    return _named(line.figure, line.reason, line.destination)


def searched_words(search: LedgerSearch) -> str:
    """Return which figure of the week is looked for."""
    return _named(search.figure, search.reason, search.destination)


def _named(figure: str, reason: str, destination: str) -> str:
    way = way_words(reason, destination)
    return f"{FIGURES[figure]}: {way}" if way else str(FIGURES[figure])


def week_words(week: Week) -> str:
    """Return the days of a week, the month once: Mon 16 to Sun 22 Nov, or Mon Nov 16 to Sun 22."""
    first, last = day_words(week.first), day_words(week.last)
    if week.first.month == week.last.month and is_american():
        last = weekday_words(week.last)
    elif week.first.month == week.last.month:
        first = weekday_words(week.first)
    return span_words(first, last)


def week_query(week: Week, row: WeekRow, line: Line | str) -> str:
    """Return what to ask the ledger for the entries of a figure of a crop's week."""
    asked = {"crop": row.crop.pk, "unit": row.unit, "from_day": week.first, "to_day": week.last}
    if isinstance(line, str):
        return urlencode(asked | {"figure": line})
    way = {"figure": line.figure, "reason": line.reason, "destination": line.destination}
    return urlencode(asked | {key: value for key, value in way.items() if value})


def way_words(reason: str, destination: str) -> str:
    """Return why something was thrown away and where it went: wilted → compost."""
    parts = [reason_words(reason), destination_words(destination)]
    return " → ".join(filter(None, parts))


def reason_words(reason: str) -> str:
    return str(Movement.Reason(reason).label) if reason in Movement.Reason else ""


def destination_words(destination: str) -> str:
    known = destination in Movement.Destination
    return str(Movement.Destination(destination).label) if known else ""


def weight_words(kg: Decimal, unit: str) -> str:
    """Return a weight in the farm's unit, as exact as one says it: 60 kg, 7.2 lb."""
    shown = measures.convert_weight(kg, "kg", unit)
    decimals = 0 if abs(shown) >= _FEW else 1
    return f"{measures.plain(measures.half_up(shown, decimals))} {unit}"


def signed_weight_words(kg: Decimal, unit: str) -> str:
    sign = "+" if kg > 0 else "−"
    return f"{sign}{weight_words(abs(kg), unit)}"


def rate_words(rate: Decimal | None) -> str:
    """Return a share in %, a dash where it is of nothing: 9.6 %."""
    return "–" if rate is None else f"{_one_decimal(rate)} %"


def rate_figure(rate: Decimal | None) -> str:
    """Return the same without its sign, for a drawing."""
    return "–" if rate is None else _one_decimal(rate)


def _one_decimal(rate: Decimal) -> str:
    return str(rate.quantize(Decimal("0.1"), rounding=ROUND_HALF_UP))


def short_day_words(day: date) -> str:
    """Return a day as short as can be, for a drawing: 4 May, or May 4."""
    return date_format(day, _("M j") if is_american() else _("j M"))


def week_mail(week: Week, kept: KeptOrder, farm: Farm, differs: bool) -> tuple[str, str]:
    """Return the first screen of a week as a mail: its subject and its lines."""
    facts = {"week": week_words(week), "rate": rate_words(week.flow.waste_of_left)}
    subject = _("%(week)s: %(rate)s of what left was wasted") % facts
    lines = [_wasted_words(week, farm), *_worst_words(week, farm)]
    if farm.waste_aim_percent is not None:
        lines.append(_("Our aim: %(aim)s at most.") % {"aim": rate_words(farm.waste_aim_percent)})
    if kept.percent is not None:
        told = _("First in, first out was kept in %(share)s of the takes (%(takes)s).")
        lines.append(told % {"share": f"{kept.percent} %", "takes": kept.takes})
    adds_up = not week.wrong and not differs
    lines.append(_("It adds up.") if adds_up else _("It does not add up: look at the week's page."))
    if farm.label_address:
        lines.append(f"{farm.label_address}/week/{week.first.isoformat()}")
    return subject, "\n".join(lines)


def _wasted_words(week: Week, farm: Farm) -> str:
    unit, flow = farm.weight_unit, week.flow
    facts = {
        "wasted": weight_words(flow.wasted, unit),
        "rate": rate_words(flow.waste_of_left),
        "missing": weight_words(flow.missing, unit),
        "thrown": weight_words(flow.thrown, unit),
        "share": rate_words(week.thrown_of_left),
    }
    if week.is_about:
        facts["wasted"] = _("about %(weight)s") % {"weight": facts["wasted"]}
    if not flow.missing:
        return _("Wasted: %(wasted)s, %(rate)s of what left, none of it missing.") % facts
    told = _(
        "Wasted: %(wasted)s, %(rate)s of what left, %(missing)s of it missing. "
        "Thrown away: %(thrown)s, %(share)s."
    )
    return told % facts


def _worst_words(week: Week, farm: Farm) -> list[str]:
    worst = week.worst(by_money=False)
    weights = [f"{one.crop.shown_name} {weight_words(one.kg, farm.weight_unit)}" for one in worst]
    return [_("Most wasted: %(crops)s.") % {"crops": ", ".join(weights)}] if weights else []


def ages_words(ages: Ages) -> str:
    """Return a span of ages: 2 to 3 days, 30 days and more."""
    if ages.until is None:
        return _("%(days)s days and more") % {"days": ages.since}
    return _("%(days)s days") % {"days": span_words(str(ages.since), str(ages.until))}
