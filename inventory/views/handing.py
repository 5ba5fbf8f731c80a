"""Handing over: the run, an order's hand-over, its slip, and our crates that are out."""

from datetime import date, timedelta
from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from inventory.actions.empties import bring_empties, wash_empties
from inventory.actions.handing import drive_earlier, give_credit, hand_over
from inventory.actions.owner import save_row
from inventory.actions.photos import photo_file
from inventory.forms.handing import CreditForm, EmptiesForm, HandOverForm
from inventory.labels.compose import qr_outline
from inventory.models import Credit, Outlet
from inventory.queries.credits import read_said
from inventory.queries.empties import crates_out, crates_to_wash, crates_with
from inventory.queries.orders import OrderNow, read_order
from inventory.queries.run import read_run
from inventory.queries.slips import (
    Slip,
    crates_needed,
    delivery_link,
    find_delivery,
    last_taker,
    read_delivered,
    read_slip,
    slip_of,
    to_hand_over,
)
from inventory.views.answers import told_at
from inventory.views.entry import (
    FarmRequest,
    act_for,
    answered,
    attempt,
    form_key,
    owner_only,
    public,
    show_form,
)
from inventory.words.slips import slip_name


def run(request: FarmRequest) -> HttpResponse:
    """The day's stops in the order driven, and what is loaded first."""
    at = timezone.now()
    day = _day(request.GET.get("day", "")) or timezone.localdate(at)
    stops = read_run(request.farm, day, at)
    context = {
        "day": day,
        "today": timezone.localdate(at),
        "before": day - timedelta(days=1),
        "after": day + timedelta(days=1),
        "stops": stops,
        "loading": [stop for stop in reversed(stops) if stop.handed],
    }
    return render(request, "inventory/handing/run.html", context)


def _day(text: str) -> date | None:
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return None
    return day if 1900 < day.year < 2200 else None


@require_POST
def earlier_stop(request: FarmRequest, pk: int) -> HttpResponse:
    """Drive to a buyer before another one, today and from now on."""
    before = request.POST.get("before", "")
    other = Outlet.objects.filter(pk=before).first() if before.isdecimal() else None
    if other is None or other.pk == pk:
        raise Http404
    drive_earlier(outlet=get_object_or_404(Outlet, pk=pk), before=other)
    day = _day(request.POST.get("day", ""))
    query = f"?{urlencode({'day': day.isoformat()})}" if day else ""
    return redirect(reverse("run") + query)


def hand_over_order(request: FarmRequest, pk: UUID) -> HttpResponse:
    """Who took an order, and how many of our crates went and came back."""
    now = _found(request, pk)
    row = now.order.row
    handed = to_hand_over(row) if row else []
    start = {"to_whom": last_taker(now.order.outlet), "crates_out": crates_needed(handed)}
    form = HandOverForm(request.POST or None, farm=request.farm, initial=start)
    status = 200
    if request.method == "POST":
        action, status = attempt(
            request, form, lambda act: hand_over(act, order=pk, **form.content)
        )
        if action:
            return told_at("slip", action.handover.number, done=action)
    return show_form(
        request,
        "inventory/handing/hand_over.html",
        form,
        status,
        now=now,
        order=now.order,
        handed=handed,
        slip=slip_of(row) if row else None,
        standing=crates_with(now.order.outlet),
    )


def _found(request: FarmRequest, pk: UUID) -> OrderNow:
    now = read_order(pk, request.farm, timezone.now(), request.user.pk)
    if now is None:
        raise Http404
    return now


def slip(request: FarmRequest, number: int) -> HttpResponse:
    """What went, to whom, when it was cut and how long it keeps there: to print or to send."""
    found = _slip(number)
    context = {
        "slip": found,
        "standing": crates_with(found.handover.order.outlet),
        "said": read_said(found.handover),
        "link": (link := delivery_link(found.handover, request.farm)),
        "qr": qr_outline(link) if link else None,
        "entry_key": form_key(request),
    }
    return render(request, "inventory/handing/slip.html", context)


@require_POST
@owner_only
def open_page(request: FarmRequest, number: int) -> HttpResponse:
    """Open the page of a delivery to whoever has its slip, or close it."""
    handover = _slip(number).handover
    handover.page_open = request.POST.get("open") == "1"
    values = {"page_open": handover.page_open}
    action = answered(request) or save_row(act_for(request), row=handover, values=values)
    return told_at("slip", number, done=action)


@public
def delivery(request: FarmRequest, token: str) -> HttpResponse:
    """What one delivery was, for whoever has its slip: no person, no buyer, no crate's code.

    It leaves no cookie, is kept by nothing on the way and looked for by nobody.
    """
    found = find_delivery(token)
    if found is None:
        sentence = _("There is no such page.")
        response = HttpResponse(sentence, status=404, content_type="text/plain; charset=utf-8")
    else:
        context = {"slip": found, "delivered": read_delivered(found)}
        response = render(request, "inventory/handing/delivery.html", context)
    response["Cache-Control"] = "no-store"
    response["X-Robots-Tag"] = "noindex, nofollow"
    return response


def _slip(number: int) -> Slip:
    found = read_slip(number) if number < 10**9 else None
    if found is None:
        raise Http404
    return found


def credit(request: FarmRequest, number: int) -> HttpResponse:
    """What a buyer says of a crate that was handed over: soft, wrong, refused."""
    found = _slip(number)
    lots = {line.code: f"{slip_name(line)} {line.code}" for line in found.lines}
    form = CreditForm(request.POST or None, request.FILES or None, farm=request.farm, lots=lots)
    status = 200
    if request.method == "POST":
        action, status = attempt(
            request, form, lambda act: give_credit(act, slip=number, **form.content)
        )
        if action:
            return told_at("slip", number, done=action)
    return show_form(
        request,
        "inventory/handing/credit.html",
        form,
        status,
        slip=found,
        whats=Credit.What.choices,
    )


def photo(request: FarmRequest, number: int, key: UUID) -> HttpResponse:
    """What the buyer showed of a crate. Never kept by a phone that is handed on."""
    said = Credit.objects.standing().filter(handover=_slip(number).handover, has_photo=True)
    get_object_or_404(said, action=key)
    try:
        data = photo_file(key).read_bytes()
    except FileNotFoundError as error:
        raise Http404 from error
    return HttpResponse(data, content_type="image/jpeg", headers={"Cache-Control": "no-store"})


def crates(request: FarmRequest) -> HttpResponse:
    """How many of our crates stand with whom, and how many wait to be washed."""
    form = EmptiesForm(request.POST or None, farm=request.farm)
    status = 200
    if request.method == "POST":
        action, status = attempt(request, form, lambda act: bring_empties(act, **form.cleaned_data))
        if action:
            return told_at("crates-out", done=action)
    return show_form(
        request,
        "inventory/handing/crates_out.html",
        form,
        status,
        buyers=crates_out(),
        to_wash=crates_to_wash(),
    )


@require_POST
def washed(request: FarmRequest) -> HttpResponse:
    """All that wait are washed, as many as the page said."""
    shown = request.POST.get("number", "")
    number = int(shown) if shown.isdecimal() and len(shown) < 6 else 0
    action = answered(request) or wash_empties(act_for(request), number=number)
    return told_at("crates-out", done=action)
