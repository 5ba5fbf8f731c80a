"""What a doing answers on the page it leads to: what was done, by whom and when."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from inventory import measures
from inventory.models import (
    Action,
    AlarmClosing,
    Change,
    Credit,
    Empties,
    Farm,
    OrderEntry,
    PaperLog,
    ProbeReading,
    Reading,
    RoomCheck,
    Suggestion,
)
from inventory.words.advice import said_words
from inventory.words.days import clock_words, day_words
from inventory.words.field import walk_words
from inventory.words.ledger import entry_words
from inventory.words.owner import change_words
from inventory.words.slips import credit_words
from inventory.words.units import crates_words

# What leaves no row of its own to be told from.
PLAIN: Mapping[str, Promise] = {
    "count-ended": gettext_lazy("The count is ended."),
    "phone-unpaired": gettext_lazy("That phone is signed out and no longer paired."),
    "round-ended": gettext_lazy("The round is ended: only the owner can undo it now."),
    "sensor-ended": gettext_lazy("That sensor's token counts no more."),
}
_MOST_TOLD = 3
_Done = Action | Reading | AlarmClosing | PaperLog | ProbeReading | RoomCheck


@dataclass(frozen=True)
class Answer:
    """One doing, told. undone: it was taken back since."""

    words: str
    who: str = ""
    when: str = ""
    undone: bool = False


def answer_of(done: _Done, farm: Farm, today: date) -> Answer:
    """Return what is said of one thing that was done."""
    if isinstance(done, Action):
        words = _action(done, farm)
        undone = hasattr(done, "undone_by") or _tells_what_it_undid(done)
        return _by(words, done, done.recorded_at, today, undone=undone)
    if isinstance(done, Reading):
        words, undone = _reading(done, farm), done.set_aside == Reading.Aside.WRONG
        return _by(words, done, done.at, today, undone=undone)
    if isinstance(done, AlarmClosing):
        words = _("The alarm is closed: “%(done)s”") % {"done": done.done}
        return _by(words, done, done.closed_at, today)
    if isinstance(done, PaperLog):
        words = _paper(done)
    elif isinstance(done, ProbeReading):
        words = _("%(degrees)s inside written") % {"degrees": _degrees(done, farm)}
    else:
        words = _check(done, farm)
    return _by(words, done, done.at, today, undone=done.taken_back_at is not None)


def _by(words: str, done: _Done, at: datetime, today: date, undone: bool = False) -> Answer:
    who = done.person.name if done.person else ""
    return Answer(words, who, clock_words(at, today), undone)


def _degrees(done: Reading | ProbeReading | RoomCheck, farm: Farm) -> str:
    return measures.temperature_words(done.temperature_c or 0, farm.temperature_unit)


def _reading(reading: Reading, farm: Farm) -> str:
    degrees = {"degrees": _degrees(reading, farm)}
    if reading.set_aside == Reading.Aside.IMPLAUSIBLE:
        return _("%(degrees)s written, but it counts for nothing: no room is like that") % degrees
    return _("%(degrees)s written") % degrees


def _paper(log: PaperLog) -> str:
    """Return what became of the lines of a paper log."""
    facts = {"added": log.added, "known": log.already_there, "aside": log.set_aside}
    told = _("Paper log of %(room)s") % {"room": log.room.name}
    return f"{told}: " + (_("%(added)s new, %(known)s known already, %(aside)s set aside.") % facts)


def _check(check: RoomCheck, farm: Farm) -> str:
    told = _("%(room)s checked") % {"room": check.room.name}
    if check.temperature_c is not None:
        told += f", {_degrees(check, farm)}"
    if check.taken_back_at is not None:
        return told
    return f"{told}. " + _("Another check today replaces it.")


def _picked(changes: list[Change]) -> str:
    """Return which crops were put on the farm's list and which were taken off it."""
    on = ", ".join(change.name for change in changes if change.after == "yes")
    off = ", ".join(change.name for change in changes if change.after != "yes")
    told = [_("On your list: %s") % on if on else "", _("Off your list: %s") % off if off else ""]
    return ". ".join(filter(None, told))


def _empties(empties: Empties) -> str:
    facts = {"crates": crates_words(empties.number), "who": empties.outlet}
    if empties.kind == Empties.Kind.WASHED:
        return _("%(crates)s washed") % facts
    return _("%(crates)s back from %(who)s") % facts


def _tells_what_it_undid(action: Action) -> bool:
    """Whether an undo has no entries of its own, and is told by what it took back."""
    return action.undoes is not None and not action.movements.exists()


def _action(action: Action, farm: Farm) -> str:
    """Return what was set, or what was written of crates."""
    if action.kind == Action.Kind.CHANGE:
        changes = list(action.changes.all())
        if len(changes) > 1 and {change.field for change in changes} == {"grown"}:
            return _picked(changes)
        told = [change_words(change, farm) for change in changes]
        more = len(told) - _MOST_TOLD
        if more > 0:
            told = [*told[:_MOST_TOLD], _("and %(n)d more") % {"n": more}]
        return "; ".join(told) or _("Nothing is different from before.")
    if action.kind == Action.Kind.WALK:
        return walk_words(action)
    if action.kind == Action.Kind.ADVICE:
        return said_words(Suggestion.objects.select_related("crop", "outlet").get(action=action))
    order = OrderEntry.objects.filter(action=action).first()
    if order is not None:
        return f"{order.order.outlet}, {day_words(order.order.due)}: {order.get_kind_display()}"
    credit = Credit.objects.filter(action=action).first()
    if credit is not None:
        return credit_words(credit)
    empties = Empties.objects.filter(action=action).first()
    if empties is not None:
        return _empties(empties)
    entries = list(action.movements.select_related("lot__crop", "lot__position", "position__room"))
    if len(entries) == 1:
        crop = entries[0].lot.crop.shown_name
        return f"{crop} {entries[0].lot_id}: {entry_words(entries[0])}"
    codes = {entry.lot_id for entry in entries}
    told = f"{action.get_kind_display()}: {crates_words(len(codes))}" if codes else ""
    places = {entry.lot.position for entry in entries}
    only = places.pop() if len(places) == 1 else None
    return f"{only.name}, {told}" if only else told
