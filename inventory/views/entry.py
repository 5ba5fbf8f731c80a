"""From a request to an act: who, when, and the id that makes it count once."""

import json
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import wraps
from typing import Any
from urllib.parse import urlencode
from uuid import UUID, uuid4, uuid5

from django.core.exceptions import PermissionDenied, SuspiciousOperation, ValidationError
from django.db import IntegrityError, transaction
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import resolve, reverse
from django.utils import timezone
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext as _
from django_htmx.middleware import HtmxDetails

from inventory.actions.temperatures import set_reading_aside
from inventory.actions.undo import undo
from inventory.errors import Refused
from inventory.forms.fields import LocalMomentField
from inventory.ledger.book import Act, earlier_answer
from inventory.lives.logs import forget
from inventory.models import Action, Farm, Person, Phone, Reading
from inventory.queries.again import Like, doing_of, done_just_now, is_known
from inventory.words.again import again_words
from inventory.words.refusals import sentence

View = Callable[..., HttpResponseBase]

# What the page's queue says beside a form, and is told beside an answer (see also middleware).
WAITED = "Coldroom-Waited"
TOKEN = "Coldroom-Token"
# What was sent within this time of its tap happened when it came in.
AT_ONCE = timedelta(seconds=10)


class FarmRequest(HttpRequest):
    """A request as the middleware hands it on.

    user: nobody yet on a page marked `public`; farm: None on one marked `before_set_up`.
    interrupted: it is a form for another page, and who is there is asked first.
    """

    farm: Farm
    phone: Phone | None
    user: Person
    htmx: HtmxDetails
    interrupted: bool


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
        if request.method == "POST" and not (request.htmx or WAITED in request.headers):
            request.interrupted = True  # what was typed is kept: see views/kept.py
            return resolve(reverse("owner")).func(request)
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
        return _tapped_at(request)
    field = LocalMomentField()
    field.zone = request.farm.zone
    try:
        return field.clean(said)
    except ValidationError as error:
        raise SuspiciousOperation("the form carries no moment") from error


def _tapped_at(request: FarmRequest) -> datetime | None:
    """Return when a form was tapped that had to wait for an answer; None for one sent at once.

    The phone says for how long it waited, since its clock may be wrong by hours.
    """
    said = request.headers.get(WAITED, "0")
    if not said.isdecimal() or len(said) > 8:
        raise SuspiciousOperation("the form does not say how long it waited")
    waited = timedelta(seconds=int(said))
    return timezone.now() - waited if waited >= AT_ONCE else None


def posted_hash(request: FarmRequest) -> str:
    """Return a hash of a form as it was sent, but for its token and how its page was reached.

    Keyed with the installation's secret: a form may hold a PIN, and of a plain hash whoever gets
    hold of a copy of the database could try them all.
    """
    # How the page was reached is no part of what it says.
    apart = ("csrfmiddlewaretoken", "came")
    fields = sorted((name, values) for name, values in request.POST.lists() if name not in apart)
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


def rows_asked(request: FarmRequest) -> int:
    """Return how many rows of a list are asked for: the first hundred, or as many as a tap said."""
    text = request.GET.get("rows", "")
    return max(int(text), ROWS_SHOWN) if text.isdecimal() and len(text) < 6 else ROWS_SHOWN


def form_key(request: FarmRequest) -> str:
    """Return the id for a form's hidden field: the posted one again, or a new one."""
    return request.POST.get("entry") or str(uuid4())


@dataclass(frozen=True)
class Question:
    """What a person is asked before a form is done. answers: (field, value, its button's words)."""

    words: str
    answers: tuple[tuple[str, str, str], ...]

    @property
    def fields(self) -> set[str]:
        return {field for field, _value, _words in self.answers}


# What a button of a question sends: take the earlier back, do this besides it, I am sure.
ROWS_SHOWN = 100  # of a list of crates, until more are asked for
CORRECT, ANOTHER, SURE = "correct", "another", "sure"


def attempt(
    request: FarmRequest, form: BaseForm, act: Callable[[Act], object], like: Like | None = None
) -> tuple[Any, int]:
    """Return (what the action answered, 200), or (None, status) with the refusal on the form.

    A form sent twice is answered as the first time, though it would no longer be right now.
    like: what it does, where doing it twice by going Back is asked about; its view then stands
    under `corrects`. A question, that one or the form's own `doubt`, is put on the form.
    """
    try:
        done, status = _attempt(request, form, act, like)
    except (IntegrityError, ValidationError) as error:
        # Another request wrote what this one was about to, between its check and its writing.
        return _after_another(request, form, error)
    twin = _twin(request) if done is None else None
    return (twin, 200) if twin is not None else (done, status)


def _after_another(request: FarmRequest, form: BaseForm, error: Exception) -> tuple[Any, int]:
    """Return the answer of the same form sent twice at once; else the form with what is wrong."""
    twin = _twin(request)
    if twin is not None:
        return twin, 200
    form.full_clean()
    if form.is_valid():
        raise error
    return None, 422


def _twin(request: FarmRequest) -> Action | None:
    """Return what this very form did while this request was being checked, if it was sent twice."""
    with suppress(Refused, SuspiciousOperation):
        return answered(request)
    return None


def _attempt(
    request: FarmRequest, form: BaseForm, act: Callable[[Act], object], like: Like | None
) -> tuple[Any, int]:
    if not form.is_valid() and "happened_at" in form.errors:
        return None, 422
    try:
        earlier = answered(request)
        if earlier is not None:
            return earlier, 200
        if like and _is_asked_again(request, form, like):
            return None, 409
        if not form.is_valid():
            return None, 422
        if _is_doubted(request, form):
            return None, 409
        return act(act_for(request)), 200
    except Refused as refusal:
        if like and _is_another_than_sent(request, form, refusal):
            return None, 409
        field = refusal.field if refusal.field in form.fields else None
        form.add_error(field, sentence(refusal))
        return None, refusal.status


def _is_asked_again(request: FarmRequest, form: BaseForm, like: Like) -> bool:
    """Ask about a form reached by Back whose like was done a moment ago."""
    if blocked := getattr(request, "blocked", ""):
        form.question = Question(blocked, ((ANOTHER, "1", _("This is another")),))
        return True
    if request.POST.get("came") != "back" or {CORRECT, ANOTHER} & set(request.POST):
        return False
    if is_known(_id_of(request)):
        return False  # sent before: the action tells the same again from something else
    found = done_just_now(like, request.user, request.phone, timezone.now())
    return found is not None and _ask_again(request, form, found)


def _is_another_than_sent(request: FarmRequest, form: BaseForm, refusal: Refused) -> bool:
    """Ask about a page that the phone kept, sent once more with something else in it."""
    found = doing_of(_id_of(request)) if refusal.code == "sent-before" else None
    if found is None or found.person != request.user:
        return False
    return _ask_again(request, form, found)


def _ask_again(request: FarmRequest, form: BaseForm, found: Action | Reading) -> bool:
    words = again_words(found, request.user, request.farm, timezone.now())
    key = str(found.entry_id if isinstance(found, Reading) else found.pk)
    answers = ((CORRECT, key, _("Correct that")), (ANOTHER, "1", _("This is another")))
    form.question = Question(words, answers)
    return True


def _is_doubted(request: FarmRequest, form: BaseForm) -> bool:
    """Ask what the form itself asks before it is done: where harm is plain."""
    doubt = getattr(form, "doubt", "")
    if not doubt or SURE in request.POST:
        return False
    form.question = Question(doubt, ((SURE, "1", form.all_the_same),))
    return True


def corrects(view: View) -> View:
    """Let a view's form take the place of what was done before, where that button was tapped.

    The earlier is taken back first and the form then judged as if it had never been, all in one
    transaction: if the form is refused, or asks something, the earlier stands as before.
    """

    @wraps(view)
    def guarded(request: FarmRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        earlier = _to_correct(request)
        if earlier is None:
            return view(request, *args, **kwargs)
        try:
            with transaction.atomic():
                _take_back(request, earlier)
                answer = view(request, *args, **kwargs)
                if answer.status_code >= 400:
                    transaction.set_rollback(True)
        except Refused as refusal:
            request.blocked = sentence(refusal)
            return view(request, *args, **kwargs)
        if answer.status_code >= 400:
            forget()  # the rooms' logs were read as if the earlier had never been
        return answer

    return guarded


def _to_correct(request: FarmRequest) -> Action | Reading | None:
    """Return what a form takes the place of; nothing once that was taken back."""
    try:
        return doing_of(UUID(request.POST.get(CORRECT, "")))
    except ValueError:
        return None


def _take_back(request: FarmRequest, earlier: Action | Reading) -> None:
    act = act_for(request)
    act = replace(act, id=uuid5(act.id, CORRECT), told_at=None, posted="")
    if isinstance(earlier, Reading):
        set_reading_aside(act, reading=earlier)
    else:
        undo(act, action=earlier)


def show_form(
    request: FarmRequest, template: str, form: BaseForm, status: int = 200, **context: object
) -> HttpResponse:
    question = getattr(form, "question", None)
    asked = question.fields if question else set()
    if question:
        form.errors.clear()  # the answer may change what is right: it is judged after it
    context |= {
        "form": form,
        # What is done besides, or in place of, something else is a doing of its own.
        "entry_key": str(uuid4()) if ANOTHER in asked else form_key(request),
        "came": "back" if ANOTHER in asked else request.POST.get("came", ""),
        "question": question,
        "answered": [
            (name, request.POST[name])
            for name in (CORRECT, ANOTHER, SURE)
            if name in request.POST and name not in asked and ANOTHER not in asked
        ],
    }
    _point_at_the_first_problem(form)
    return render(request, template, context, status=status)


def _point_at_the_first_problem(form: BaseForm) -> None:
    """Let the browser show the first field that is wrong, wherever on the page it stands."""
    for name in form.errors if form.is_bound else ():
        if name in form.fields:
            # Of several the browser takes the first on the page.
            form.fields[name].widget.attrs["autofocus"] = True


def done(action: Action) -> HttpResponse:
    """Lead to the page that says what was done and offers to undo it."""
    return redirect("done", action.pk)
