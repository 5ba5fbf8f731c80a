"""The rooms, one place, counting by looking, and what nobody has seen for long."""

from datetime import date

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from inventory.actions import temperatures
from inventory.actions.reshape import count_lots
from inventory.codes import InvalidCode, read_code
from inventory.forms.crates import CountForm
from inventory.forms.temperatures import ReadingForm
from inventory.ledger.book import Act
from inventory.models import Position, Reading, Room
from inventory.queries.again import Like
from inventory.queries.crates import Crate, one_crate
from inventory.queries.imports import failed_files
from inventory.queries.neighbours import read_advice
from inventory.queries.plots import read_plot
from inventory.queries.rooms import (
    UNSEEN_AFTER,
    count_not_seen,
    crops_that_fit,
    not_seen_since,
    read_place,
    read_places_to_count,
    read_rooms,
)
from inventory.queries.shelves import bays_of, draw_crates, draw_rack, key_of
from inventory.queries.temperatures import (
    SPANS,
    last_readings,
    read_air,
    read_spells,
    readings_aside,
    summarise,
    typed_under,
)
from inventory.upkeep.mail import queue_alarms
from inventory.views.answers import told_at
from inventory.views.entry import (
    ROWS_SHOWN,
    FarmRequest,
    act_for,
    answered,
    attempt,
    corrects,
    form_key,
    rows_asked,
    show_form,
)
from inventory.views.several import pick_of
from inventory.words.ledger import AS_WRITTEN, COUNT_REASONS


def rooms(request: FarmRequest) -> HttpResponse:
    """Each room drawn as one stands before it, then the same as a list."""
    at = timezone.now()
    found, waiting = read_rooms(request.farm, at)
    airs = {air.room.pk: air for air in read_air(at)}
    drawn = [
        (now, airs[now.room.pk], [(rack, draw_rack(rack)) for rack in now.racks]) for now in found
    ]
    waiting_bays = draw_crates(waiting)
    racks = [shelves for _now, _air, racks in drawn for _rack, shelves in racks]
    bays = [bay for shelves in racks for bay in bays_of(shelves)]
    context = {
        "rooms": found,
        "drawn": drawn,
        "waiting": waiting,
        "waiting_bays": waiting_bays,
        "key": key_of([*bays, *waiting_bays]),
    }
    return render(request, "inventory/rooms/rooms.html", context)


@corrects
def room(request: FarmRequest, pk: int) -> HttpResponse:
    """The last day, week or month of a room, what it cost, and the box for a new reading."""
    found = get_object_or_404(Room, pk=pk)
    form = ReadingForm(request.POST or None, farm=request.farm)
    status = 200
    if request.method == "POST":
        typed, status = attempt(
            request, form, lambda act: _type(act, found, form), Like(room=found)
        )
        if typed:
            queue_alarms(timezone.now())
            return told_at("room", pk, done=typed)
    span = request.GET.get("span", "week")
    days = SPANS.get(span, SPANS["week"])
    at = timezone.now()
    return show_form(
        request, "inventory/rooms/room.html", form, status,
        room=found, span=span, spans=_spans(), plot=read_plot(found, request.farm, at, days),
        summary=summarise(found, at, days), spells=read_spells(found, at, days)[:12],
        readings=last_readings(found), aside=readings_aside(found, at), today=_today(request),
        **_advice(found),
        closings=found.alarm_closings.select_related("person")[:5],
        failed=[file for file, _trouble in failed_files() if file.room_id == found.pk],
    )  # fmt: skip


def _advice(found: Room) -> dict:
    """Return what should stand elsewhere, and apart what no move would better."""
    advice = read_advice(found)
    return {
        "advice": [one for one in advice if one.better],
        "known": [one for one in advice if not one.better],
    }


def _spans() -> list[tuple[str, str]]:
    return [("day", _("day")), ("week", _("week")), ("month", _("month"))]


def _today(request: FarmRequest) -> date:
    return timezone.now().astimezone(request.farm.zone).date()


def _type(act: Act, found: Room, form: ReadingForm) -> Reading:
    """Write a reading down, and return it, or the like one that stood there already."""
    celsius, moment = float(form.cleaned_data["temperature"]), form.cleaned_data["moment"]
    temperatures.type_reading(act, room=found, celsius=celsius, moment=moment)
    typed = found.readings.filter(sensor="", at=(moment or act.at).replace(microsecond=0))
    return typed_under(act.id) or typed.latest("pk")


def _position(code: str) -> Position:
    try:
        return get_object_or_404(Position.objects.select_related("room"), pk=read_code(code))
    except InvalidCode as error:
        raise Http404 from error


def place(request: FarmRequest, code: str) -> HttpResponse:
    """What stands here and what could go here."""
    position = _position(code)
    if code != position.pk:
        return redirect("place", position.pk)
    fitting, harmed = crops_that_fit(position)
    place_now = read_place(position, request.farm, timezone.now())
    context = {
        "place": place_now,
        "pick": pick_of(request, place_now.crates),
        "fitting": fitting,
        "harmed": harmed,
    }
    return render(request, "inventory/rooms/place.html", context)


def unseen(request: FarmRequest) -> HttpResponse:
    """Crates nobody has touched for long."""
    at = timezone.now()
    since, rows = at - UNSEEN_AFTER, rows_asked(request)
    crates = not_seen_since(request.farm, at, since, rows)
    more = max(count_not_seen(since) - rows, 0)
    context = {
        "crates": crates, "days": UNSEEN_AFTER.days, "more": more, "rows": rows + ROWS_SHOWN,
    }  # fmt: skip
    return render(request, "inventory/rooms/unseen.html", context)


def count(request: FarmRequest) -> HttpResponse:
    """All places in walking order, to be counted one after the other."""
    return render(request, "inventory/rooms/count.html", {"rooms": read_places_to_count()})


def count_place(request: FarmRequest, code: str) -> HttpResponse:
    """One place: what is on record, and a box beside each crate."""
    position = _position(code)
    place_now = read_place(position, request.farm, timezone.now())
    following = _following(position)
    context = {
        "place": place_now,
        "following": following,
        "reasons": COUNT_REASONS,
        "entry_key": form_key(request),
    }
    return render(request, "inventory/rooms/count_place.html", context)


@require_POST
def all_right(request: FarmRequest, code: str) -> HttpResponse:
    """Everything at a place is as written: seen now; on to the next place."""
    position = _position(code)
    crates, action = read_place(position, request.farm, timezone.now()).crates, answered(request)
    if crates and action is None:
        figures = {crate.code: crate.lot.quantity for crate in crates}
        action = count_lots(act_for(request), figures=figures, reason=AS_WRITTEN[0])
    following = _following(position)
    to = ("count-place", following.pk) if following else ("home",)
    return told_at(*to, done=action) if action else redirect(*to)


def _following(position: Position) -> Position | None:
    later = Position.objects.filter(in_use=True, walk__gt=position.walk)
    return later.order_by("walk").first()


@require_POST
def count_crate(request: FarmRequest, code: str) -> HttpResponse:
    """Set one crate to what was seen; htmx swaps its row."""
    try:
        crate = one_crate(read_code(code), request.farm, timezone.now())
    except InvalidCode:
        crate = None
    position = _stood(crate) if crate and answered(request) else crate and crate.lot.position
    if position is None:
        raise Http404
    form = CountForm(request.POST, farm=request.farm, crate=crate)
    action, status = attempt(
        request,
        form,
        lambda act: count_lots(
            act,
            figures={crate.code: form.cleaned_data["quantity"]},
            reason=form.cleaned_data["reason"] if form.cleaned_data["quantity"] else "missing",
        ),
    )
    if action and not request.htmx:
        return told_at("count-place", position.pk, done=action)
    context = {
        "crate": one_crate(crate.code, request.farm, timezone.now()) if action else crate,
        "counted": bool(action),
        "action": action,
        "form": form,
        "place": read_place(position, request.farm, timezone.now()),
        "reasons": COUNT_REASONS,
    }
    template = (
        "inventory/rooms/count_place.html#row" if request.htmx else "inventory/rooms/count_one.html"
    )
    return render(request, template, context, status=status)


def _stood(crate: Crate) -> Position | None:
    """Return where a crate was last, though it may be empty by now."""
    placed = crate.lot.movements.filter(position__isnull=False).order_by("-occurred_at", "-pk")
    last = placed.select_related("position__room").first()
    return last and last.position
