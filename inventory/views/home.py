"""The rotation page, and a sign of life."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from inventory.queries.first_steps import steps_to_do
from inventory.queries.groups import group_crates
from inventory.queries.home import read_rotation
from inventory.queries.temperatures import late_change, read_air, rooms_unchecked
from inventory.views.entry import FarmRequest, before_set_up

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
        "steps": steps_to_do(request.farm) if request.user.is_owner else [],
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
