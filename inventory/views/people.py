"""Signing in, changing hands on a shared phone, and the first set-up."""

import ipaddress
import secrets
from collections.abc import Callable
from urllib.parse import urlencode
from uuid import uuid4

from django.conf import settings
from django.contrib.auth import authenticate, login, logout
from django.db.models import QuerySet
from django.http import Http404, HttpResponse
from django.http.request import split_domain_port
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from inventory.actions.owner import ADDED
from inventory.actions.people import (
    NOBODY,
    Door,
    guess,
    note_sign_in,
    pair_phone,
    share_phone,
    unpair_phone,
)
from inventory.actions.setup import set_up_farm
from inventory.codes import normalise
from inventory.errors import Refused
from inventory.forms.fields import PlainForm
from inventory.forms.people import OwnerPasswordForm, PinForm, SetUpForm, SignInForm
from inventory.ledger.book import Act
from inventory.models import Farm, Person, Phone
from inventory.views.answers import told_at
from inventory.views.entry import FarmRequest, act_for, before_set_up, owner_only, public
from inventory.views.kept import carried, lead_on
from inventory.words.refusals import sentence

_SEASON_S = 400 * 24 * 3600
_BACKEND = "django.contrib.auth.backends.ModelBackend"


def _next(request: FarmRequest) -> str:
    path = request.POST.get("next") or request.GET.get("next") or "/"
    # What does not begin so would be looked up as the name of a view.
    is_ours = path.startswith("/") and url_has_allowed_host_and_scheme(path, {request.get_host()})
    return path if is_ours else "/"


def _door(request: FarmRequest) -> Door:
    return Door(request.phone, _address(request))


def _address(request: FarmRequest) -> str:
    """Return where a request comes from; "" where a proxy does not say, and all look alike.

    Of the addresses a proxy passes on only the last is its own word.
    """
    here = request.META["REMOTE_ADDR"]
    if settings.HTTPS:
        return _line_of(request.headers.get("X-Forwarded-For", "").rpartition(",")[2].strip()[:60])
    host = split_domain_port(request.get_host())[0].strip("[]")
    return "" if _is_loopback(here) and not _is_loopback(host) else _line_of(here)


def _line_of(address: str) -> str:
    """Return what one line has of its own: an IPv4 address, or the network of an IPv6 one.

    A line is given a /64 or more (RFC 6177, 2), so that whoever guesses has as many addresses.
    """
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address
    if found.version == 4:
        return address
    if found.ipv4_mapped:
        return str(found.ipv4_mapped)
    # Within the farm's own network each phone is a line of its own.
    return str(ipaddress.ip_network((found, 64), strict=False)) if found.is_global else address


def _is_loopback(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host in ("localhost", "testserver")


def _begin(request: FarmRequest, person: Person, proven: bool, as_owner: bool) -> None:
    """Start a session of its own for this person; nothing of the last one is kept."""
    request.session.flush()
    login(request, person, backend=_BACKEND)
    request.session["proven"] = proven
    request.session["as_owner"] = as_owner
    request.session["owner_seen"] = timezone.now().timestamp()
    if request.phone is not None:
        share_phone(request.phone, person)


def _note(request: FarmRequest, person: Person, phone: Phone, how: str) -> None:
    farm = request.farm or Farm.objects.get()
    act = Act(uuid4(), person, farm, timezone.now(), phone=phone, proven=True)
    note_sign_in(act, phone=phone, how=how)


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
    found: list[Person | None] = []

    def check() -> bool:
        found.append(authenticate(request, username=name, password=password))
        return found[0] is not None

    try:
        right = guess(_door(request), _name_of(name), check, timezone.now)
    except Refused as refusal:
        form.add_error(None, sentence(refusal))
        return None
    if not right:
        form.add_error(None, _("That name and password do not belong together."))
        return None
    return found[0]


def _name_of(typed: str) -> str:
    """Return the name of who is called so; names that nobody has count as one."""
    try:
        return Person.objects.get_by_natural_key(typed).name
    except Person.DoesNotExist:
        return NOBODY


def _signed_in(request: FarmRequest, person: Person) -> HttpResponse:
    phone = request.phone or pair_phone(person, _phone_kind(request), timezone.now())
    _note(request, person, phone, "password" if request.phone else ADDED)
    target = _next(request)
    _begin(request, person, proven=True, as_owner=person.is_owner)
    response = lead_on(request, target)
    response.set_signed_cookie(
        settings.PHONE_COOKIE,
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
        _note(request, person, request.phone, "PIN")
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
    problem = _problem(request, person, lambda: check(form.cleaned_data[field]), wrong)
    if problem:
        form.add_error(field, problem)
    return not problem


def _problem(request: FarmRequest, person: Person, check: Callable[[], bool], wrong: str) -> str:
    """Return what is wrong with a person's secret, "" if nothing is."""
    try:
        right = guess(_door(request), person.name, check, timezone.now)
    except Refused as refusal:
        return sentence(refusal)
    return "" if right else wrong


def password_problem(request: FarmRequest, typed: str) -> str:
    """Return what is wrong with a password typed once more by who is signed in, "" if nothing."""
    person = request.user
    wrong = _("That is not the password.")
    return _problem(request, person, lambda: person.check_password(typed), wrong)


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
        if request.phone is not None:
            _note(request, person, request.phone, "password")
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
    unpair_phone(act_for(request), phone=get_object_or_404(Phone, pk=pk))
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
    code = file.read_text(encoding="ascii").strip() if file.exists() else ""
    typed = normalise(form.cleaned_data["code"]).encode()

    def check() -> bool:
        return bool(code) and secrets.compare_digest(typed, code.encode())

    try:
        right = guess(Door(None, _address(request)), "set-up", check, timezone.now)
    except Refused as refusal:
        form.add_error("code", sentence(refusal))
        return False
    if not right:
        form.add_error("code", _("That is not the code. It stands where the program was started."))
    return right


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
    return person


def _reader_language(request: FarmRequest) -> str:
    language = get_language() or "en"
    return language if language in Person.Language.values else "en"
