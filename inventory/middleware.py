"""What every request passes: our own host names, the content policy, the farm and who asks."""

import codecs
import ipaddress
import socket
from collections.abc import Callable
from contextlib import nullcontext
from datetime import timedelta
from typing import Any
from urllib.parse import urlencode

from django.conf import settings
from django.contrib.auth import logout
from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponse, HttpResponseBadRequest
from django.http.request import split_domain_port
from django.shortcuts import redirect, render
from django.urls import resolve, reverse
from django.utils import timezone, translation
from django.utils.translation import gettext as _
from django_htmx.http import HttpResponseClientRedirect

from inventory.errors import Refused
from inventory.lives.logs import rooms_read_once
from inventory.models import Farm, Phone
from inventory.models.crops import names_read_once
from inventory.words.days import farm_days
from inventory.words.refusals import sentence

Answer = Callable[..., HttpResponse]

# What the page's queue says beside a form (see views/entry.py).
WAITED = "Coldroom-Waited"
OWNER_IDLE = timedelta(minutes=15)
_LOCAL_ENDINGS = (".local", ".lan", ".home", ".home.arpa", ".internal", ".localhost")


def _lead(request: HttpRequest, where: str) -> HttpResponse:
    """Lead the whole page there: a part of one can't hold a sign-in."""
    return HttpResponseClientRedirect(where) if request.htmx else redirect(where)


def _page_of(request: HttpRequest) -> str:
    """Return the page of ours that sent a part of itself, as htmx says; home where none does."""
    return (request.htmx and request.htmx.current_url_abs_path) or reverse("home")


def _is_endless_number(exception: Exception) -> bool:
    """Return whether Python refused to read a number for its length, as a guard against floods."""
    told = f"{exception} {exception.__cause__}"
    return isinstance(exception, ValueError) and "integer string conversion" in told


def _sign_in_first(request: HttpRequest) -> HttpResponse:
    """Ask who is there, with what was typed into a form kept: see views/kept.py."""
    request.interrupted = True
    return resolve(reverse("sign-in")).func(request)


def _for_the_queue(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    """Tell a script where the answer stands: left to the browser it would be fetched unseen."""
    if WAITED in request.headers and "Location" in response.headers:
        response.status_code = 204
        response.headers["Coldroom-To"] = response.headers["Location"]
        del response.headers["Location"]
    return response


def _is_in_another_code(request: HttpRequest) -> bool:
    """Return whether a form with files is not in UTF-8; of others Django sees to it."""
    code = request.encoding if request.content_type == "multipart/form-data" else None
    return code is not None and codecs.lookup(code).name != "utf-8"


class LocalHostsMiddleware:
    """Answer only to names of this machine, private addresses, and what COLDROOM_HOSTS adds."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response
        self.names = {
            "localhost",
            socket.gethostname().lower(),
            *map(str.lower, settings.EXTRA_HOSTS),
        }

    def __call__(self, request: HttpRequest) -> HttpResponse:
        host, _ = split_domain_port(request.META.get("HTTP_HOST", "localhost"))
        if not self.is_ours(host):
            return HttpResponseBadRequest(
                "This address is not one of the farm's. The owner adds it with COLDROOM_HOSTS.",
                content_type="text/plain",
            )
        return self.get_response(request)

    def is_ours(self, host: str) -> bool:
        if host in self.names or host.endswith(_LOCAL_ENDINGS):
            return True
        try:
            return ipaddress.ip_address(host.strip("[]")).is_private
        except ValueError:
            return False


class ContentPolicyMiddleware:
    """Only our own scripts, styles and pictures; nobody frames the pages."""

    POLICY = (
        "default-src 'self'; img-src 'self' data:; object-src 'none'; base-uri 'none'; "
        "frame-ancestors 'none'; form-action 'self'"
    )

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers["Content-Security-Policy"] = self.POLICY
        return response


class FarmMiddleware:
    """Put the farm, the phone and the reader's language on the request.

    Before the farm is set up every page leads to the set-up. Every page but those marked
    `public` asks who is there.
    """

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if _is_in_another_code(request):
            raise BadRequest("a form that is not in UTF-8")
        request.farm = Farm.objects.first()
        request.phone = self._phone(request)
        request.interrupted = False
        self._end_idle_rights(request)
        with translation.override(self._language(request)):
            if request.farm is None:
                return self.get_response(request)
            shows_only = rooms_read_once() if request.method == "GET" else nullcontext()
            with farm_days(request.farm, timezone.now()), names_read_once(), shows_only:
                response = _for_the_queue(request, self.get_response(request))
            blank = response.status_code == 405 and not response.content
            answer = self._said(request, response) if blank else response
            # A shared phone keeps no page of whoever had it before, nor the names it may tap.
            answer.headers.setdefault("Cache-Control", "no-store")
            return answer

    def _said(self, request: HttpRequest, response: HttpResponse) -> HttpResponse:
        """Say that an address only takes a form, when it was opened like a page."""
        context = {"sentence": _("Nothing is shown here. Go back and tap the button again.")}
        page = render(request, "inventory/refused.html", context, status=405)
        page.headers["Allow"] = response.headers["Allow"]
        return page

    def process_view(
        self, request: HttpRequest, view: Answer, args: list[Any], kwargs: dict[str, Any]
    ) -> HttpResponse | None:
        if request.farm is None and not getattr(view, "before_set_up", False):
            return redirect("set-up")
        if getattr(view, "public", False):
            return None
        if request.user.is_authenticated:
            return self._other_hands(request)
        if request.method == "POST" and not (request.htmx or WAITED in request.headers):
            return _sign_in_first(request)
        path = request.get_full_path() if request.method == "GET" else _page_of(request)
        return _lead(request, f"{reverse('sign-in')}?{urlencode({'next': path}, safe='/')}")

    def _other_hands(self, request: HttpRequest) -> HttpResponse | None:
        """Write nothing that somebody else tapped before the phone changed hands."""
        tapped_by = request.headers.get("Coldroom-Person") or str(request.user.pk)
        return None if tapped_by == str(request.user.pk) else _lead(request, reverse("who"))

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if _is_endless_number(exception):
            raise BadRequest("a number of thousands of digits") from exception
        if not isinstance(exception, Refused):
            return None
        context = {"sentence": sentence(exception)}
        return render(request, "inventory/refused.html", context, status=exception.status)

    def _phone(self, request: HttpRequest) -> Phone | None:
        """Return the paired phone; a sign-in from an unpaired one ends here."""
        # One paired before cookies of HTTPS had a name of their own is known by its old one.
        names = (settings.PHONE_COOKIE, "phone")
        keys = (request.get_signed_cookie(name, default=None) for name in names)
        key = next(filter(None, keys), None)
        phone = Phone.objects.filter(pk=key, unpaired_at__isnull=True).first() if key else None
        if phone is None and request.user.is_authenticated:
            logout(request)
        return phone

    def _end_idle_rights(self, request: HttpRequest) -> None:
        """Take the owner's rights from a phone that others use too, left alone for a while."""
        session = request.session
        if request.phone is None or not request.phone.shared or not session.get("as_owner"):
            return
        now = timezone.now().timestamp()
        idle = timedelta(seconds=now - session.get("owner_seen", 0))
        if idle > OWNER_IDLE:
            session["as_owner"] = False
        elif idle > timedelta(minutes=1):  # not a write for each page
            session["owner_seen"] = now

    def _language(self, request: HttpRequest) -> str:
        if request.user.is_authenticated:
            return request.user.language
        return translation.get_language_from_request(request)
