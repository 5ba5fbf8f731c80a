"""How the log itself is doing, for its owner."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from inventory.queries.health import read_health
from inventory.upkeep.backup import last_good_copy
from inventory.views.entry import FarmRequest, owner_only
from inventory.words.health import Line, health_lines


@owner_only
def health(request: FarmRequest) -> HttpResponse:
    """Copies, mail, sensors, the check of the ledger, the disk: a line each."""
    lines = lines_now(request)
    context = {"lines": lines, "bad": sum(line.is_bad for line in lines)}
    return render(request, "inventory/owner/health.html", context)


def lines_now(request: FarmRequest) -> list[Line]:
    health = read_health(request.farm, timezone.now(), last_good_copy())
    return health_lines(health)
