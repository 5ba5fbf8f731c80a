"""What the ledger adds up to week by week, kept so that no page adds up the farm's past.

A doing leaves a mark at each moment whose week it changes, in its own transaction, and waits for
nobody. Who reads a week recounts those that are marked or were never counted, one at a time under
the farm's row, which the owner's change of zone or week start holds too: the marks go first, then
the entries are read, so that whatever comes meanwhile leaves a mark that stays.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.db.models import Min, QuerySet

from inventory.models import Farm, Movement, Source, Week, WeekMark, WeekNet, WeekSum
from inventory.models.crops import Total

_KIND = Movement.Kind
DAYS = timedelta(days=7)
_IN_EVERY_WEEK = timedelta(days=6)  # shorter than a week in which the clocks change
SORT = (
    "crop_id", "unit", "kind", "purpose", "outcome", "reason", "destination", "bought",
)  # fmt: skip


class CalendarChanged(Exception):
    """The farm's zone or first day of the week is another than the one asked by."""


@dataclass(frozen=True)
class Sums:
    """What was added up of one week.

    flows: change and amount by the columns of SORT. nets: change by crop and unit.
    """

    flows: dict[tuple, tuple[Decimal, Decimal]]

    @property
    def nets(self) -> dict[tuple, Decimal]:
        found: dict[tuple, Decimal] = defaultdict(Decimal)
        for sort, (change, _amount) in self.flows.items():
            found[sort[:2]] += change
        return {key: change for key, change in found.items() if change}


def moments_changed(entry: Movement, of_crate: Iterable[Movement]) -> set[datetime]:
    """Return the moments whose weeks add up to something else with this entry.

    of_crate: all entries of its crate. A correction may change the crop of all of them. What says
    where it stood changes the life of all that left later, and what comes back did not leave.
    """
    undone = entry.undoes if entry.undoes_id else None
    told = undone or entry
    counted = [one for one in of_crate if one.change or one.amount]
    if told.kind == _KIND.CORRECTED:
        return {one.occurred_at for one in counted}
    changed = {told.occurred_at} if told.change or told.amount else set()
    if told.state:
        changed |= {one.occurred_at for one in counted if one.occurred_at > told.occurred_at}
    if told.kind == _KIND.BACK:
        changed |= {one.occurred_at for one in counted if one.kind == _KIND.OUT}
    return changed


def mark_lives(since: datetime, until: datetime) -> None:
    """Mark every week from one moment to another, now: what left in them lived otherwise.

    Nothing is marked where nothing left since, as when a sensor posts what it measured now.
    """
    if Movement.objects.filter(occurred_at__gt=since).exclude(change=0, amount=0).exists():
        days = (until - since) // _IN_EVERY_WEEK
        mark([*(since + _IN_EVERY_WEEK * number for number in range(days + 1)), until])


def mark(moments: Iterable[datetime]) -> None:
    WeekMark.objects.bulk_create(WeekMark(at=at) for at in sorted(moments))


def forget_weeks() -> None:
    """Let every week be counted anew: what it was counted by is another now."""
    Farm.objects.select_for_update(no_key=True).get()
    Week.objects.all().delete()


def count_up_to(farm: Farm, first_day: date) -> None:
    """See to it that every week from the first entry to this one is counted as it now stands.

    Raises CalendarChanged.
    """
    for week in list(_to_count(farm, first_day)):
        _count(farm, week)


def _to_count(farm: Farm, last: date) -> Iterator[date]:
    """Yield the weeks up to this one that are marked or were never counted."""
    earliest = Movement.objects.aggregate(at=Min("occurred_at"))["at"]
    if earliest is None:
        return
    first = farm.week_of(earliest)
    weeks = (last - first) // DAYS + 1
    counted = Week.objects.filter(first_day__range=(first, last))
    marks = WeekMark.objects.filter(at__lt=farm.day_start(last + DAYS))
    marked = {farm.week_of(at) for at in marks.values_list("at", flat=True)}
    if not marked and counted.count() == weeks:
        return
    known = set(counted.values_list("first_day", flat=True)) - marked
    yield from ((first + DAYS * n) for n in range(weeks) if (first + DAYS * n) not in known)


def _count(farm: Farm, week: date) -> None:
    """Recount one week and keep what it adds up to."""
    with transaction.atomic():
        need_calendar(farm)
        marks_of(farm, week).delete()
        sums = add_up(farm, week)
        Week.objects.filter(pk=week).delete()
        row = Week.objects.create(pk=week)
        WeekSum.objects.bulk_create(
            WeekSum(week=row, change=change, amount=amount, **dict(zip(SORT, sort, strict=True)))
            for sort, (change, amount) in sums.flows.items()
        )
        WeekNet.objects.bulk_create(
            WeekNet(week=row, crop_id=crop_id, unit=unit, change=change)
            for (crop_id, unit), change in sums.nets.items()
        )


def need_calendar(farm: Farm) -> None:
    """Hold the farm's row. Raises CalendarChanged where its weeks are no longer these."""
    now = Farm.objects.select_for_update(no_key=True).get()
    if (now.time_zone, now.week_start) != (farm.time_zone, farm.week_start):
        raise CalendarChanged


def wrong_weeks() -> list[str]:
    """Return a line for each counted, unmarked week that differs from its entries."""
    weeks = list(Week.objects.all())
    farm = Farm.objects.get() if weeks else None
    return [line for week in weeks if farm for line in _differences(farm, week)]


def _differences(farm: Farm, week: Week) -> list[str]:
    """Compare one week, its marks last: what was written meanwhile has left one."""
    with transaction.atomic():
        try:
            need_calendar(farm)
        except CalendarChanged:
            return []
        booked = add_up(farm, week.first_day)
        flows = {
            tuple(getattr(row, name) for name in SORT): (row.change, row.amount)
            for row in week.sums.all()
        }
        nets = {(row.crop_id, row.unit): row.change for row in week.nets.all()}
        wrong = [*_other(flows, booked.flows), *_other(nets, booked.nets)]
        if wrong and marks_of(farm, week.first_day).exists():
            return []
    return [f"week {week}: {line}" for line in wrong]


def _other(stored: dict, booked: dict) -> Iterator[str]:
    for key in sorted({*stored, *booked}):
        if stored.get(key) != booked.get(key):
            words = " ".join(str(part) for part in key)
            yield f"{words} is {stored.get(key)}, the ledger says {booked.get(key)}"


def marks_of(farm: Farm, week: date) -> QuerySet[WeekMark]:
    return WeekMark.objects.filter(at__gte=farm.day_start(week), at__lt=farm.day_start(week + DAYS))


def add_up(farm: Farm, week: date) -> Sums:
    """Add up the standing entries of a week."""
    rows = (
        Movement.objects.filter(undone_by__isnull=True)
        .exclude(kind=_KIND.UNDONE)
        .filter(occurred_at__gte=farm.day_start(week), occurred_at__lt=farm.day_start(week + DAYS))
        .values_list(
            "lot__crop_id", "lot__unit", "kind", "purpose", "outcome", "reason", "destination",
            "lot__intake__source__kind",
        )
        .annotate(change=Total("change"), amount=Total("amount"))
        .order_by()
    )  # fmt: skip
    flows: dict[tuple, tuple[Decimal, Decimal]] = {}
    for *sort, source_kind, change, amount in rows:
        key = (*sort, source_kind == Source.Kind.SUPPLIER)
        before = flows.get(key, (Decimal(0), Decimal(0)))
        flows[key] = (before[0] + change, before[1] + amount)
    return Sums({sort: pair for sort, pair in flows.items() if any(pair)})
