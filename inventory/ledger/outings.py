"""What is out and not yet back: of one crate, and at every market."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Case, F, When

from inventory.ledger.fold import Outing, still_out
from inventory.models import Lot, Movement, Outlet
from inventory.models.crops import Total


def out_of(lot: Lot) -> dict[Outing, Decimal]:
    """Return what of a crate is out and neither back nor settled, latest last."""
    return still_out(lot.movements.all())


def out_of_each(lots: Iterable[str]) -> dict[str, dict[Outing, Decimal]]:
    """Return the same of several crates, by their codes."""
    entries = defaultdict(list)
    for entry in Movement.objects.filter(lot__in=lots):
        entries[entry.lot_id].append(entry)
    return {code: still_out(of_one) for code, of_one in entries.items()}


@dataclass(frozen=True)
class AtMarket:
    """What of one crate is out at a market and not yet back or settled. market: its name now."""

    lot: Lot
    outing: Outing
    market: str
    amount: Decimal


def read_at_market() -> list[AtMarket]:
    """Return what is out at any market and not yet accounted for, crate by crate."""
    lots = Lot.objects.select_related("crop").in_bulk(_maybe_at_market())
    out = out_of_each(lots)
    found = [
        (lot, outing, amount)
        for code, lot in lots.items()
        for outing, amount in out[code].items()
        if outing.purpose == Movement.Purpose.MARKET
    ]
    names: dict[int | None, str] = dict(Outlet.objects.values_list("pk", "name"))
    rows = [
        AtMarket(lot, outing, names.get(outing.outlet_id, outing.to), amount)
        for lot, outing, amount in found
    ]
    return sorted(rows, key=lambda row: (row.market, row.lot.crop.shown_name, row.lot.pk))


def _maybe_at_market() -> list[str]:
    """Return the crates of which more went to a market than is accounted for."""
    sign = Case(When(kind=Movement.Kind.OUT, then=F("amount")), default=-F("amount"))
    rows = (
        Movement.objects.filter(purpose=Movement.Purpose.MARKET, undone_by__isnull=True)
        .exclude(kind=Movement.Kind.UNDONE)
        .values_list("lot_id", "outlet", "other_party")
        .annotate(left=Total(sign))
        .order_by()
    )
    left: dict[tuple, Decimal] = defaultdict(Decimal)
    for code, outlet_id, to, amount in rows:
        left[code, outlet_id or to] += amount
    return [code for (code, _buyer), amount in left.items() if amount > 0]
