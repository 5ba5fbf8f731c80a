"""Pages for what went wrong. Nothing typed is lost to a stale form."""

import sys
from collections.abc import Callable
from urllib.parse import urlsplit

from django.http import HttpResponse
from django.middleware.csrf import get_token
from django.shortcuts import redirect, render
from django.utils import translation
from django.utils.html import format_html
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _

from inventory.upkeep.ground import what_gave_way
from inventory.views.entry import TOKEN, WAITED, FarmRequest
from inventory.views.kept import may_keep
from inventory.words.ground import ground_words


def stale_form(request: FarmRequest, reason: str = "") -> HttpResponse:
    """Offer to send a form again whose page was open too long, with all that was typed.

    Only a form of our own pages, by somebody signed in: another site's form must not get a
    fresh token from us.
    """
    if not _is_from_here(request):
        return forbidden_form(request)
    if not request.user.is_authenticated:
        # The queue keeps what it could not send, and sends it after the sign-in.
        return redirect("sign-in") if WAITED in request.headers else forbidden_form(request)
    response = _again(request)
    response.headers[TOKEN] = get_token(request)
    return response


def _again(request: FarmRequest) -> HttpResponse:
    if request.headers.get("HX-Request"):
        context = {"token": get_token(request)}
        return render(request, "inventory/stale_scan.html", context, status=403)
    fields = [
        (name, value) for name, values in request.POST.lists() if may_keep(name) for value in values
    ]
    context = {"fields": fields, "path": request.get_full_path()}
    return render(request, "inventory/stale_form.html", context, status=403)


def _is_from_here(request: FarmRequest) -> bool:
    """Return whether the browser says that one of our own pages sent this."""
    sender = request.headers.get("Origin") or request.headers.get("Referer") or ""
    try:
        return urlsplit(sender).netloc == request.get_host()
    except ValueError:
        return False


def forbidden_form(request: FarmRequest) -> HttpResponse:
    context = {"sentence": _("This form did not come from one of our pages. Open it here again.")}
    return render(request, "inventory/refused.html", context, status=403)


def forbidden(request: FarmRequest, exception: Exception | None = None) -> HttpResponse:
    context = {"sentence": _("Only the owner can do this. Owner: tap your name at the top first.")}
    return render(request, "inventory/refused.html", context, status=403)


def bad_request(request: FarmRequest, exception: Exception | None = None) -> HttpResponse:
    """Say so on a page that reads nothing of the request again, which may be what failed."""
    return _in_both_languages(_unreadable, 400)


def _unreadable() -> str:
    return _(
        "This could not be read. Nothing was written. Go back, open the page anew and try again."
    )


def not_found(request: FarmRequest, exception: Exception | None = None) -> HttpResponse:
    context = {"sentence": _("There is no such page, crate or place.")}
    return render(request, "inventory/refused.html", context, status=404)


_STATUS = {"full": 507}


def server_error(request: FarmRequest) -> HttpResponse:
    """Say so without touching the database, which may be what failed."""
    kind = what_gave_way(sys.exc_info()[1])
    if kind:
        return _in_both_languages(lambda: ground_words(kind), _STATUS.get(kind, 503))
    return _in_both_languages(_our_fault, 500)


def _our_fault() -> str:
    return _("Something went wrong on our side. Nothing was half-written. Go back and try again.")


def _in_both_languages(words: Callable[[], str], status: int) -> HttpResponse:
    said = []
    for language in ("en", "es"):
        with translation.override(language):
            said.append(format_html('<p lang="{}">{}</p>', language, words()))
    page = '<!doctype html><html lang="en"><title>Error</title><h1>Error</h1>{}'
    return HttpResponse(format_html(page, mark_safe("".join(said))), status=status)
