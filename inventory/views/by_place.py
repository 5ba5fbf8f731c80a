"""One table by place in three dresses: the look at what is past, catching up, the door sheet."""

from dataclasses import replace
from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from inventory.actions.by_place import write_all
from inventory.forms.by_place import CatchUpForm, LookForm
from inventory.labels.compose import qr_outline
from inventory.models import Action, Position
from inventory.queries import by_place
from inventory.queries.by_place import PlaceRow
from inventory.views.entry import FarmRequest, attempt, show_form


def look_round(request: FarmRequest) -> HttpResponse:
    """Walk past what is past its time: discard, keep for some days, or say it is not there."""
    pages, rows = _page_of(request, by_place.read_to_look_at(request.farm, timezone.now()))
    form = LookForm(request.POST or None, farm=request.farm, rows=rows)
    status = 200
    if request.method == "POST":
        first, status = attempt(request, form, lambda act: write_all(act, said=form.said))
        if first:
            return _written(first)
    return show_form(request, "inventory/by_place/look_round.html", form, status, pages=pages)


def catch_up(request: FarmRequest) -> HttpResponse:
    """Write down what happened to the crates on a day nobody did. Stock only."""
    now = timezone.now()
    pages, rows = _page_of(request, by_place.read_all(request.farm, now))
    form = CatchUpForm(
        request.POST or None,
        farm=request.farm,
        rows=rows,
        today=timezone.localdate(now, request.farm.zone),
        initial={"day": request.GET.get("day", "")} if "day" in request.GET else None,
    )
    status = 200
    if request.method == "POST":
        first, status = attempt(
            request,
            form,
            lambda act: write_all(replace(act, told_at=form.happened_at(now)), said=form.said),
        )
        if first:
            return _written(first)
    return show_form(request, "inventory/by_place/catch_up.html", form, status, pages=pages)


def _page_of(
    request: FarmRequest, rows: list[PlaceRow]
) -> tuple[list[Position | None], list[PlaceRow]]:
    """Return with which place each page begins, and the places of the page that is asked for.

    A form that was sent is about the crates it names, wherever they stand by now.
    """
    pages = by_place.in_pages(rows)
    begins = [page[0].position for page in pages] if len(pages) > 1 else []
    named = set(request.POST.getlist("shown"))
    if named:
        return begins, by_place.those_of(rows, named)
    asked = request.GET.get("page", "")
    number = int(asked) if asked.isdecimal() and len(asked) < 4 else 1
    return begins, pages[min(max(number, 1), len(pages)) - 1]


def door_sheet(request: FarmRequest) -> HttpResponse:
    """One page of paper for the door, to be ticked with a pencil and typed back."""
    now = timezone.now()
    sheet = by_place.read_sheet(request.farm, now)
    symbols = {crate.code: qr_outline(crate.code) for crate in (*sheet.look, *sheet.first)}
    context = {"sheet": sheet, "now": now, "symbols": symbols}
    return render(request, "inventory/by_place/door_sheet.html", context)


def written(request: FarmRequest, pk: UUID) -> HttpResponse:
    """What one form about many crates wrote, each with the page that undoes it."""
    actions = by_place.written_by(pk)
    if not actions:
        raise Http404
    return render(request, "inventory/by_place/written.html", {"actions": actions})


def _written(first: Action) -> HttpResponse:
    return redirect("written", first.pk)
