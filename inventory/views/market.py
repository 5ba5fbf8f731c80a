"""Closing the market day, by crop or crate by crate, and what a market usually sells."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404

from inventory.actions.market import close_market_by_crop
from inventory.actions.movements import close_market
from inventory.actions.owner import set_habits
from inventory.forms.market import GOES, CloseByCropForm, CloseMarketForm, HabitsForm
from inventory.ledger.fold import Outing
from inventory.ledger.outings import AtMarket, read_at_market
from inventory.models import Movement, Outlet
from inventory.queries.rooms import places_for, places_for_all, read_stock
from inventory.views.answers import told_at
from inventory.views.entry import FarmRequest, attempt, done, owner_only, show_form


def market(request: FarmRequest) -> HttpResponse:
    """What is out at market, by market day still open, to be closed by crop or crate by crate.

    A form that does not say which of the two it is was made before there were two.
    """
    rows = read_at_market()
    markets = {row.outing: row.market for row in rows}
    chosen = _asked_for(rows, request.POST.get("market") or request.GET.get("market") or "")
    shown = [row for row in rows if row.outing == chosen]
    by_crop = _is_by_crop(request)
    form = _form(request, shown, by_crop)
    status = 200
    if request.method == "POST":
        close = close_market_by_crop if by_crop else close_market
        nothing = chosen or Outing(Movement.Purpose.MARKET, "")
        action, status = attempt(
            request, form, lambda act: close(act, market=nothing, **form.content)
        )
        if action:
            return done(action)
    return show_form(
        request,
        "inventory/orders/market.html" if by_crop else "inventory/orders/market_crates.html",
        form,
        status,
        market=chosen,
        name=markets.get(chosen, ""),
        markets=markets,
        **_choices(shown, by_crop),
    )


@owner_only
def habits(request: FarmRequest, pk: int) -> HttpResponse:
    """What a market usually sells, as the owner says, and the least that lies on the table."""
    outlet = get_object_or_404(Outlet, pk=pk, kind=Outlet.Kind.MARKET)
    form = HabitsForm(request.POST or None, farm=request.farm, outlet=outlet)
    status = 200
    if request.method == "POST":
        action, status = attempt(
            request, form, lambda act: set_habits(act, outlet=outlet, habits=form.habits)
        )
        if action:
            return told_at("list-change", "outlets", outlet.pk, done=action)
    return show_form(request, "inventory/owner/habits.html", form, status, outlet=outlet)


def _is_by_crop(request: FarmRequest) -> bool:
    if request.method == "POST":
        return request.POST.get("by") == "crop"
    return request.GET.get("by") != "crate"


def _form(
    request: FarmRequest, rows: list[AtMarket], by_crop: bool
) -> CloseByCropForm | CloseMarketForm:
    kind = CloseByCropForm if by_crop else CloseMarketForm
    return kind(request.POST or None, farm=request.farm, rows=rows)


def _choices(rows: list[AtMarket], by_crop: bool) -> dict[str, object]:
    """Return where what comes back may go: each crop by itself, or all of it together."""
    crops = {row.lot.crop for row in rows}
    if not by_crop:
        return {"choices": places_for_all(crops)}
    stock = read_stock() if crops else None
    return {
        "choices": {str(crop.pk): places_for(crop, stock=stock) for crop in crops},
        "others": GOES,
    }


def _asked_for(rows: list[AtMarket], asked: str) -> Outing | None:
    """Return the market asked for by key or, as addresses did before, by name; else the first."""
    by_key = [row.outing for row in rows if str(row.outing.buyer) == asked]
    by_name = [row.outing for row in rows if asked in (row.market, row.outing.to)]
    return next(iter([*by_key, *by_name, *(row.outing for row in rows)]), None)
