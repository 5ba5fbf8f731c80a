"""How old what is in the house is."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from inventory.models import Farm, Lot
from inventory.queries.crates import HERE
from inventory.queries.dates import parents_of

# The first day of each span; the last goes on.
SPANS = (0, 2, 4, 7, 14, 30)


@dataclass(frozen=True)
class Ages:
    """Crates so many days old. until: the last day of the span, None for the one that goes on.

    part: of the most crates of one span, 0 to 1.
    """

    since: int
    until: int | None
    crates: int
    part: float


def read_ages(farm: Farm, at: datetime) -> list[Ages]:
    """Return how many crates in the house are how old, in whole days since they were cut or packed.

    By days of the farm, of the oldest in a crate; none where nothing is here.
    """
    lots = list(Lot.objects.filter(state__in=HERE).select_related("intake"))
    parents = parents_of(lots)
    today = at.astimezone(farm.zone).date()
    ages = [(today - _harvested(lot, parents, farm)).days for lot in lots]
    counts = [sum(1 for age in ages if _in_span(age, number)) for number in range(len(SPANS))]
    most = max(counts, default=0)
    untils = [*(start - 1 for start in SPANS[1:]), None]
    return [
        Ages(since, until, crates, crates / most)
        for since, until, crates in zip(SPANS, untils, counts, strict=True)
        if most
    ]


def _in_span(age: int, number: int) -> bool:
    """Return whether a crate is of a span; one cut by a clock that is ahead is of the first."""
    return number == sum(1 for start in SPANS[1:] if age >= start)


def _harvested(lot: Lot, parents: Mapping[str, list[Lot]], farm: Farm) -> date:
    """Return the day the oldest of a crate's content was cut or packed, else came."""
    intake = lot.intake
    if intake is None:
        return min(_harvested(parent, parents, farm) for parent in parents[lot.pk])
    return intake.packed_on or (intake.cut_at or intake.arrived_at).astimezone(farm.zone).date()
