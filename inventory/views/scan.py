"""Crate after crate: what a scan means is chosen once, then each scan acts at once.

A scan comes from the camera, a photo, a scanner that types, or a hand; all end in one text.
"""

import json
from dataclasses import replace
from uuid import uuid5

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST

from coldroom.tls import authority_file
from inventory.forms.crates import DISCARD_REASONS, OTHER_DESTINATIONS, USUAL_DESTINATIONS
from inventory.labels.read import NoPicture, open_picture, read_symbols
from inventory.labels.turns import FRAME_WAITS_S, PHOTO_WAITS_S, pictures
from inventory.ledger.book import Act
from inventory.lives.logs import rooms_read_once
from inventory.models import Outlet, Position
from inventory.queries.book import BookOrder, read_book
from inventory.queries.labels import NotOurs, read_label
from inventory.queries.ledger import open_discards
from inventory.queries.scans import given_to
from inventory.queries.tags import tags_on
from inventory.rotation.scans import Mode
from inventory.views.entry import FarmRequest, act_for, changed_hands
from inventory.views.scanned import Said, act_on, here_words, overruled, place_of
from inventory.words.refusals import picture_sentence

MODES = {
    Mode.LOOK: gettext_lazy("Find a crate"),
    Mode.PUT_AWAY: gettext_lazy("Put away or move here"),
    Mode.ORDER: gettext_lazy("Get for order"),
    Mode.MARKET: gettext_lazy("Load for market"),
    Mode.BACK: gettext_lazy("Bring back"),
    Mode.DISCARD: gettext_lazy("Discard"),
    Mode.COUNT: gettext_lazy("Count the room"),
    Mode.TAG: gettext_lazy("Put tags on"),
}
MOST_IN_A_PHOTO = 40
MOST_ORDERS = 12


def choose(request: FarmRequest) -> HttpResponse:
    return render(request, "inventory/scan/scan_choose.html", {"modes": MODES.items()})


def scan(request: FarmRequest, mode: str) -> HttpResponse:
    """The page of one mode, and what each scan of it does."""
    if mode not in MODES:
        raise Http404
    mode = Mode(mode)
    if changed_hands(request):
        return _lead_to(request, reverse("scan", args=["look"]))
    said: list[Said] = []
    here = place_of(request.POST.get("here") or request.GET.get("here", ""))
    if request.method == "POST":
        with rooms_read_once():  # no scan writes a reading
            said = _scanned(request, mode, here)
        here = next((one.place for one in said if one.place), here)
        seen = said[0].crate.code if said[0].crate else said[0].free
        if mode == Mode.LOOK and seen and len(said) == 1:
            return _lead_to(request, reverse("crate", args=[seen]))
    asked = request.POST or request.GET
    context = {
        "mode": mode,
        "title": MODES[mode],
        "said": said,
        "here": here,
        "pulls": not request.htmx and mode == Mode.ORDER and _orders(request),
        "markets": Outlet.objects.filter(kind=Outlet.Kind.MARKET, in_use=True),
        "reasons": DISCARD_REASONS,
        "usual": USUAL_DESTINATIONS,
        "elsewhere": OTHER_DESTINATIONS,
        "chosen": asked,
        "tags": mode == Mode.TAG and tags_on(asked.get("intake", "")),
        "places": not request.htmx and _places(mode),
        "discards_open": not request.htmx
        and open_discards(request.user, request.farm, timezone.now()),
        "can_trust": authority_file(settings.DATA_DIR).exists() and not request.is_secure(),
    }
    template = "inventory/scan/scan.html#said" if request.htmx else "inventory/scan/scan.html"
    status = 409 if said and said[0].result == "refused" else 200
    return render(request, template, context, status=status)


def _places(mode: Mode) -> str:
    """Return what each place says of itself, for a phone without an answer to a scan of one."""
    if mode not in (Mode.PUT_AWAY, Mode.BACK, Mode.COUNT):
        return ""
    places = Position.objects.filter(in_use=True).select_related("room")
    return json.dumps({place.pk: here_words(place) for place in places})


def _scanned(request: FarmRequest, mode: str, here: Position | None) -> list[Said]:
    """Return what each text of a scan or photo did, the last one first."""
    act = act_for(request)
    try:
        texts = _texts(request)
    except NoPicture as error:
        return [Said("refused", picture_sentence(error))]
    said: list[Said] = []
    for number, text in enumerate(texts):
        one = act_on(request, mode, text, here, _numbered(act, number))
        here = one.place or here
        said.insert(0, one)
    return said


def _numbered(act: Act, number: int) -> Act:
    """Return an act of its own for each label of a photo, the same when it is sent again."""
    return replace(act, id=uuid5(act.id, str(number))) if number else act


def _lead_to(request: FarmRequest, path: str) -> HttpResponse:
    response = HttpResponse(status=204 if request.htmx else 302)
    response["HX-Redirect" if request.htmx else "Location"] = path
    return response


def _texts(request: FarmRequest) -> list[str]:
    """Return what was scanned: every label of a photo, or the one text. Raises NoPicture."""
    photo = request.FILES.get("photo")
    if photo is None:
        return [(request.POST.get("text") or overruled(request))[:300]]
    with pictures.take(PHOTO_WAITS_S):
        texts = read_symbols(open_picture(photo.read()))
    if not texts:
        raise NoPicture("no-label")
    return _place_first(request, texts)[:MOST_IN_A_PHOTO]


def _place_first(request: FarmRequest, texts: list[str]) -> list[str]:
    """Return the texts of a photo, its one place before its crates; of several as they stand."""
    places = [text for text in texts if _is_place(request, text)]
    if len(places) != 1:
        return texts
    return places + [text for text in texts if text not in places]


def _is_place(request: FarmRequest, text: str) -> bool:
    try:
        _kind, code = read_label(text, request.get_host())
    except NotOurs:
        return False
    return given_to(code) == "position"


@require_POST
def read(request: FarmRequest) -> HttpResponse:
    """The codes in a picture of the camera, for a browser that can't read them itself."""
    photo = request.FILES.get("photo")
    try:
        texts = _look_at(photo, "thorough" in request.POST) if photo else []
    except NoPicture as error:
        if error.reason == "busy":
            return JsonResponse({"texts": [], "busy": True})
        return JsonResponse({"error": "no picture"}, status=400)
    return JsonResponse({"texts": texts})


def _look_at(photo: UploadedFile, thorough: bool) -> list[str]:
    """Return the texts of a camera's frame; a thorough look only while nobody waits for it."""
    with pictures.take(FRAME_WAITS_S) as alone:
        return read_symbols(open_picture(photo.read()), thorough and alone)


def _orders(request: FarmRequest) -> list[BookOrder]:
    """Return the orders one may scan for: the one asked for, those half got, then the next due."""
    book = read_book(request.farm, timezone.now())
    asked = request.GET.get("pull")
    book.sort(key=lambda order: (str(order.id) != asked, not order.is_begun))
    return book[:MOST_ORDERS]
