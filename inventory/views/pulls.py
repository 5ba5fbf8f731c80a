"""Getting an order or a market load together, and closing the market day."""

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.actions.movements import close_market
from inventory.actions.pulls import (
    close_pull,
    mark_found,
    mark_missing,
    open_pull,
    plan_pull,
    reopen_pull,
    take_promised,
)
from inventory.forms.market import CloseMarketForm
from inventory.forms.pulls import PullForm
from inventory.ledger.fold import Outing
from inventory.ledger.outings import AtMarket, read_at_market
from inventory.models import Movement, Pull, PullTake
from inventory.queries.again import order_just_now
from inventory.queries.crates import one_crate
from inventory.queries.pulls import half_done, plan_for, pull_lines, pull_takes, read_offers
from inventory.queries.rooms import places_for_all
from inventory.views.entry import SURE, FarmRequest, act_for, attempt, done, show_form
from inventory.words.again import order_again_words
from inventory.words.crates import far_past_words


def new_pull(request: FarmRequest) -> HttpResponse:
    """A buyer and how much of what; the plan is made at once."""
    earlier = _earlier_pull(request)
    if earlier is not None:
        return redirect("pull", pk=earlier.pk)
    offers = read_offers(request.farm, timezone.now())
    form = PullForm(request.POST or None, farm=request.farm, offers=offers)
    status = 200
    if request.method == "POST":
        form.doubt = _begun_already(request, form)
        pull, status = attempt(
            request,
            form,
            lambda act: open_pull(
                act,
                outlet=form.cleaned_data["outlet"],
                new_outlet=form.cleaned_data["new_outlet"],
                lines=form.lines,
            ),
        )
        if pull:
            plan_pull(pull, request.farm, timezone.now())
            return redirect("pull", pk=pull.pk)
    today = timezone.localdate()
    return show_form(
        request,
        "inventory/orders/pull_new.html",
        form,
        status,
        offers=offers,
        half_done=half_done(),
        today=today,
    )


def _begun_already(request: FarmRequest, form: PullForm) -> str:
    """Return what to ask where a form reached by Back would begin a second order; else ""."""
    if request.POST.get("came") != "back" or not form.is_valid() or not form.cleaned_data["outlet"]:
        return ""
    at = timezone.now()
    begun = order_just_now(form.cleaned_data["outlet"], request.user, at)
    return order_again_words(begun, at) if begun else ""


def _earlier_pull(request: FarmRequest) -> Pull | None:
    """Return the pull this very form made when it was sent before."""
    try:
        key = UUID(request.POST.get("entry", ""))
    except ValueError:
        return None
    return Pull.objects.filter(pk=key, planned_by=request.user).first()


def pull(request: FarmRequest, pk: UUID) -> HttpResponse:
    """The crates to fetch in walking order, and what will be missing, said before the walk."""
    return _show(request, get_object_or_404(Pull.objects.select_related("outlet"), pk=pk))


def _show(request: FarmRequest, found: Pull, doubts: dict[int, str] | None = None) -> HttpResponse:
    """Crates taken or not found keep their place, so that no other slides under the thumb.

    doubts: what is asked before a crate of it is taken, by the key of its take.
    """
    takes = pull_takes(found)
    if found.closed_at:
        takes = [take for take in takes if take.is_taken]
    context = {
        "pull": found,
        "lines": pull_lines(found),
        "takes": takes,
        "doubts": {str(key): words for key, words in (doubts or {}).items()},
        "waiting": sum(not (take.is_taken or take.missing) for take in takes),
        "shorts": {
            short.line: short for short in plan_for(found, request.farm, timezone.now()).shorts
        }
        if not found.closed_at
        else {},
    }
    template = "inventory/orders/pull.html#list" if request.htmx else "inventory/orders/pull.html"
    return render(request, template, context, status=409 if doubts else 200)


@require_POST
def take(request: FarmRequest, pk: int) -> HttpResponse:
    """Confirm one crate as taken; one far past its time by now is asked about first."""
    found = get_object_or_404(PullTake.objects.select_related("line__pull__outlet"), pk=pk)
    if SURE not in request.POST and not found.is_taken:
        crate = one_crate(found.lot_id, request.farm, timezone.now())
        if doubt := far_past_words(crate):
            return _show(request, found.line.pull, {found.pk: doubt})
    take_promised(act_for(request), take=found)
    return _after(request, found.line.pull)


@require_POST
def missing(request: FarmRequest, pk: int) -> HttpResponse:
    """This crate is not where it should be: take another, if there is one."""
    found = get_object_or_404(PullTake.objects.select_related("line__pull"), pk=pk)
    mark_missing(act_for(request), take=found)
    return _after(request, found.line.pull)


@require_POST
def there(request: FarmRequest, pk: int) -> HttpResponse:
    """It is where it should be after all."""
    found = PullTake.objects.select_related("line__pull").filter(pk=pk).first()
    if found is None:  # tapped twice, when the order had filled itself meanwhile
        return redirect("new-pull")
    mark_found(take=found)
    return _after(request, found.line.pull)


@require_POST
def plan_again(request: FarmRequest, pk: UUID) -> HttpResponse:
    found = get_object_or_404(Pull, pk=pk)
    plan_pull(found, request.farm, timezone.now())
    return _after(request, found)


@require_POST
def close(request: FarmRequest, pk: UUID) -> HttpResponse:
    close_pull(act_for(request), pull=get_object_or_404(Pull, pk=pk))
    return redirect("pull", pk=pk)


@require_POST
def reopen(request: FarmRequest, pk: UUID) -> HttpResponse:
    reopen_pull(get_object_or_404(Pull, pk=pk))
    return redirect("pull", pk=pk)


def _after(request: FarmRequest, found: Pull) -> HttpResponse:
    if request.htmx:
        return _show(request, found)
    return redirect("pull", pk=found.pk)


def market(request: FarmRequest) -> HttpResponse:
    """What is out at market, by market day still open."""
    rows = read_at_market()
    markets = {row.outing: row.market for row in rows}
    chosen = _asked_for(rows, request.POST.get("market") or request.GET.get("market") or "")
    shown = [row for row in rows if row.outing == chosen]
    form = CloseMarketForm(request.POST or None, farm=request.farm, rows=shown)
    status = 200
    if request.method == "POST":
        nothing = chosen or Outing(Movement.Purpose.MARKET, "")
        action, status = attempt(
            request, form, lambda act: close_market(act, market=nothing, **form.content)
        )
        if action:
            return done(action)
    return show_form(
        request,
        "inventory/orders/market.html",
        form,
        status,
        market=chosen,
        name=markets.get(chosen, ""),
        markets=markets,
        choices=places_for_all({row.lot.crop for row in shown}),
    )


def _asked_for(rows: list[AtMarket], asked: str) -> Outing | None:
    """Return the market asked for by key or, as addresses did before, by name; else the first."""
    by_key = [row.outing for row in rows if str(row.outing.buyer) == asked]
    by_name = [row.outing for row in rows if asked in (row.market, row.outing.to)]
    return next(iter([*by_key, *by_name, *(row.outing for row in rows)]), None)
