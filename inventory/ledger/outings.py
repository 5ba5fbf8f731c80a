"""What is out and not yet back: of one crate, and at every market."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet

from inventory.ledger.fold import Outing, still_out
from inventory.models import Lot, Movement, Outlet

# Put together once, asked anew by every look at home.
_AT_MARKET = Lot.objects.filter(at_market=True).values_list("pk", flat=True)
# What of entries says what is out, and what is gone.
TOLD: QuerySet[Movement, Any] = Movement.objects.values_list(
    "pk", "lot_id", "kind", "occurred_at", "change", "amount", "purpose", "outlet_id",
    "other_party", "undoes_id", named=True,
)  # fmt: skip


def out_of(lot: Lot) -> dict[Outing, Decimal]:
    """Return what of a crate is out and neither back nor settled, latest last."""
    return still_out(lot.movements.all())


def out_of_each(lots: Iterable[str]) -> dict[str, dict[Outing, Decimal]]:
    """Return the same of several crates, by their codes."""
    entries = defaultdict(list)
    for entry in TOLD.filter(lot__in=lots):
        entries[entry.lot_id].append(entry)
    return {code: still_out(of_one) for code, of_one in entries.items()}


@dataclass(frozen=True)
class AtMarket:
    """What of one crate is out at a market and not yet back or settled. market: its name now."""

    lot: Lot
    outing: Outing
    market: str
    amount: Decimal


def count_at_market() -> int:
    """Return of how many crates something is at a market, once for each market."""
    outings = (outing for of_one in out_of_each(_AT_MARKET.all()).values() for outing in of_one)
    return sum(outing.purpose == Movement.Purpose.MARKET for outing in outings)


def read_at_market() -> list[AtMarket]:
    """Return what is out at any market and not yet accounted for, crate by crate."""
    lots = {lot.pk: lot for lot in Lot.objects.filter(at_market=True).select_related("crop")}
    out = out_of_each(lots)
    found = [
        (lot, outing, amount)
        for code, lot in lots.items()
        for outing, amount in out.get(code, {}).items()
        if outing.purpose == Movement.Purpose.MARKET
    ]
    names: dict[int | None, str] = dict(Outlet.objects.values_list("pk", "name"))
    rows = [
        AtMarket(lot, outing, names.get(outing.outlet_id, outing.to), amount)
        for lot, outing, amount in found
    ]
    return sorted(rows, key=lambda row: (row.market, row.lot.crop.shown_name, row.lot.pk))
