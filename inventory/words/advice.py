"""What is suggested in a week, why, and what followed, in words."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from inventory.learning.advice import Rule, Share
from inventory.measures import plain
from inventory.models import Crop, Outlet, Suggestion
from inventory.queries.advice import Answered, Suggested
from inventory.words.days import days_words, long_weekday_words
from inventory.words.units import amount_words, crates_words, unit_words

_MONDAY = date(2024, 1, 1)

# Of the rules whose number a person may set otherwise: what its box is called.
_NUMBERS = {
    Rule.CUT_LESS: gettext_lazy("Crates to cut"),
    Rule.CUT_LATER: gettext_lazy("Days before the market"),
    Rule.COOL_SOONER: gettext_lazy("Percent of its life gone before it is cold"),
    Rule.LOAD_MORE: gettext_lazy("Crates to load"),
}
_HEADLINES = {
    Rule.CUT_LESS: gettext_lazy("Cut a crate less of %(crop)s on %(weekday)s."),
    Rule.CUT_LATER: gettext_lazy("Cut %(crop)s nearer the market: %(figure)s before %(market)s."),
    Rule.COOL_SOONER: gettext_lazy("Get %(crop)s into the cold sooner."),
    Rule.LOOK_FIRST: gettext_lazy("Look at shelf %(about)s first: older %(crop)s stands there."),
    Rule.LOAD_MORE: gettext_lazy("Load a crate more of %(crop)s for %(market)s."),
    Rule.CHECK_PLACE: gettext_lazy("Check place %(about)s: cold hurts %(crop)s there."),
}
_REASONS = {
    Rule.CUT_LESS: gettext_lazy(
        "Three weeks running a crate or more of it came back or was thrown away: %(sums)s "
        "%(unit)s. So %(figure)s, not %(before)s."
    ),
    Rule.CUT_LATER: gettext_lazy(
        "At three markets running it was old: %(sums)s days. Cut on the last harvest day before, "
        "it is %(figure)s old."
    ),
    Rule.COOL_SOONER: gettext_lazy(
        "About %(before)s of its keeping life was gone before it was cold. From %(limit)s on that "
        "is much; half of that is a good aim."
    ),
    Rule.LOOK_FIRST: gettext_lazy(
        "In three weeks a younger crate went out %(sums)s times while an older one stood there; "
        "this week %(before)s."
    ),
    Rule.LOAD_MORE: gettext_lazy(
        "Sold out early at two markets running, with %(sums)s %(unit)s. So %(figure)s, not "
        "%(before)s."
    ),
    Rule.CHECK_PLACE: gettext_lazy(
        "It was hurt by cold there in more than one of three weeks, and thrown away: %(sums)s "
        "%(unit)s."
    ),
}
_SAID = {
    Rule.CUT_LESS: gettext_lazy("%(crop)s on %(weekday)s: cut %(figure)s, not %(before)s"),
    Rule.CUT_LATER: gettext_lazy("%(crop)s: cut %(figure)s before %(market)s, not %(before)s"),
    Rule.COOL_SOONER: gettext_lazy(
        "%(crop)s: %(figure)s of its life gone before it is cold, not %(before)s"
    ),
    Rule.LOOK_FIRST: gettext_lazy("%(crop)s: look at shelf %(about)s first"),
    Rule.LOAD_MORE: gettext_lazy("%(crop)s for %(market)s: load %(figure)s, not %(before)s"),
    Rule.CHECK_PLACE: gettext_lazy("%(crop)s: check place %(about)s"),
}
_FIGURES = {
    Rule.CUT_LESS: gettext_lazy("cut %(before)s → %(now)s"),
    Rule.CUT_LATER: gettext_lazy("age at market %(before)s → %(now)s"),
    Rule.COOL_SOONER: gettext_lazy("life gone before it was cold %(before)s → %(now)s"),
    Rule.LOOK_FIRST: gettext_lazy("older crates left standing %(before)s → %(now)s"),
    Rule.LOAD_MORE: gettext_lazy("loaded %(before)s → %(now)s"),
    Rule.CHECK_PLACE: gettext_lazy("thrown away from there %(before)s → %(now)s"),
}
_OUTCOMES = {
    Rule.CUT_LESS: gettext_lazy("came back or thrown away %(before)s → %(now)s"),
    Rule.CUT_LATER: gettext_lazy("came back %(before)s → %(now)s"),
    Rule.LOAD_MORE: gettext_lazy("came back %(before)s → %(now)s"),
}


def number_name(one: Suggested) -> str:
    """Return what the number is called that a person may set otherwise, "" where there is none."""
    return str(_NUMBERS.get(one.topic.rule, ""))


def headline_words(one: Suggested) -> str:
    """Return what is suggested, as one thing to do."""
    return str(_HEADLINES[one.topic.rule]) % _facts_of(one)


def reason_words(one: Suggested) -> str:
    """Return the sums a suggestion comes from."""
    return str(_REASONS[one.topic.rule]) % _facts_of(one)


def said_words(row: Suggestion) -> str:
    """Return what was answered to a suggestion: To be done: Kale on Wednesday: cut 2 crates, …"""
    what = {"what": to_do_words(row)}
    if row.answer == Suggestion.Answer.ACCEPTED:
        return _("To be done: %(what)s") % what
    return _("Not now: %(what)s") % what


def to_do_words(row: Suggestion) -> str:
    """Return what an answered suggestion is about: Kale on Wednesday: cut 2 crates, not 3."""
    rule = Rule(row.rule)
    facts = {
        **_facts(rule, row.unit, row.before, row.figure),
        **_names(rule, row.crop, row.about, row.outlet),
    }
    return str(_SAID[rule]) % facts


def moved_words(one: Answered) -> str:
    """Return how the figure of an accepted suggestion moved: cut 3 crates → 2 crates."""
    rule, unit = Rule(one.row.rule), one.row.unit
    if one.now is None or one.now.figure is None:
        return _("no figure of it in this week")
    facts = {"before": _figure(rule, one.row.before, unit)}
    return str(_FIGURES[rule]) % (facts | {"now": _figure(rule, one.now.figure, unit)})


def followed_words(one: Answered) -> str:
    """Return what followed it, where that is another figure: thrown away 6 kg → 2 kg."""
    rule, unit = Rule(one.row.rule), one.row.unit
    if rule not in _OUTCOMES or one.now is None or one.now.outcome is None:
        return ""
    facts = {"before": amount_words(one.row.outcome, unit)}
    return str(_OUTCOMES[rule]) % (facts | {"now": amount_words(one.now.outcome, unit)})


def _facts_of(one: Suggested) -> dict[str, str]:
    advice, rule, unit = one.advice, one.topic.rule, one.topic.unit
    return {
        **_facts(rule, unit, advice.before, advice.proposed),
        **_names(rule, one.crop, one.topic.about, one.market),
        "sums": ", ".join(_sum(share) for share in advice.sums),
        "limit": _figure(rule, advice.sums[-1].whole, unit),
    }


def _facts(rule: Rule, unit: str, before: Decimal, figure: Decimal) -> dict[str, str]:
    """Return the figures of a sentence. Of two numbers of crates the second says no "crates"."""
    return {
        "before": plain(before) if rule in _BARE else _figure(rule, before, unit),
        "figure": _figure(rule, figure, unit),
        "unit": unit_words(2, unit),
    }


def _names(rule: Rule, crop: Crop, about: str, market: Outlet | None) -> dict[str, str]:
    weekday = ""
    if rule == Rule.CUT_LESS:
        weekday = long_weekday_words(_MONDAY + timedelta(days=int(about)))
    names = {"crop": crop.shown_name, "market": market.name if market else ""}
    return names | {"about": about, "weekday": weekday}


def _sum(share: Share) -> str:
    if not share.whole:
        return plain(share.part)
    return _("%(part)s of %(whole)s") % {"part": plain(share.part), "whole": plain(share.whole)}


_BARE = (Rule.CUT_LESS, Rule.CUT_LATER, Rule.LOAD_MORE)
# How the figure that a rule names is said.
_SAY: dict[Rule, Callable[[Decimal], str]] = {
    Rule.CUT_LESS: lambda figure: crates_words(int(figure)),
    Rule.CUT_LATER: lambda figure: days_words(int(figure)),
    Rule.COOL_SOONER: lambda figure: f"{plain(figure)} %",
    Rule.LOOK_FIRST: plain,
    Rule.LOAD_MORE: lambda figure: crates_words(int(figure)),
}


def _figure(rule: Rule, figure: Decimal, unit: str) -> str:
    return _SAY[rule](figure) if rule in _SAY else amount_words(figure, unit)
