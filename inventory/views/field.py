"""The walk through the field."""

from django.http import HttpResponse
from django.utils import timezone

from inventory.actions.field import say_walk
from inventory.forms.field import WalkForm
from inventory.queries.field import read_walk
from inventory.views.answers import told_at
from inventory.views.entry import FarmRequest, attempt, show_form


def walk(request: FarmRequest) -> HttpResponse:
    """About how much each block should give; last week's figures are the start."""
    at = timezone.now()
    form = WalkForm(
        request.POST or None,
        farm=request.farm,
        rows=read_walk(request.farm, at),
        today=timezone.localdate(at, request.farm.zone),
    )
    status = 200
    if request.method == "POST":
        action, status = attempt(request, form, lambda act: say_walk(act, rows=form.seen))
        if action:
            return told_at("walk", done=action)
    return show_form(request, "inventory/field/walk.html", form, status)
