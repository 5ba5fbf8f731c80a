"""The rotation page, finding a crate by its code, and a sign of life."""

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from inventory.codes import InvalidCode, is_tail, normalise, read_code
from inventory.models import Lot, Position, Tag
from inventory.queries.crates import by_tail
from inventory.queries.groups import group_crates
from inventory.queries.home import read_rotation
from inventory.queries.temperatures import late_change, read_air, rooms_unchecked
from inventory.views.entry import FarmRequest, before_set_up
from inventory.words.refusals import code_sentence

URGENT = 3  # rows of crates to sell first that the first view of the page holds


@before_set_up
def healthz(request: FarmRequest) -> HttpResponse:
    return HttpResponse("ok", content_type="text/plain")


def home(request: FarmRequest) -> HttpResponse:
    """Is the room right, what goes first, what waits."""
    at = timezone.now()
    rotation = read_rotation(request.farm, at)
    first = group_crates(rotation.sell_first)
    context = {
        "rooms": read_air(at),
        "unchecked": rooms_unchecked(request.farm, at),
        "late_log": late_change(at),
        "today": timezone.localdate(at),
        "rotation": rotation,
        "urgent": first[:URGENT],
        "then": first[URGENT:],
        "then_crates": sum(len(group.crates) for group in first[URGENT:]),
        "probe_due": [row for row in rotation.came_in if row.probe_is_due],
        "discard": group_crates(rotation.discard),
        "look": group_crates(rotation.look),
        "kept": group_crates(rotation.kept),
        "held": group_crates(rotation.held),
        "not_found": group_crates(rotation.not_found),
    }
    return render(request, "inventory/home/home.html", context)


def more(request: FarmRequest) -> HttpResponse:
    """What is done less often, and finding."""
    return render(request, "inventory/home/more.html")


def find(request: FarmRequest) -> HttpResponse:
    """Lead to the crate or place with this code; the last four find it, a tap confirms it."""
    typed = request.GET.get("code", "")[:100]
    if not typed.strip():
        return render(request, "inventory/home/find.html", {"typed": ""})
    if is_tail(typed):
        return _found_by_tail(request, typed)
    try:
        code = read_code(_without_address(typed))
    except InvalidCode as error:
        return _not_found(request, typed, code_sentence(error), 422)
    if Lot.objects.filter(pk=code).exists() or Tag.objects.filter(pk=code).exists():
        return redirect("crate", code)
    if Position.objects.filter(pk=code).exists():
        return redirect("place", code)
    return _not_found(request, typed, _("Nothing has this code."), 404)


def _without_address(typed: str) -> str:
    """Return the code of a scanned label, which is a link to this site."""
    return typed.strip().rstrip("/").rpartition("/")[2]


def _found_by_tail(request: FarmRequest, typed: str) -> HttpResponse:
    crates = by_tail(typed, request.farm, timezone.now())
    if not crates:
        words = _("No crate in the house ends in %s. Type all seven.") % normalise(typed)
        return _not_found(request, typed, words, 404)
    return render(request, "inventory/home/find.html", {"typed": typed, "crates": crates})


def _not_found(request: FarmRequest, typed: str, words: str, status: int) -> HttpResponse:
    context = {"typed": typed, "problem": words, "find_url": reverse("find")}
    return render(request, "inventory/home/find.html", context, status=status)
