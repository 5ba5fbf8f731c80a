"""How many crates to load, as two lines that can be worked out again by hand."""

from decimal import ROUND_HALF_EVEN, Decimal

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from inventory import measures
from inventory.learning.demand import AllSoldOut, Demand, TooFew, Weather
from inventory.queries.loading import ToLoad
from inventory.rotation.loading import Load, Rather, Ratio, Why
from inventory.words.units import amount_words, crates_words

WEATHERS = {
    Weather.USUAL: gettext_lazy("as usual"),
    Weather.POOR: gettext_lazy("poor (rain, heat)"),
    Weather.STRONG: gettext_lazy("strong (holiday)"),
}
RATHER = {
    Rather.RUN_OUT: gettext_lazy("rather run out"),
    Rather.EVEN: gettext_lazy("one as bad as the other"),
    Rather.BRING_HOME: gettext_lazy("rather bring some home"),
}
_TENTH, _CENT = Decimal("0.1"), Decimal("0.01")


def weather_words(weather: Weather) -> str:
    return str(WEATHERS[weather])


def load_words(row: ToLoad) -> str:
    """Return what is still to be loaded beside what is ordered there: 3 crates, 36 bunches."""
    crates = crates_words(row.still_to_go) if row.load else ""
    if not row.crates:
        return crates
    return f"{crates}, {amount_words(row.quantity, row.unit)}"


def sure_words(row: ToLoad) -> str:
    """Return how sure to be of not running out, and from what."""
    ratio = row.load.ratio if row.load else Ratio(0)
    if ratio.rather is not None:
        return _missing_words(row) % {
            "choice": RATHER[ratio.rather],
            "share": round(ratio.value * 100),
        }
    if ratio.under is None or ratio.over is None or ratio.under <= 0:
        return _("Kept at home one is worth as much as sold: none needs to go.")
    share = {"share": round(ratio.value * 100)}
    if ratio.under == row.crop.price:
        return (
            _(
                "Nobody comes for it before it is past, so kept at home it is worth nothing:"
                " enough on %(share)s of 100 days."
            )
            % share
        )
    if ratio.over <= 0:
        return _("Nothing is lost by bringing one back: enough on %(share)s of 100 days.") % share
    return _(
        "One too few costs %(under)s, one too many %(over)s:"
        " %(under)s ÷ (%(under)s + %(over)s), enough on %(share)s of 100 days."
    ) % {
        "under": ratio.under.quantize(_CENT),
        "over": ratio.over.quantize(_CENT),
        "share": round(ratio.value * 100),
    }


def _missing_words(row: ToLoad) -> str:
    if row.crop.price is None or row.unit != row.crop.unit:
        return _("No price is set: %(choice)s, enough on %(share)s of 100 days.")
    if row.own.at_home is not None:
        return _(
            "Who takes what comes back is not known: %(choice)s, enough on %(share)s of 100 days."
        )
    return _("What one is worth at home is not said: %(choice)s, enough on %(share)s of 100 days.")


def demand_words(row: ToLoad) -> str:
    """Return what is asked for on such a day, and how many crates that makes; "" if none go."""
    load = row.load
    if load is None or load.ratio.value <= 0:
        return ""
    if row.as_usual:
        return _("Of such days too few were closed: as on a usual one. %(sums)s") % {
            "sums": _demand_of(row, load)
        }
    return _demand_of(row, load)


def _demand_of(row: ToLoad, load: Load) -> str:
    if isinstance(load.known, TooFew):
        return _("Too few such market days were closed to say how much: %(count)d.") % {
            "count": load.known.markets
        }
    if isinstance(load.known, AllSoldOut):
        return _more_words(load, load.known.most, row.unit)
    return _by_figures(load, load.known, row.unit)


def _by_figures(load: Load, known: Demand, unit: str) -> str:
    figured = crates_words(load.figured)
    if load.figured_by == Why.USUALLY:
        return _("No market day was closed yet: about what you usually sell, %(usually)s.") % {
            "usually": amount_words(_tenths(known.mean), unit)
        }
    if load.figured_by == Why.MORE and known.gone_at is not None:
        return _more_words(load, known.gone_at, unit)
    facts = {"basis": _basis(known), "sum": _sum(load, known), "crates": figured}
    facts |= {"mean": _tenths(known.mean), "deviation": _tenths(known.deviation)}
    facts["crate"] = amount_words(load.crate, unit)
    return (
        _(
            "%(basis)s: %(mean)s asked for, give or take %(deviation)s."
            " %(sum)s: %(crates)s of %(crate)s."
        )
        % facts
    )


def _basis(known: Demand) -> str:
    """Return what the figures rest on: From 8 market days (3 sold out), and 25 usually sold."""
    days = ngettext("From %(count)d market day", "From %(count)d market days", known.markets)
    told = [days % {"count": known.markets}]
    if known.sold_out:
        told.append(
            ngettext("%(count)d sold out", "%(count)d sold out", known.sold_out)
            % {"count": known.sold_out}
        )
    if known.usually is not None:
        told.append(_("you usually sell %(usually)s") % {"usually": _tenths(known.usually)})
    return ", ".join(told)


def _sum(load: Load, known: Demand) -> str:
    """Return the sum as it is written: 26 + 0.43 of 6 + 10 = 38.6."""
    if load.sure is None or load.wanted is None:
        return ""
    sign = "−" if load.sure < 0 else "+"
    least = f" + {_tenths(load.least)}" if load.least else ""
    sure = measures.plain(Decimal(abs(load.sure)).quantize(_CENT))
    return (
        f"{_tenths(known.mean)} {sign} {sure} × {_tenths(known.deviation)}{least}"
        f" = {_tenths(load.wanted)}"
    )


def _more_words(load: Load, most: float, unit: str) -> str:
    return _("Sold out early every time, most with %(most)s: one crate more, %(crates)s.") % {
        "most": amount_words(_tenths(most), unit),
        "crates": crates_words(load.figured),
    }


def changed_words(row: ToLoad) -> str:
    """Return why it is another number than the figures say; "" where it is not."""
    load = row.load
    if load is None or load.crates == load.figured:
        return ""
    figured = crates_words(load.figured)
    if load.why == Why.OWN:
        return _("Your own number; by the figures %(crates)s.") % {"crates": figured}
    if load.why == Why.MUST_MOVE:
        return _("They must move first: by the figures %(crates)s.") % {"crates": figured}
    return _("By the figures %(crates)s; no more is here that is promised to nobody.") % {
        "crates": figured
    }


def _tenths(figure: float) -> Decimal:
    return Decimal(measures.plain(Decimal(figure).quantize(_TENTH, ROUND_HALF_EVEN)))
