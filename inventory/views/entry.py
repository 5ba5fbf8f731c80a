"""From a request to an act: who, when, and the id that makes it count once."""

import json
from collections.abc import Callable
from datetime import datetime
from functools import wraps
from typing import Any
from urllib.parse import urlencode
from uuid import UUID, uuid4

from django.core.exceptions import PermissionDenied, SuspiciousOperation, ValidationError
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.crypto import salted_hmac
from django_htmx.middleware import HtmxDetails

from inventory.errors import Refused
from inventory.forms.fields import LocalMomentField
from inventory.ledger.book import Act, earlier_answer
from inventory.models import Action, Farm, Person, Phone
from inventory.words.refusals import sentence

View = Callable[..., HttpResponseBase]


class FarmRequest(HttpRequest):
    """A request as the middleware hands it on.

    user: nobody yet on a page marked `public`; farm: None on one marked `before_set_up`.
    """

    farm: Farm
    phone: Phone | None
    user: Person
    htmx: HtmxDetails


def public(view: View) -> View:
    """Mark a view that answers without a sign-in."""
    view.public = True
    return view


def before_set_up(view: View) -> View:
    """Mark a view that answers before the farm is set up, without a sign-in."""
    view.public = view.before_set_up = True
    return view


def is_owner(request: FarmRequest) -> bool:
    """Return whether the owner's password was given in this session."""
    return request.user.is_owner and request.session.get("as_owner", False)


def owner_only(view: View) -> View:
    """Let only an owner in who gave the password, not just a name on a shared phone."""

    @wraps(view)
    def guarded(request: FarmRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if is_owner(request):
            return view(request, *args, **kwargs)
        if not request.user.is_owner:
            raise PermissionDenied
        query = urlencode({"next": request.get_full_path()})
        return redirect(f"{reverse('owner')}?{query}")

    return guarded


def act_for(request: FarmRequest) -> Act:
    """Return the act of a posted form, under the id its hidden field carries."""
    return Act(
        id=_id_of(request),
        person=request.user,
        farm=request.farm,
        at=timezone.now(),
        told_at=told_at(request),
        phone=request.phone,
        as_owner=is_owner(request),
        proven=request.session.get("proven", False),
        posted=posted_hash(request),
    )


def _id_of(request: FarmRequest) -> UUID:
    # An owner's form that was opened before an update carries none: it counts by itself.
    if "entry" not in request.POST and is_owner(request):
        return uuid4()
    try:
        return UUID(request.POST.get("entry", ""))
    except ValueError as error:
        raise SuspiciousOperation("the form carries no entry id") from error


def told_at(request: FarmRequest) -> datetime | None:
    """Return when a posted thing happened, as the phone or the form says; None for now.

    A form has checked it, and says what is wrong beside the field.
    """
    said = request.POST.get("happened_at", "").strip()
    if not said:
        return None
    field = LocalMomentField()
    field.zone = request.farm.zone
    try:
        return field.clean(said)
    except ValidationError as error:
        raise SuspiciousOperation("the form carries no moment") from error


def posted_hash(request: FarmRequest) -> str:
    """Return a hash of a form as it was sent, but for its token.

    Keyed with the installation's secret: a form may hold a PIN, and of a plain hash whoever gets
    hold of a copy of the database could try them all.
    """
    fields = sorted(
        (name, values) for name, values in request.POST.lists() if name != "csrfmiddlewaretoken"
    )
    sent = json.dumps([request.path, fields])
    return salted_hmac("a form as sent", sent, algorithm="sha256").hexdigest()


def answered(request: FarmRequest) -> Action | None:
    """Return what this very form did when it was sent before, if it was. Raises Conflict."""
    try:
        UUID(request.POST.get("entry", ""))
    except ValueError:
        return None
    return earlier_answer(act_for(request))


def changed_hands(request: FarmRequest) -> bool:
    """Return whether a page that somebody else had open was sent."""
    mine = str(request.user.pk)
    return request.POST.get("person", mine) != mine


def form_key(request: FarmRequest) -> str:
    """Return the id for a form's hidden field: the posted one again, or a new one."""
    return request.POST.get("entry") or str(uuid4())


def attempt(request: FarmRequest, form: BaseForm, act: Callable[[Act], object]) -> tuple[Any, int]:
    """Return (what the action answered, 200), or (None, status) with the refusal on the form.

    A form sent twice is answered as the first time, though it would no longer be right now.
    """
    if not form.is_valid() and "happened_at" in form.errors:
        return None, 422
    try:
        earlier = answered(request)
        if earlier is not None:
            return earlier, 200
        if not form.is_valid():
            return None, 422
        return act(act_for(request)), 200
    except Refused as refusal:
        field = refusal.field if refusal.field in form.fields else None
        form.add_error(field, sentence(refusal))
        return None, refusal.status


def show_form(
    request: FarmRequest, template: str, form: BaseForm, status: int = 200, **context: object
) -> HttpResponse:
    context |= {"form": form, "entry_key": form_key(request)}
    return render(request, template, context, status=status)


def done(action: Action) -> HttpResponse:
    """Lead to the page that says what was done and offers to undo it."""
    return redirect("done", action.pk)
