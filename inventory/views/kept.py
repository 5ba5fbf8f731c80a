"""What was typed, kept through signing in; nothing of it is written without a fresh tap."""

import json
from dataclasses import dataclass
from datetime import timedelta
from uuid import UUID

from django.core import signing
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import translation

from inventory.views.entry import FarmRequest

_SALT = "a form kept through signing in"
LONGEST = timedelta(days=2)
MOST_LETTERS = 200_000
# What a page sends of itself: nobody typed it.
_OF_THE_PAGE = {"csrfmiddlewaretoken", "entry", "came", "person", "next", "kept"}
# Fields a person writes words into.
_WORDS = {"name", "note", "text", "to", "new_outlet", "new_source", "odd", "done"}
# Fields that stand in no other page.
_SECRET = {"password", "your_password", "new_password", "pin", "new_pin", "code"}


@dataclass(frozen=True)
class Kept:
    """A form that was sent when nobody was signed in: where to, and all its fields."""

    path: str
    fields: list[tuple[str, str]]

    @property
    def typed(self) -> list[str]:
        """What a person recognises it by: figures and words, not what stands for a choice."""
        said = [
            value
            for name, value in self.fields
            if name in _WORDS or any(letter.isdigit() for letter in value)
            if name not in _OF_THE_PAGE
        ]
        return [value for value in said if value and not _is_key(value)]


def may_keep(name: str) -> bool:
    """Return whether a field of a form may stand in another page: no secret, no old token."""
    return name not in _SECRET and name != "csrfmiddlewaretoken"


def keep(request: FarmRequest) -> str:
    """Return a posted form as a text for a hidden field; "" where nothing was typed into it.

    Signed, so that nobody else can put a form of theirs before somebody who signs in.
    """
    if not set(request.POST) - _OF_THE_PAGE or request.FILES:
        return ""
    fields = [
        (name, value) for name, values in request.POST.lists() if may_keep(name) for value in values
    ]
    if len(json.dumps(fields)) > MOST_LETTERS:
        return ""
    sent = {"path": request.get_full_path(), "fields": fields}
    return signing.dumps(sent, salt=_SALT, compress=True)


def carried(request: FarmRequest) -> str:
    """Return what a page that asks who is there carries: of the form it stands in for, or on."""
    if request.interrupted:
        return keep(request)
    return request.POST.get("kept", "")


def lead_on(request: FarmRequest, target: str) -> HttpResponse:
    """Lead on after signing in: first to what was typed, if anything was kept."""
    kept = _read(request.POST.get("kept", ""))
    if kept is None:
        return redirect(target)
    context = {"kept": kept, "fields": kept.fields, "path": kept.path, "next": target}
    with translation.override(request.user.language):
        return render(request, "inventory/people/kept.html", context)


def _read(text: str) -> Kept | None:
    try:
        sent = signing.loads(text, salt=_SALT, max_age=LONGEST)
    except signing.BadSignature:
        return None
    return Kept(sent["path"], [(name, value) for name, value in sent["fields"]])


def _is_key(value: str) -> bool:
    try:
        UUID(value)
    except ValueError:
        return False
    return True
