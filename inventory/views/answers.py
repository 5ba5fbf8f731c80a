"""Leading on after a doing to a page that says what was done, with its undo where there is one."""

from dataclasses import dataclass
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode

from inventory.models import Action, AlarmClosing, ProbeReading, Reading, RoomCheck
from inventory.queries.ledger import blocking_action, may_undo
from inventory.queries.temperatures import may_take_back
from inventory.views.entry import FarmRequest, is_owner
from inventory.words.answers import PLAIN, Answer, answer_of

Done = Action | Reading | AlarmClosing | ProbeReading | RoomCheck
# How a doing is called in an address.
_NAMES: dict[str, type[Done]] = {
    "act": Action,
    "alarm": AlarmClosing,
    "check": RoomCheck,
    "inside": ProbeReading,
    "reading": Reading,
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
    if done is None:
        return None
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
    if model is not Action:
        return key.isdecimal() and len(key) < 16
    try:
        UUID(key)
    except ValueError:
        return False
    return True


def _undo_of(request: FarmRequest, done: Done) -> str:
    """Return the address that takes back a doing, "" where this person can't or nothing does."""
    person, farm, owner, at = request.user, request.farm, is_owner(request), timezone.now()
    if isinstance(done, Reading):
        mine = done.set_aside == "" and (owner or may_take_back(done, person, farm, at))
        return reverse("undo-reading", args=[done.pk]) if mine else ""
    if isinstance(done, AlarmClosing):
        return reverse("reopen-alarm", args=[done.pk]) if owner else ""
    if not isinstance(done, Action) or done.kind in (Action.Kind.CHANGE, Action.Kind.UNDO):
        return ""
    can = may_undo(done, person, owner, farm, at) and blocking_action(done) is None
    return reverse("undo", args=[done.pk]) if can else ""
