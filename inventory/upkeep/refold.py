"""Whether what is kept for speed, of crates, weeks and buyers, still says what the ledger says."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby

from django.db import transaction

from inventory.ledger.book import FOLDED_FIELDS
from inventory.ledger.fold import fold
from inventory.ledger.week_record import record_differs
from inventory.ledger.weeks import wrong_weeks
from inventory.lives.week_losses import losses_differ
from inventory.models import Farm, Lot, Movement
from inventory.queries.empties import wrong_counts

LOTS_AT_ONCE = 500


@dataclass(frozen=True)
class Refolded:
    """How many crates there are, and a line for each difference found."""

    crates: int
    differences: list[str]


def refold_ledger() -> Refolded:
    """Refold the whole ledger; recount our crates and all that is kept of weeks. Writes nothing.

    What differs is looked at once more under the crate's lock: somebody may be writing.
    """
    crates, suspects = 0, []
    for lots in _in_pieces():
        crates += len(lots)
        entries = Movement.objects.filter(lot__in=lots).order_by("lot_id", "pk")
        by_lot = {pk: list(own) for pk, own in groupby(entries, key=lambda entry: entry.lot_id)}
        suspects += [lot.pk for lot in lots if any(differences(lot, by_lot.get(lot.pk, ())))]
    lines = [line for pk in suspects for line in _locked_differences(pk)]
    weeks = wrong_weeks(record_differs, losses_differ)
    return Refolded(crates, [*lines, *weeks, *_wrong_counts()])


def _wrong_counts() -> list[str]:
    with transaction.atomic():
        Farm.objects.select_for_update().first()
        return wrong_counts()


def _in_pieces() -> Iterator[list[Lot]]:
    """Yield all crates, some hundred at a time, so that years of them need no memory."""
    last = ""
    while lots := list(Lot.objects.filter(pk__gt=last).order_by("pk")[:LOTS_AT_ONCE]):
        yield lots
        last = lots[-1].pk


def _locked_differences(pk: str) -> list[str]:
    with transaction.atomic():
        lot = Lot.objects.select_for_update(of=("self",)).get(pk=pk)
        return list(differences(lot, list(lot.movements.order_by("pk"))))


def differences(lot: Lot, entries: Iterable[Movement]) -> Iterator[str]:
    """Yield a line for each column of a crate that differs from its entries."""
    entries = list(entries)
    if not entries:
        yield f"{lot.pk}: no entry at all"
        return
    folded = fold(entries)
    for name in FOLDED_FIELDS:
        stored, booked = getattr(lot, name), getattr(folded, name)
        if stored != booked:
            yield f"{lot.pk}: {name} is {stored}, the ledger says {booked}"
