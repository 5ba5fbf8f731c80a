"""Finding a crop, a field, a buyer, a place or a crate by what is typed or scanned."""

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from inventory.codes import LENGTH, InvalidCode, is_tail, normalise, read_code
from inventory.models import Lot, Position, Tag
from inventory.queries import find as queries
from inventory.queries.groups import group_crates
from inventory.queries.labels import NotOurs, read_label
from inventory.views.entry import FarmRequest
from inventory.words.refusals import code_sentence


def find(request: FarmRequest) -> HttpResponse:
    """Lead to the crate or place with this code, or show what answers to this name.

    The last four of a code find its crate; a tap confirms it.
    """
    typed = request.GET.get("code", "")[:100].strip()
    if not typed:
        return render(request, "inventory/home/find.html", {"typed": ""})
    try:
        code = read_code(_without_address(typed, request.get_host()))
    except InvalidCode as error:
        return _find_by_name(request, typed, error)
    if Lot.objects.filter(pk=code).exists() or Tag.objects.filter(pk=code).exists():
        return redirect("crate", code)
    if Position.objects.filter(pk=code).exists():
        return redirect("place", code)
    return _find_by_name(request, typed, None)


def _without_address(typed: str, host: str) -> str:
    """Return the code of a scanned label, which is a link to this site."""
    try:
        return read_label(typed, host)[1]
    except NotOurs:
        return typed.rstrip("/").rpartition("/")[2]


def _find_by_name(request: FarmRequest, typed: str, wrong: InvalidCode | None) -> HttpResponse:
    """Show what is called so. wrong: why it is no code; None for a code that nothing has."""
    found = queries.find(typed, request.farm, timezone.now())
    if found.only_place:
        return redirect("place", found.only_place.pk)
    if not found:
        return _not_found(request, typed, wrong)
    context = {
        "typed": typed,
        "found": found,
        "in_house": [(row, group_crates(row.crates)) for row in found.in_house],
    }
    return render(request, "inventory/home/find.html", context)


def _not_found(request: FarmRequest, typed: str, wrong: InvalidCode | None) -> HttpResponse:
    problems, status = [_("Nothing found for “%(typed)s”.") % {"typed": typed}], 404
    if wrong is None:
        problems = [_("Nothing has this code.")]
    elif _is_meant_as_code(typed):
        problems, status = [*problems, code_sentence(wrong)], 422
    elif is_tail(typed):
        problems.append(_("No crate in the house has a code that ends so. Type all seven."))
    context = {"typed": typed, "problem": " ".join(problems)}
    return render(request, "inventory/home/find.html", context, status=status)


def _is_meant_as_code(typed: str) -> bool:
    """Return whether it is as long as a code, or nothing but figures."""
    code = normalise(typed)
    return len(code) == LENGTH or (code.isdigit() and not is_tail(typed))
