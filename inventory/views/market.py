"""Closing the market day."""

from django.http import HttpResponse

from inventory.actions.movements import close_market
from inventory.forms.market import CloseMarketForm
from inventory.ledger.fold import Outing
from inventory.ledger.outings import AtMarket, read_at_market
from inventory.models import Movement
from inventory.queries.rooms import places_for_all
from inventory.views.entry import FarmRequest, attempt, done, show_form


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
