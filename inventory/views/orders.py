"""The order book: the orders of the days ahead, writing one, and getting it together."""

from collections.abc import Callable
from decimal import Decimal
from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from inventory.actions.orders import (
    cancel_order,
    change_order,
    close_order,
    end_repeating,
    go_for,
    mark_found,
    mark_missing,
    reopen_order,
    repeat_order,
    say_order,
    take_for_order,
    tell_short,
)
from inventory.errors import Conflict
from inventory.forms.orders import LinesForm, OrderForm, with_text_read
from inventory.ledger.book import Act, earlier_answer
from inventory.measures import NotANumber, read_decimal
from inventory.models import Action, Order, OrderEntry, Outlet
from inventory.queries.again import order_just_now
from inventory.queries.book import plan_book
from inventory.queries.crates import one_crate
from inventory.queries.cutting import read_cutting
from inventory.queries.order_text import ReadWanted
from inventory.queries.orders import (
    DayOfOrders,
    OrderNow,
    buyers_to_ask,
    gone_untold,
    last_order,
    lines_of,
    read_days,
    read_offers,
    read_order,
    read_steps,
    still_out_for,
)
from inventory.queries.slips import slip_of
from inventory.views.answers import told_at
from inventory.views.entry import (
    SURE,
    FarmRequest,
    act_for,
    answered,
    attempt,
    show_form,
)
from inventory.words.again import order_again_words
from inventory.words.crates import far_past_words


def orders(request: FarmRequest) -> HttpResponse:
    """Who is due when, what is got, what is to be fetched, what will lack."""
    at = timezone.now()
    plan = plan_book(request.farm, at)
    days = read_days(request.farm, at, plan)
    cutting = read_cutting(request.farm, at, plan)
    context = {
        "days": days,
        "to_cut": cutting.of_line,
        "next_cut": cutting.days[0] if cutting.days else None,
        "today": timezone.localdate(at),
        "first": _first_to_get(days),
        "gone_untold": gone_untold(at),
    }
    return render(request, "inventory/orders/orders.html", context)


def _first_to_get(days: list[DayOfOrders]) -> OrderNow | None:
    """Return the next order there is something to fetch for."""
    return next((now for day in days for now in day.orders if now.fetch), None)


def new_order(request: FarmRequest) -> HttpResponse:
    """A buyer, a day, and how much of what; then it is written down, or got at once."""
    outlet = _outlet(request)
    like = last_order(outlet) if outlet else None
    offers = read_offers(request.farm, timezone.now())
    start = lines_of(like) if like else []
    data, read = _sent(request)
    initial = {"outlet": outlet}
    form = OrderForm(
        data, farm=request.farm, offers=offers, start=start if data is None else [], initial=initial
    )
    status = 200
    if data is not None and (read or "read" in data):
        status = _read_status(form, read)
    elif data is not None:
        form.doubt = _begun_already(request, form)
        action, status = attempt(request, form, lambda act: _say(request, form, act))
        if action:
            return _written(request, action)
    return show_form(
        request,
        "inventory/orders/order_new.html",
        form,
        status,
        read=read,
        chosen=outlet,
        like=like,
        buyers=buyers_to_ask() if data is None and outlet is None else [],
    )


def _outlet(request: FarmRequest) -> Outlet | None:
    """Return the buyer an address asks to write for."""
    key = request.GET.get("outlet", "")
    return Outlet.objects.filter(pk=key, in_use=True).first() if _is_key(key) else None


def _is_key(text: str) -> bool:
    return text.isdecimal() and text.isascii() and len(text) < 10


def _sent(request: FarmRequest) -> tuple:
    """Return what was sent, with a pasted text read into it, and its lines as read."""
    if request.method != "POST":
        return None, []
    if request.POST.get("text", "").strip():
        return with_text_read(request.POST)
    return request.POST, []


def _read_status(form: LinesForm, read: list[ReadWanted]) -> int:
    """Return how a form is answered of which a message was to be read: nothing is written yet."""
    if not read:
        form.add_error("text", _("Paste their message first."))
    return 200 if form.is_valid() and not form.cleaned_data["text"] else 422


def _say(request: FarmRequest, form: OrderForm, act: Act) -> Action:
    data = form.cleaned_data
    today = act.local_day(act.at)
    outlet = data["outlet"]
    return say_order(
        act,
        outlet=outlet,
        new_outlet=data["new_outlet"],
        lines=form.lines,
        due=data["due"] or (outlet.first_delivery(today) if outlet else today),
        repeats=data["repeats"],
    )


def _written(request: FarmRequest, action: Action) -> HttpResponse:
    """Lead to the order that was written; where it is got at once, its crates are kept for it."""
    key = action.order_entry.order_id
    if "go" in request.POST:
        _go(request, key)
        return redirect("pull", pk=key)
    return told_at("pull", key, done=action)


def _go(request: FarmRequest, key: UUID) -> None:
    """Keep the crates shown for this person; an order that is done meanwhile has none."""
    try:
        go_for(act_for(request), order=key)
    except Conflict as conflict:
        if conflict.code != "no-longer-open":
            raise


def _begun_already(request: FarmRequest, form: OrderForm) -> str:
    """Return what to ask where a form reached by Back would begin a second order; else ""."""
    if request.POST.get("came") != "back" or not form.is_valid() or not form.cleaned_data["outlet"]:
        return ""
    at = timezone.now()
    begun = order_just_now(form.cleaned_data["outlet"], request.user, at)
    return order_again_words(begun, at) if begun else ""


def change(request: FarmRequest, pk: UUID) -> HttpResponse:
    """What is wanted, or the day, is another; of an order that repeats only for that week."""
    now = _found(request, pk)
    data, read = _sent(request)
    offers = read_offers(request.farm, timezone.now())
    form = LinesForm(
        data,
        farm=request.farm,
        offers=offers,
        start=[line for line in now.order.lines if line.quantity] if data is None else [],
        initial={"due": now.order.due},
    )
    status = 200
    if data is not None and (read or "read" in data):
        status = _read_status(form, read)
    elif data is not None:
        action, status = attempt(
            request,
            form,
            lambda act: change_order(
                act, order=pk, lines=form.lines, due=form.cleaned_data["due"] or now.order.due
            ),
        )
        if action:
            return told_at("pull", pk, done=action)
    return show_form(
        request, "inventory/orders/order_change.html", form, status, read=read, now=now
    )


def _found(request: FarmRequest, pk: UUID) -> OrderNow:
    now = read_order(pk, request.farm, timezone.now(), request.user.pk)
    if now is None:
        raise Http404
    return now


def order(request: FarmRequest, pk: UUID) -> HttpResponse:
    """The crates to fetch in walking order, and what will be missing, said before the walk."""
    return _show(request, pk)


def _show(request: FarmRequest, pk: UUID, doubts: dict[str, str] | None = None) -> HttpResponse:
    """doubts: what is asked before a crate is taken, by its code."""
    now = _found(request, pk)
    row = now.order.row
    steps = read_steps(now)
    shown = {step.lot.pk for step in steps if step.planned}
    context = {
        "now": now,
        "order": now.order,
        "steps": steps,
        "doubts": doubts or {},
        "stray": {code: words for code, words in (doubts or {}).items() if code not in shown},
        "taken_quantity": request.POST.get("quantity", ""),
        "to_cut": _to_be_cut(request, now),
        "waiting": sum(1 for step in steps if step.planned),
        "entries": _entries(row),
        "slip": slip_of(row) if row else None,
        "still_out": still_out_for(row) if row and row.cancelled_at else [],
    }
    template = "inventory/orders/order.html#list" if request.htmx else "inventory/orders/order.html"
    return render(request, template, context, status=409 if doubts else 200)


def _to_be_cut(request: FarmRequest, now: OrderNow) -> dict:
    """Return when what an open order lacks will be cut, by its lines."""
    if not now.lacking or not now.order.is_open:
        return {}
    crops = {line.line.crop.pk for line in now.lacking}
    return read_cutting(request.farm, timezone.now(), crops=crops).of_line


def _entries(row: Order | None) -> list[OrderEntry]:
    if row is None:
        return []
    entries = row.entries.select_related("action__person", "action__undone_by")
    return list(entries.order_by("-pk"))


@require_POST
def take(request: FarmRequest, pk: UUID) -> HttpResponse:
    """Confirm one crate as taken; one far past its time by now is asked about first."""
    code = request.POST.get("lot", "")[:12]
    act = act_for(request)
    if SURE not in request.POST and earlier_answer(act) is None:
        crate = one_crate(code, request.farm, timezone.now())
        doubt = far_past_words(crate) if crate else ""
        if doubt:
            return _show(request, pk, {code: doubt})
    typed = bool(request.POST.get("other", "").strip())
    take_for_order(act, order=pk, lot=code, quantity=_quantity(request), beyond=typed)
    return _after(request, pk)


def _quantity(request: FarmRequest) -> Decimal | None:
    """Return how much was taken: as typed, else as planned, else all of it."""
    typed = request.POST.get("other", "").strip() or request.POST.get("quantity", "").strip()
    if not typed:
        return None
    try:
        return read_decimal(typed[:20])
    except NotANumber as error:
        raise Conflict("no-number") from error


@require_POST
def missing(request: FarmRequest, pk: UUID) -> HttpResponse:
    """This crate is not where it should be: take another, if there is one."""
    mark_missing(
        act_for(request),
        order=pk,
        lot=request.POST.get("lot", "")[:12],
        quantity=_quantity(request) or Decimal(0),
    )
    return _after(request, pk)


@require_POST
def there(request: FarmRequest, pk: UUID) -> HttpResponse:
    """It is where it should be after all."""
    act_for(request)  # a form without an id is refused before anything is written
    mark_found(order=pk, lot=request.POST.get("lot", "")[:12])
    return _after(request, pk)


@require_POST
def go(request: FarmRequest, pk: UUID) -> HttpResponse:
    """Somebody gets it: the crates shown are theirs for half an hour."""
    go_for(act_for(request), order=pk)
    return redirect("pull", pk=pk)


def _after(request: FarmRequest, pk: UUID) -> HttpResponse:
    """Show the order again; whoever gets it keeps the crates shown."""
    _go(request, pk)
    return _show(request, pk) if request.htmx else redirect("pull", pk=pk)


@require_POST
def close(request: FarmRequest, pk: UUID) -> HttpResponse:
    return _told(request, pk, close_order)


@require_POST
def reopen(request: FarmRequest, pk: UUID) -> HttpResponse:
    return _told(request, pk, reopen_order)


@require_POST
def cancel(request: FarmRequest, pk: UUID) -> HttpResponse:
    return _told(request, pk, cancel_order)


@require_POST
def repeat(request: FarmRequest, pk: UUID) -> HttpResponse:
    return _told(request, pk, repeat_order)


@require_POST
def end(request: FarmRequest, pk: UUID) -> HttpResponse:
    return _told(request, pk, end_repeating)


def _told(request: FarmRequest, pk: UUID, do: Callable[..., Action]) -> HttpResponse:
    """Do one thing to an order, once, and say so on its page."""
    action = answered(request) or do(act_for(request), order=pk)
    return told_at("pull", pk, done=action)


@require_POST
def tell(request: FarmRequest, pk: UUID) -> HttpResponse:
    """The buyer knows what will be missing."""
    earlier = answered(request)
    now = _found(request, pk)
    lacks = {f"{one.line.crop.pk}:{one.line.unit}": one.lacks for one in now.lacking}
    action = earlier or tell_short(act_for(request), order=pk, lacks=lacks)
    return told_at("pull", pk, done=action)


@require_POST
def promised_before(request: FarmRequest, pk: int) -> HttpResponse:
    """A tap on a crate of a page that stood open since before orders had a plan."""
    raise Conflict("unknown-order")
