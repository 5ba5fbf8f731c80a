"""First in, first out: in how many takes of a week no older crate that would have done stayed."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import QuerySet

from inventory.ledger.weeks import DAYS
from inventory.models import Farm, FirstInLine, Lot, Movement, Position
from inventory.models.ledger import breaks_the_order

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


# Put together once, asked anew by every look at the week.
_TAKES: QuerySet[FirstInLine, Any] = (
    FirstInLine.objects.filter(movement__undone_by__isnull=True)
    .order_by("movement__occurred_at", "pk")
    .values_list(
        "movement__lot", "movement__occurred_at",
        "first", "why_not", "reachable", "days_apart", "movement__lot__intake", "first__intake",
    )
)  # fmt: skip


def read_kept_order(farm: Farm, first_day: date) -> KeptOrder:
    """Return how first in, first out was kept in a week.

    By what each take wrote down of that moment. One from before that was written counts in
    neither figure. Nothing here knows who did it.
    """
    start, end = farm.day_start(first_day), farm.day_start(first_day + DAYS)
    rows = list(_TAKES.filter(movement__occurred_at__gte=start, movement__occurred_at__lt=end))
    broken = [row for row in rows if breaks_the_order(*row[2:])]
    codes = {code for taken, _at, left, *_told in broken for code in (taken, left)}
    lots = Lot.objects.select_related("crop").in_bulk(codes) if codes else {}
    places = _places_of(codes)
    return KeptOrder(
        len(rows),
        [
            _passed(lots[taken], lots[left], at, days_apart, places)
            for taken, at, left, _why_not, _reachable, days_apart, *_harvests in broken
        ],
    )


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


def _passed(taken: Lot, left: Lot, at: datetime, days_apart: int, places: _Places) -> Passed:
    def place(lot: Lot) -> Position | None:
        return next((spot for since, spot in reversed(places[lot.pk]) if since <= at), None)

    return Passed(taken, place(taken), left, place(left), days_apart)
