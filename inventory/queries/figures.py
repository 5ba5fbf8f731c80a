"""From a figure of the week to the entries it adds up, and to the crates that were here."""

from collections.abc import Iterator
from datetime import date
from decimal import Decimal

from django.db.models import Q

from inventory.models import Crop, Farm, Lot, Movement, Source
from inventory.models.crops import Total

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
    of_crop = Q(lot__crop=crop, lot__unit=unit, occurred_at__gte=farm.day_start(day))
    since = Movement.objects.filter(standing_entries(), of_crop).order_by()
    changed = dict(since.values_list("lot_id").annotate(change=Total("change")))
    here = Q(quantity__gt=0) | Q(pk__in=since.values("lot_id"))
    lots = Lot.objects.filter(here, crop=crop, unit=unit).select_related("intake__source")
    for lot in lots.order_by("intake__arrived_at", "pk"):
        amount = lot.quantity - changed.get(lot.pk, Decimal(0))
        if amount:
            yield lot, amount
