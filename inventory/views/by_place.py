"""One table by place in three dresses: the look at what is past, catching up, the door sheet."""

from dataclasses import replace
from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from inventory.actions.by_place import write_all
from inventory.forms.by_place import CatchUpForm, LookForm
from inventory.labels.compose import qr_outline
from inventory.models import Action
from inventory.queries import by_place
from inventory.views.entry import FarmRequest, attempt, show_form


def look_round(request: FarmRequest) -> HttpResponse:
    """Walk past what is past its time: discard, keep for some days, or say it is not there."""
    rows = by_place.read_to_look_at(request.farm, timezone.now())
    form = LookForm(request.POST or None, farm=request.farm, rows=rows)
    status = 200
    if request.method == "POST":
        first, status = attempt(request, form, lambda act: write_all(act, said=form.said))
        if first:
            return _written(first)
    return show_form(request, "inventory/by_place/look_round.html", form, status)


def catch_up(request: FarmRequest) -> HttpResponse:
    """Write down what happened to the crates on a day nobody did. Stock only."""
    now = timezone.now()
    rows = by_place.read_all(request.farm, now)
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
    return show_form(request, "inventory/by_place/catch_up.html", form, status)


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
