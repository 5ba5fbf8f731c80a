"""Signing in, changing hands on a shared phone, and the first set-up."""

import secrets
from collections.abc import Callable
from urllib.parse import urlencode

from django.conf import settings
from django.contrib.auth import authenticate, login, logout
from django.db.models import QuerySet
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from inventory.actions.people import begin_guess, forget_guesses, pair_phone, unpair_phone
from inventory.actions.setup import set_up_farm
from inventory.codes import normalise
from inventory.errors import Refused
from inventory.forms.fields import PlainForm
from inventory.forms.people import OwnerPasswordForm, PinForm, SetUpForm, SignInForm
from inventory.models import Person, Phone
from inventory.views.answers import told_at
from inventory.views.entry import FarmRequest, before_set_up, owner_only, public
from inventory.views.kept import carried, lead_on
from inventory.words.refusals import sentence

_SEASON_S = 400 * 24 * 3600
_BACKEND = "django.contrib.auth.backends.ModelBackend"


def _next(request: FarmRequest) -> str:
    path = request.POST.get("next") or request.GET.get("next") or "/"
    return path if url_has_allowed_host_and_scheme(path, {request.get_host()}) else "/"


def _device(request: FarmRequest) -> str:
    return f"phone-{request.phone.pk}" if request.phone else request.META["REMOTE_ADDR"]


def _begin(request: FarmRequest, person: Person, proven: bool, as_owner: bool) -> None:
    """Start a session of its own for this person; nothing of the last one is kept."""
    request.session.flush()
    login(request, person, backend=_BACKEND)
    request.session["proven"] = proven
    request.session["as_owner"] = as_owner


@public
def sign_in(request: FarmRequest) -> HttpResponse:
    """Sign in by name and password, which pairs the phone; or tap a name on a paired one."""
    if request.interrupted:
        return _first(request, "sign-in", "/") or _sign_in_page(request, SignInForm(), 403)
    form = SignInForm(request.POST or None)
    status = 200
    if request.method == "POST":
        person = None
        if form.is_valid():
            person = _check(request, form)
        if person is not None:
            return _signed_in(request, person)
        status = 422
    return _sign_in_page(request, form, status)


def _first(request: FarmRequest, view: str, target: str) -> HttpResponse | None:
    """Lead to a page that asks who is there, where nothing was typed that must be kept."""
    if carried(request):
        return None
    return redirect(f"{reverse(view)}?{urlencode({'next': target}, safe='/')}")


def _sign_in_page(request: FarmRequest, form: SignInForm, status: int) -> HttpResponse:
    people = _crew() if request.phone else []
    context = {"form": form, "next": _next(request), "people": people, "kept": carried(request)}
    return render(request, "inventory/people/sign_in.html", context, status=status)


def _phone_kind(request: FarmRequest) -> str:
    """Return what sort of device this is, as far as its browser says."""
    browser = request.headers.get("User-Agent", "")
    kinds = ("iPhone", "iPad", "Android", "Windows", "Macintosh", "Linux")
    return next((kind for kind in kinds if kind in browser), "") or _("another device")


def _crew() -> QuerySet[Person]:
    return Person.objects.filter(is_active=True)


def _check(request: FarmRequest, form: SignInForm) -> Person | None:
    name, password = form.cleaned_data["name"], form.cleaned_data["password"]
    device = _device(request)
    try:
        begin_guess(device, name, timezone.now())
    except Refused as refusal:
        form.add_error(None, sentence(refusal))
        return None
    person = authenticate(request, username=name, password=password)
    if person is None:
        form.add_error(None, _("That name and password do not belong together."))
        return None
    forget_guesses(device, name)
    return person


def _signed_in(request: FarmRequest, person: Person) -> HttpResponse:
    phone = request.phone or pair_phone(person, _phone_kind(request), timezone.now())
    target = _next(request)
    _begin(request, person, proven=True, as_owner=person.is_owner)
    response = lead_on(request, target)
    response.set_signed_cookie(
        "phone",
        phone.pk,
        max_age=_SEASON_S,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )
    return response


@require_POST
def sign_out(request: FarmRequest) -> HttpResponse:
    logout(request)
    return redirect("sign-in")


@public
def who(request: FarmRequest) -> HttpResponse:
    """The names to tap when a paired phone changes hands."""
    if request.phone is None:
        return redirect("sign-in")
    context = {"people": _crew(), "next": _next(request)}
    return render(request, "inventory/people/who.html", context)


@public
def switch(request: FarmRequest, pk: int) -> HttpResponse:
    """Change to a crew member by a tap, and a PIN where the farm wants it."""
    if request.phone is None:
        return redirect("sign-in")
    person = get_object_or_404(_crew(), pk=pk)
    if not (request.farm.pin_required and person.pin):
        if request.method != "POST":
            return redirect("who")
        _begin(request, person, proven=False, as_owner=False)
        return lead_on(request, _next(request))
    form = PinForm(request.POST if "pin" in request.POST else None)
    if form.is_valid() and _check_pin(request, form, person):
        _begin(request, person, proven=True, as_owner=False)
        return lead_on(request, _next(request))
    context = {
        "form": form, "someone": person, "next": _next(request), "kept": carried(request),
    }  # fmt: skip
    return render(request, "inventory/people/pin.html", context, status=422 if form.errors else 200)


def _check_pin(request: FarmRequest, form: PinForm, person: Person) -> bool:
    return _guarded(
        request, form, "pin", person, person.check_pin, _("That is not the PIN of %s.") % person
    )


def _guarded(
    request: FarmRequest,
    form: PlainForm,
    field: str,
    person: Person,
    check: Callable[[str], bool],
    wrong: str,
) -> bool:
    """Check a secret against a person, slowly after wrong guesses."""
    device = _device(request)
    try:
        begin_guess(device, person.name, timezone.now())
    except Refused as refusal:
        form.add_error(field, sentence(refusal))
        return False
    if not check(form.cleaned_data[field]):
        form.add_error(field, wrong)
        return False
    forget_guesses(device, person.name)
    return True


def owner(request: FarmRequest) -> HttpResponse:
    """Ask the owner's password before the owner's doings on a phone taken by a tap."""
    if not request.user.is_owner:
        raise Http404
    if request.interrupted:
        path = request.get_full_path()
        return _first(request, "owner", path) or _owner_page(request, OwnerPasswordForm(), 403)
    form = OwnerPasswordForm(request.POST or None)
    person = request.user
    if form.is_valid() and _guarded(
        request, form, "password", person, person.check_password, _("That is not the password.")
    ):
        target = _next(request)
        _begin(request, person, proven=True, as_owner=True)
        return lead_on(request, target)
    return _owner_page(request, form, 422 if form.errors else 200)


def _owner_page(request: FarmRequest, form: OwnerPasswordForm, status: int) -> HttpResponse:
    context = {"form": form, "next": _next(request), "kept": carried(request)}
    return render(request, "inventory/people/owner.html", context, status=status)


@owner_only
def phones(request: FarmRequest) -> HttpResponse:
    """The phones that may be signed in by a tap on a name."""
    return render(
        request,
        "inventory/people/phones.html",
        {"phones": Phone.objects.filter(unpaired_at__isnull=True).select_related("paired_by")},
    )


@require_POST
@owner_only
def unpair(request: FarmRequest, pk: int) -> HttpResponse:
    unpair_phone(get_object_or_404(Phone, pk=pk), timezone.now())
    return told_at("phones", done="phone-unpaired")


@before_set_up
def set_up(request: FarmRequest) -> HttpResponse:
    """The first page of a new installation: farm, room, shelves, owner."""
    if request.farm is not None:
        return redirect("home")
    form = SetUpForm(request.POST or None)
    if form.is_valid() and _set_up_code_is_right(request, form):
        person = _make_farm(request, form)
        return _signed_in(request, person)
    return render(
        request, "inventory/people/set_up.html", {"form": form}, status=422 if form.errors else 200
    )


def _set_up_code_is_right(request: FarmRequest, form: SetUpForm) -> bool:
    file = settings.DATA_DIR / "set-up-code"
    try:
        begin_guess(request.META["REMOTE_ADDR"], "set-up", timezone.now())
    except Refused as refusal:
        form.add_error("code", sentence(refusal))
        return False
    code = file.read_text(encoding="ascii").strip() if file.exists() else ""
    if not code or not secrets.compare_digest(
        normalise(form.cleaned_data["code"]).encode(), code.encode()
    ):
        form.add_error("code", _("That is not the code. It stands where the program was started."))
        return False
    return True


def _make_farm(request: FarmRequest, form: SetUpForm) -> Person:
    data = form.cleaned_data
    person = set_up_farm(
        name=data["name"],
        region=data["region"],
        weight_unit=data["weight_unit"],
        temperature_unit=data["temperature_unit"],
        time_zone=data["time_zone"],
        rooms=[form.shelving],
        owner_name=data["owner"],
        password=data["password"],
        language=_reader_language(request),
        choose=secrets.choice,
    )
    (settings.DATA_DIR / "set-up-code").unlink(missing_ok=True)
    forget_guesses(request.META["REMOTE_ADDR"], "set-up")
    return person


def _reader_language(request: FarmRequest) -> str:
    language = get_language() or "en"
    return language if language in Person.Language.values else "en"
