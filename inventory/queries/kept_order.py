"""First in, first out: in how many takes of a week no older crate that would have done stayed."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime

from inventory.ledger.weeks import DAYS
from inventory.models import Farm, FirstInLine, Lot, Movement, Position

_Places = dict[str, list[tuple[datetime, Position | None]]]


@dataclass(frozen=True)
class Passed:
    """A crate that was taken before one that should have gone; places as they stood then.

    left_place: where the one that should have gone stood, if it stood in one. days_apart: whole
    days left of the one taken less those of the other.
    """

    taken: Lot
    place: Position | None
    left: Lot
    left_place: Position | None
    days_apart: int


@dataclass(frozen=True)
class KeptOrder:
    """The takes that wrote down what should have gone first, and those that broke the order."""

    takes: int
    passed: list[Passed]

    @property
    def percent(self) -> int | None:
        """The share that kept it, rounded down, so that 100 means all; None without a take."""
        return 100 * (self.takes - len(self.passed)) // self.takes if self.takes else None


def read_kept_order(farm: Farm, first_day: date) -> KeptOrder:
    """Return how first in, first out was kept in a week.

    By what each take wrote down of that moment. One from before that was written counts in
    neither figure. Nothing here knows who did it.
    """
    rows = list(
        FirstInLine.objects.filter(
            movement__undone_by__isnull=True,
            movement__occurred_at__gte=farm.day_start(first_day),
            movement__occurred_at__lt=farm.day_start(first_day + DAYS),
        )
        .select_related("movement__lot__crop", "first")
        .order_by("movement__occurred_at", "pk")
    )
    broken = [row for row in rows if row.broke_the_order]
    places = _places_of(
        {lot for row in broken for lot in (row.movement.lot_id, row.first_id) if lot}
    )
    return KeptOrder(len(rows), [_passed(row, places) for row in broken])


def _places_of(codes: Collection[str]) -> _Places:
    """Return where crates stood from when on; what took one out says no place."""
    found: _Places = defaultdict(list)
    entries = (
        Movement.objects.filter(lot__in=codes, undone_by__isnull=True)
        .exclude(state__in=["", Lot.State.OUT])
        .select_related("position")
        .order_by("occurred_at", "pk")
    )
    for entry in entries if codes else ():
        found[entry.lot_id].append((entry.occurred_at, entry.position))
    return found


def _passed(row: FirstInLine, places: _Places) -> Passed:
    assert row.first is not None, "only a take that passed a crate is listed"
    taken, left, at = row.movement.lot, row.first, row.movement.occurred_at

    def place(lot: Lot) -> Position | None:
        return next((spot for since, spot in reversed(places[lot.pk]) if since <= at), None)

    return Passed(taken, place(taken), left, place(left), row.days_apart)
