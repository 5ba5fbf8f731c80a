"""The rounds that scans make, at their end: discards made final, a count settled."""

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from inventory.actions.counting import end_round, settle_round
from inventory.actions.quality import end_discard_round
from inventory.models import CountRound
from inventory.queries.counting import read_round
from inventory.queries.ledger import open_discards
from inventory.views.answers import told_at
from inventory.views.entry import FarmRequest, act_for, answered, done, form_key


def end_discards(request: FarmRequest) -> HttpResponse:
    """What this person threw out today, to be made final."""
    if request.method == "POST":
        end_discard_round(act_for(request))
        return told_at("home", done="round-ended")
    context = {
        "actions": open_discards(request.user, request.farm, timezone.now()),
        "entry_key": form_key(request),
    }
    return render(request, "inventory/scan/discard_round.html", context)


def count_found(request: FarmRequest) -> HttpResponse:
    """What this person's count found, to be settled one by one or all at once."""
    going_on = CountRound.objects.filter(person=request.user, ended_at__isnull=True).first()
    if going_on is None:
        return redirect("scan", "count")
    if request.method == "POST" and request.POST.get("end"):
        end_round(act_for(request), count_round=going_on)
        return told_at("home", done="count-ended")
    earlier = answered(request)
    if earlier is not None:
        return done(earlier)
    if request.method == "POST":
        action = settle_round(
            act_for(request),
            count_round=going_on,
            missing=request.POST.getlist("missing"),
            misplaced=request.POST.getlist("misplaced"),
            back=request.POST.getlist("back"),
        )
        return done(action)
    last = going_on.seen.order_by("-at").first()
    context = {"found": read_round(going_on), "last": last, "entry_key": form_key(request)}
    return render(request, "inventory/rooms/count_round.html", context)
