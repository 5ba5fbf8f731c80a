"""From a figure of the week to the entries it adds up, and to the crates that were here."""

from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from decimal import Decimal

from django.db.models import F, Q

from inventory.ledger.fold import HERE
from inventory.models import Crop, Farm, Lot, Movement, Source

_KIND = Movement.Kind
_PURPOSE = Movement.Purpose
_OUTCOME = Movement.Outcome
_BOUGHT = Q(lot__intake__source__kind=Source.Kind.SUPPLIER)


def _out_and_back(purpose: str) -> Q:
    return Q(kind__in=(_KIND.OUT, _KIND.BACK), purpose=purpose)


def _settled(outcome: str) -> Q:
    return Q(kind=_KIND.SETTLED, outcome=outcome)


# The entries of each figure, by the name of its column in queries/week.WeekRow.
ENTRIES: dict[str, Q] = {
    "harvested": Q(kind=_KIND.BROUGHT_IN) & ~_BOUGHT,
    "bought": Q(kind=_KIND.BROUGHT_IN) & _BOUGHT,
    "counted": Q(kind=_KIND.COUNTED) & ~Q(change=0),
    "kitchens": _out_and_back(_PURPOSE.ORDER),
    "stalls": _settled(_OUTCOME.SOLD),
    "at_market": _out_and_back(_PURPOSE.MARKET) | Q(kind=_KIND.SETTLED),
    "given": _out_and_back(_PURPOSE.GIVEN) | _settled(_OUTCOME.GIVEN),
    "own_use": _out_and_back(_PURPOSE.OWN_USE),
    "sent_back": _out_and_back(_PURPOSE.SENT_BACK),
    "returned": Q(kind=_KIND.BACK),
    "discarded": Q(kind=_KIND.DISCARDED),
    "lost": _settled(_OUTCOME.LOST),
    "weight_lost": Q(kind=_KIND.WEIGHT_LOST),
}


def standing_entries() -> Q:
    """Return what picks the entries that count: neither undone nor an undo."""
    return Q(undone_by__isnull=True) & ~Q(kind=_KIND.UNDONE)


def crates_at(farm: Farm, day: date, crop: Crop, unit: str) -> Iterator[tuple[Lot, Decimal]]:
    """Yield the crates of a crop that were here when a day began, and how much was in each.

    Told back from what is in them now, so that it costs what happened since, not what has been.
    """
    # By the crop's own index a database would walk through all crates there ever were.
    entries = Movement.objects.filter(standing_entries(), occurred_at__gte=farm.day_start(day))
    since = entries.alias(of=F("lot__crop_id") + 0).filter(of=crop.pk, lot__unit=unit).order_by()
    # Nor is it asked for sums by crate, for which it would walk through all entries by crate.
    changed: dict[str, Decimal] = defaultdict(Decimal)
    for code, change in since.values_list("lot_id", "change"):
        changed[code] += change
    lots = Lot.objects.select_related("intake__source")
    here = lots.filter(state__in=HERE, crop=crop, unit=unit)
    known = {lot.pk: lot for lot in (*here, *lots.filter(pk__in=since.values("lot_id")))}
    for lot in sorted(known.values(), key=_by_arrival):
        amount = lot.quantity - changed[lot.pk]
        if amount:
            yield lot, amount


def _by_arrival(lot: Lot) -> tuple:
    """Sort key: those filled from several intakes first, then as they came."""
    return (lot.intake.arrived_at.timestamp() if lot.intake else 0, lot.pk)
