"""What a person is asked when a form, reached by Back, would do the same once more."""

from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from inventory import measures
from inventory.models import Action, Farm, Movement, Order, Person, Reading
from inventory.words.units import amount_words, crates_words

_YOU = {
    Action.Kind.BRING_IN: gettext_lazy("You brought in %(what)s %(ago)s."),
    Action.Kind.TAKE_OUT: gettext_lazy("You took out %(what)s %(ago)s."),
    Action.Kind.BRING_BACK: gettext_lazy("You brought back %(what)s %(ago)s."),
    Action.Kind.SPLIT: gettext_lazy("You put %(what)s into a second crate %(ago)s."),
    Action.Kind.COMBINE: gettext_lazy("You combined %(what)s %(ago)s."),
    Action.Kind.RESORT: gettext_lazy("You re-sorted %(what)s %(ago)s."),
    Action.Kind.DISCARD: gettext_lazy("You discarded %(what)s %(ago)s."),
    Action.Kind.INSPECT: gettext_lazy("You looked at %(what)s %(ago)s."),
}
_OF_CRATES = (Action.Kind.BRING_IN, Action.Kind.COMBINE, Action.Kind.RESORT)


def again_words(found: Action | Reading, person: Person, farm: Farm, at: datetime) -> str:
    """Return what was done a moment ago, by whom, and the question whether it is meant again."""
    if isinstance(found, Reading):
        shown = measures.temperature_words(found.temperature_c, farm.temperature_unit)
        told = _("You wrote %(what)s %(ago)s.") % {"what": shown, "ago": ago_words(found.at, at)}
    else:
        facts = {"what": _what(found), "ago": ago_words(found.recorded_at, at)}
        told = _told(found, person, facts)
    question = _("Correct that, or is this another?")
    return f"{told} {question}"


def order_again_words(order: Order, at: datetime) -> str:
    """Return that an order for this buyer was begun a moment ago, and whether it is meant again."""
    facts = {"who": order.outlet.name, "ago": ago_words(order.said_at, at)}
    begun = _("You began an order for %(who)s %(ago)s: it is under “Orders”.") % facts
    return f"{begun} {_('Is this another?')}"


def _told(found: Action, person: Person, facts: dict[str, str]) -> str:
    if found.person_id == person.pk:
        return str(_YOU[Action.Kind(found.kind)]) % facts
    done = facts | {"who": found.person.name, "done": found.get_kind_display()}
    return _("%(who)s, on this phone, %(ago)s: %(done)s, %(what)s.") % done


def ago_words(moment: datetime, at: datetime) -> str:
    """Return how long ago something was, in whole minutes: 1 min ago."""
    minutes = int((at - moment).total_seconds() // 60)
    return _("%(n)d min ago") % {"n": minutes} if minutes > 0 else _("just now")


def _what(found: Action) -> str:
    """Return how much of which crop an action was about."""
    entries = list(found.movements.select_related("lot__crop").order_by("number"))
    first = entries[0]
    facts = {"crop": first.lot.crop.shown_name}
    if found.kind == Action.Kind.INSPECT:
        return f"{facts['crop']} {first.lot_id}"
    if found.kind in _OF_CRATES:
        return _("%(much)s of %(crop)s") % (facts | {"much": crates_words(_crates(entries))})
    much = amount_words(first.amount or abs(first.change), first.lot.unit)
    return _("%(much)s of %(crop)s") % (facts | {"much": much})


def _crates(entries: list[Movement]) -> int:
    """Return how many crates came in, or went into what was combined or re-sorted."""
    came_in = {entry.lot_id for entry in entries if entry.kind == Movement.Kind.BROUGHT_IN}
    return len(came_in or {entry.lot_id for entry in entries if entry.change < 0})
