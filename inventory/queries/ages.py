"""How old what is in the house is."""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Count

from inventory.models import Farm, Lot
from inventory.queries.crates import HERE
from inventory.queries.dates import parents_of

# The first day of each span; the last goes on.
SPANS = (0, 2, 4, 7, 14, 30)
_TIMES = ("intake__packed_on", "intake__cut_at", "intake__arrived_at")


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
    today = at.astimezone(farm.zone).date()
    in_span: Counter[int] = Counter()
    for day, number in _days_here(farm):
        in_span[_span_of((today - day).days)] += number
    counts = [in_span[number] for number in range(len(SPANS))]
    most = max(counts, default=0)
    untils = [*(start - 1 for start in SPANS[1:]), None]
    return [
        Ages(since, until, crates, crates / most)
        for since, until, crates in zip(SPANS, untils, counts, strict=True)
        if most
    ]


def _span_of(age: int) -> int:
    """Return of which span a crate is; one cut by a clock that is ahead is of the first."""
    return sum(1 for start in SPANS[1:] if age >= start)


def _days_here(farm: Farm) -> Iterator[tuple[date, int]]:
    """Yield the days on which the oldest in crates here was cut or packed, else came, with how
    many crates that are."""
    here = Lot.objects.filter(state__in=HERE)
    times = here.filter(intake__isnull=False).values_list(*_TIMES)
    for packed_on, cut_at, arrived_at, crates in times.annotate(crates=Count("pk")).order_by():
        yield _day(farm, packed_on, cut_at, arrived_at), crates
    mixed = list(here.filter(intake__isnull=True))
    parents = parents_of(mixed)
    yield from ((_harvested(lot, parents, farm), 1) for lot in mixed)


def _harvested(lot: Lot, parents: Mapping[str, list[Lot]], farm: Farm) -> date:
    """Return the day the oldest of a crate's content was cut or packed, else came."""
    intake = lot.intake
    if intake is None:
        return min(_harvested(parent, parents, farm) for parent in parents[lot.pk])
    return _day(farm, intake.packed_on, intake.cut_at, intake.arrived_at)


def _day(farm: Farm, packed_on: date | None, cut_at: datetime | None, arrived_at: datetime) -> date:
    return packed_on or (cut_at or arrived_at).astimezone(farm.zone).date()
