"""What was just done and its undo, the ledger, and its export."""

import csv
import io
import time
from collections import Counter
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from itertools import islice
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.http import HttpResponse, QueryDict, StreamingHttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.actions.undo import undo
from inventory.errors import Conflict, Refused
from inventory.forms.ledger import LedgerForm
from inventory.lives.reader import cooling_of
from inventory.models import (
    Action,
    Credit,
    Empties,
    Handover,
    Lot,
    Movement,
    Order,
    OrderEntry,
    Suggestion,
)
from inventory.queries.dates import is_past_use_by
from inventory.queries.intakes import left_to_put_away
from inventory.queries.ledger import (
    blocking_action,
    csv_rows,
    find_changes,
    find_movements,
    may_undo,
    page_of,
)
from inventory.queries.market import read_came_back, read_sold
from inventory.queries.put_down import put_down_by, read_to_mind
from inventory.queries.rooms import Share
from inventory.views.answers import told_at
from inventory.views.entry import (
    FarmRequest,
    act_for,
    changed_hands,
    form_key,
    is_owner,
    owner_only,
)
from inventory.views.entry import done as lead_to_done
from inventory.words.refusals import sentence

PAGE_ROWS = 50
PIECE_ROWS, PAUSE_S = 500, 0.02  # of an export, so that a scan meanwhile does not wait for it
MOST_PAGES = 100_000
_OF_NO_CRATE = (
    Action.Kind.WALK,
    Action.Kind.ADVICE,
    Action.Kind.HANDOVER,
    Action.Kind.CREDIT,
    Action.Kind.ORDER,
    Action.Kind.EMPTIES,
)


def done(request: FarmRequest, pk: UUID) -> HttpResponse:
    """What an action wrote, with its undo for as long as nothing later depends on it."""
    action = get_object_or_404(Action.objects.select_related("person", "undoes"), pk=pk)
    it = action.undoes or action
    page = _page_of(it)
    if page is not None:
        return told_at(*page, done=it)
    movements = list(
        action.movements.select_related("lot__crop", "lot__intake", "position__room").order_by(
            "number"
        )
    )
    blocker = blocking_action(action)
    can_undo = (
        action.kind not in (Action.Kind.UNDO, Action.Kind.CHANGE)
        and not hasattr(action, "undone_by")
        and blocker is None
        and may_undo(action, request.user, is_owner(request), request.farm, timezone.now())
    )
    context = {
        **_after_putting_in(request, action, movements),
        **_after_the_market(request, action),
        "action": action,
        "movements": movements,
        "made": [entry.lot for entry in movements if entry.kind == Movement.Kind.BROUGHT_IN],
        "born": _born(movements),
        "crates": {entry.lot_id for entry in movements},
        "first": movements[0] if movements else None,
        "can_undo": can_undo,
        "blocked": sentence(Conflict("undo-blocked", blocker=blocker))
        if blocker and not hasattr(action, "undone_by")
        else "",
        "pull": _pull_of(action),
        "left": left_to_put_away(action),
        "past_use_by": action.kind == Action.Kind.BRING_IN and _is_past_use_by(request, movements),
        "entry_key": form_key(request),
    }
    return render(request, "inventory/ledger/done.html", context)


def _page_of(action: Action) -> tuple | None:
    """Return the page of its own that tells of an action, where it has one and is of no crate."""
    if action.kind not in _OF_NO_CRATE:
        return None
    if action.kind == Action.Kind.WALK:
        return ("walk",)
    if suggestion := Suggestion.objects.filter(action=action).first():
        return "week-of", suggestion.week
    if handed := Handover.objects.filter(action=action).first():
        return "slip", handed.number
    if credit := Credit.objects.filter(action=action).select_related("handover").first():
        return "slip", credit.handover.number
    if about := OrderEntry.objects.filter(action=action).first():
        return "pull", about.order_id
    return ("crates-out",) if Empties.objects.filter(action=action).exists() else None


def _after_putting_in(request: FarmRequest, action: Action, movements: list[Movement]) -> dict:
    """Return what to mind of what was put down, and when it is cold enough."""
    put_down = put_down_by(action, movements)
    context: dict = {"mind": read_to_mind(put_down)}
    shares = Counter(position for _lot, position in put_down)
    if len(shares) > 1:
        context["spread"] = [Share(spot, crates) for spot, crates in shares.items()]
    if action.kind == Action.Kind.BRING_IN and not hasattr(action, "undone_by"):
        cooling = cooling_of(movements[0].lot.intake, request.farm)
        if cooling:
            context["seven_eighths"] = datetime.fromtimestamp(cooling.seven_eighths_at, UTC)
    return context


def _after_the_market(request: FarmRequest, action: Action) -> dict[str, object]:
    """Return how a market day that was closed sold, and what came back of it."""
    if action.kind != Action.Kind.SETTLE or hasattr(action, "undone_by"):
        return {}
    came_back = read_came_back(action, request.farm, timezone.now())
    waits = any(crate.lot.state == Lot.State.TO_PUT_AWAY for crate in came_back)
    return {"sold": read_sold(action), "came_back": came_back, "waits": waits}


def _is_past_use_by(request: FarmRequest, movements: list[Movement]) -> bool:
    """Return whether bought cases were past their use-by date when they came in."""
    today = timezone.now().astimezone(request.farm.zone).date()
    return bool(movements) and is_past_use_by(movements[0].lot, today)


def _born(movements: list[Movement]) -> list[Lot]:
    """Return the crates that began with these entries and stand here: they want labels."""
    codes = [entry.lot_id for entry in movements]
    first = min((entry.pk for entry in movements), default=0)
    earlier = Movement.objects.filter(lot__in=codes, pk__lt=first)
    known = set(earlier.values_list("lot_id", flat=True))
    lots = {entry.lot_id: entry.lot for entry in movements if entry.lot.is_here}
    return [lot for code, lot in lots.items() if code not in known]


def _pull_of(action: Action) -> Order | None:
    take = getattr(action, "take", None)
    return take.line.order if take else None


@require_POST
def undo_action(request: FarmRequest, pk: UUID) -> HttpResponse:
    action = get_object_or_404(Action, pk=pk)
    if changed_hands(request):
        raise PermissionDenied
    if not request.htmx:
        return lead_to_done(undo(act_for(request), action=action))
    problem = ""
    try:
        undo(act_for(request), action=action)
    except Refused as refusal:
        problem = sentence(refusal)
    return render(request, "inventory/ledger/undone.html", {"problem": problem})


def ledger(request: FarmRequest) -> HttpResponse:
    """Everything that happened, latest first, by crop, crate, person and day."""
    form = LedgerForm(request.GET or None, farm=request.farm)
    find = find_changes if form.wants_changes else find_movements
    when = "action__recorded_at" if form.wants_changes else "occurred_at"
    asked = request.GET
    page = page_of(
        find(form.search, request.farm), when, PAGE_ROWS, before=asked.get("before", ""),
        after=asked.get("after", ""), number=_number(asked),
    )  # fmt: skip
    query = request.GET.copy()
    for name in ("page", "before", "after"):
        query.pop(name, None)
    context = {
        "form": form,
        "page": page,
        "query": query.urlencode(),
        "changes": form.wants_changes,
    }
    return render(
        request, "inventory/ledger/ledger.html", context, status=422 if form.errors else 200
    )


def _number(asked: QueryDict) -> int:
    """Return the number of a page that an old address names."""
    text = asked.get("page", "")
    return min(max(int(text), 1), MOST_PAGES) if text.isdecimal() and len(text) < 10 else 1


def _in_pieces(rows: Iterable[list[str]]) -> Iterator[str]:
    """Yield the lines of a table piece by piece, and give way to others in between."""
    rows = iter(rows)
    while piece := list(islice(rows, PIECE_ROWS)):
        text = io.StringIO()
        csv.writer(text).writerows(piece)
        yield text.getvalue()
        time.sleep(PAUSE_S)


@owner_only
def ledger_csv(request: FarmRequest) -> StreamingHttpResponse:
    form = LedgerForm(request.GET or None, farm=request.farm)
    rows = csv_rows(find_movements(form.search, request.farm), request.farm)
    return StreamingHttpResponse(
        _in_pieces(rows),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": 'attachment; filename="ledger.csv"'},
    )
