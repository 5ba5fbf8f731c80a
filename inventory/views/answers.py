"""Leading on after a doing to a page that says what was done, with its undo where there is one."""

from dataclasses import dataclass
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode

from inventory.models import Action, AlarmClosing, PaperLog, ProbeReading, Reading, RoomCheck
from inventory.queries.ledger import blocking_action, may_undo
from inventory.queries.temperatures import may_take_back
from inventory.views.entry import FarmRequest, is_owner
from inventory.words.answers import PLAIN, Answer, answer_of

Done = Action | Reading | AlarmClosing | PaperLog | ProbeReading | RoomCheck
# How a doing is called in an address.
_NAMES: dict[str, type[Done]] = {
    "act": Action,
    "alarm": AlarmClosing,
    "check": RoomCheck,
    "inside": ProbeReading,
    "paper": PaperLog,
    "reading": Reading,
}

# Where a row of its own is taken back.
_TAKEN_BACK: dict[type[Done], str] = {
    PaperLog: "undo-paper-log",
    ProbeReading: "undo-probe",
    Reading: "undo-reading",
    RoomCheck: "undo-check",
}


@dataclass(frozen=True)
class Told:
    """What a page says of the doing that led to it. undo: where that is taken back, or ""."""

    answer: Answer
    undo: str = ""


def told_at(to: str, *args: object, done: Done | str) -> HttpResponse:
    """Lead to a page that says what was done. done: its row, or a name in PLAIN."""
    if isinstance(done, str):
        said = done
    else:
        name = next(name for name, model in _NAMES.items() if isinstance(done, model))
        said = f"{name}.{done.pk}"
    return redirect(f"{reverse(to, args=args)}?{urlencode({'said': said})}")


def read_told(request: FarmRequest) -> Told | None:
    """Return what the page that was asked for says of the doing that led to it."""
    said = request.GET.get("said", "")
    if said in PLAIN:
        return Told(Answer(str(PLAIN[said])))
    done = _row(said)
    return tell(request, done) if done is not None else None


def tell(request: FarmRequest, done: Done) -> Told:
    """Return what is said of something that was done, with its undo if this person may."""
    today = timezone.now().astimezone(request.farm.zone).date()
    answer = answer_of(done, request.farm, today)
    return Told(answer, "" if answer.undone else _undo_of(request, done))


def _row(said: str) -> Done | None:
    name, _dot, key = said.partition(".")
    if name not in _NAMES or not _is_key(_NAMES[name], key):
        return None
    rows = _NAMES[name].objects.select_related("person")
    return rows.filter(pk=key).first()


def _is_key(model: type[Done], key: str) -> bool:
    if model not in (Action, PaperLog):
        return key.isdecimal() and len(key) < 16
    try:
        UUID(key)
    except ValueError:
        return False
    return True


def _undo_of(request: FarmRequest, done: Done) -> str:
    """Return the address that takes back a doing, "" where this person can't or nothing does."""
    person, farm, owner, at = request.user, request.farm, is_owner(request), timezone.now()
    for model, name in _TAKEN_BACK.items():
        if isinstance(done, model):
            mine = _can_go(done) and (owner or may_take_back(done, person, farm, at))
            return reverse(name, args=[done.pk]) if mine else ""
    if isinstance(done, AlarmClosing):
        return reverse("reopen-alarm", args=[done.pk]) if owner else ""
    if not isinstance(done, Action) or done.kind in (Action.Kind.CHANGE, Action.Kind.UNDO):
        return ""
    can = may_undo(done, person, owner, farm, at) and blocking_action(done) is None
    return reverse("undo", args=[done.pk]) if can else ""


def _can_go(done: Done) -> bool:
    """Return whether anything would be taken back, and nothing that came later stands in its way.

    Of a temperature no room has nothing counts.
    """
    if isinstance(done, Reading):
        return done.set_aside == ""
    if isinstance(done, PaperLog):
        return done.added > 0
    if isinstance(done, RoomCheck):
        blocked = done.judged is not None and blocking_action(done.judged) is not None
        return done.replaced_by_id is None and not blocked
    return True
