"""What is out and not yet back: of one crate, and at every market."""

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Case, F, When

from inventory.ledger.fold import Outing, still_out
from inventory.models import Lot, Movement
from inventory.models.crops import Total


def out_of(lot: Lot) -> dict[Outing, Decimal]:
    """Return what of a crate is out and neither back nor settled, latest last."""
    return still_out(lot.movements.all())


@dataclass(frozen=True)
class AtMarket:
    """What of one crate is out at a market and not yet back or settled."""

    lot: Lot
    market: str
    amount: Decimal


def read_at_market() -> list[AtMarket]:
    """Return what is out at any market and not yet accounted for, crate by crate."""
    lots = Lot.objects.select_related("crop").in_bulk(_maybe_at_market())
    entries = defaultdict(list)
    for entry in Movement.objects.filter(lot__in=lots):
        entries[entry.lot_id].append(entry)
    found = [
        AtMarket(lot, to, amount)
        for code, lot in lots.items()
        for (purpose, to), amount in still_out(entries[code]).items()
        if purpose == Movement.Purpose.MARKET
    ]
    return sorted(found, key=lambda row: (row.market, row.lot.crop.shown_name, row.lot.pk))


def _maybe_at_market() -> list[str]:
    """Return the crates of which more went to a market than is accounted for."""
    sign = Case(When(kind=Movement.Kind.OUT, then=F("amount")), default=-F("amount"))
    rows = (
        Movement.objects.filter(purpose=Movement.Purpose.MARKET, undone_by__isnull=True)
        .exclude(kind=Movement.Kind.UNDONE)
        .values_list("lot_id", "other_party")
        .annotate(left=Total(sign))
        .order_by()
    )
    return [code for code, _to, left in rows if left > 0]
