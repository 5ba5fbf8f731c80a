"""What the ledger adds up to week by week, kept so that no page adds up the farm's past.

A doing leaves a mark at each moment whose week it changes, in its own transaction, and waits for
nobody. Who reads a week recounts those that are marked or were never counted, one at a time under
the farm's row, which the owner's change of zone or week start holds too: the marks go first, then
the entries are read, so that whatever comes meanwhile leaves a mark that stays.

A temperature changes no sum, only where life was lost: that alone is then forgotten, of the weeks
in which something left that was in the house, under the farm's row as well.
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import TypeVar

from django.db import transaction
from django.db.models import Exists, Min, OuterRef, Q, QuerySet

from inventory.ledger.fold import standing
from inventory.models import (
    Farm,
    FirstInLine,
    Movement,
    Parentage,
    Source,
    Week,
    WeekMark,
    WeekNet,
    WeekSum,
)
from inventory.models.crops import Total

_KIND = Movement.Kind
LEFT = (_KIND.OUT, _KIND.SETTLED, _KIND.DISCARDED)
DAYS = timedelta(days=7)
_COOLS_WITHIN = timedelta(days=1)
SORT = (
    "crop_id", "unit", "kind", "purpose", "outcome", "reason", "destination", "bought",
)  # fmt: skip


Kept = TypeVar("Kept", WeekSum, WeekNet)
# Compares something that is kept of a week with a recount, and returns a line for each difference.
Differs = Callable[[Farm, Week], Iterable[str]]


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
    where it stood changes the life of what left since, and what comes back did not leave.
    """
    told, since = entry.told, lived_since(entry, of_crate)
    counted = [one for one in of_crate if one.change or one.amount]
    if told.kind == _KIND.CORRECTED:
        return {one.occurred_at for one in counted}
    changed = {told.occurred_at} if told.change or told.amount else set()
    if since is not None:
        changed |= {one.occurred_at for one in counted if one.occurred_at > since}
    if told.kind == _KIND.BACK or (told.kind == _KIND.OUT and _came_back_since(told, counted)):
        changed |= {one.occurred_at for one in counted if one.kind in (_KIND.OUT, _KIND.SETTLED)}
    return changed


def _came_back_since(told: Movement, counted: Iterable[Movement]) -> bool:
    """Whether what came back, or was settled, is now taken from this outing as well."""
    later = (one.kind for one in counted if one.occurred_at > told.occurred_at)
    return any(kind in (_KIND.BACK, _KIND.SETTLED) for kind in later)


def lived_since(entry: Movement, of_crate: Iterable[Movement]) -> datetime | None:
    """Return from when on a crate lived otherwise with this entry; None if it says nothing of it.

    How a harvest cools is reckoned from its first moment on with the first place it was given.
    """
    told, entries = entry.told, list(of_crate)
    first = min(one.occurred_at for one in entries)
    if told.kind == _KIND.CORRECTED:
        return first
    if not told.state:
        return None
    others = [one for one in standing(entries) if one.pk != told.pk]
    given = [one.occurred_at for one in others if one.position_id]
    is_first = told.position_id and told.occurred_at <= min(given, default=told.occurred_at)
    return first if is_first else told.occurred_at


_FILLS_OTHERS = (_KIND.SPLIT, _KIND.COMBINED, _KIND.RESORTED, _KIND.OUT)


def has_filled(entry: Movement, of_crate: Iterable[Movement], since: datetime) -> bool:
    """Whether other crates may have been filled from one since then, by its entries but this."""
    return any(
        one.kind in _FILLS_OTHERS and one.occurred_at >= since
        for one in of_crate
        if one.pk not in (entry.pk, entry.told.pk)
    )


def moments_of_others(lived: Mapping[str, datetime], takes: Collection[int]) -> set[datetime]:
    """Return the moments of other crates whose weeks change with what was written of some.

    lived: since when crates lived otherwise. Those filled from them lived so as well, and theirs;
    and a take that passed one tells where that stood. takes: entries that took out, late or
    undone: what they passed is forgotten from then on, or no more.
    """
    changed: set[datetime] = set()
    if lived:
        changed |= _moments_of(_filled_from(lived))
        passing = FirstInLine.objects.filter(first__in=lived)
        for first, at in passing.values_list("first", "movement__occurred_at"):
            changed |= {at} if first and at >= lived[first] else set()
    if takes:
        passed = FirstInLine.objects.filter(movement__in=takes, first__isnull=False)
        changed |= _moments_of(passed.values("first"))
    return changed


def _filled_from(lived: Mapping[str, datetime]) -> set[str]:
    """Return the crates that were filled since from these, and from those, to the last."""
    links = Parentage.objects.filter(parent__in=lived).values_list("child", "parent", "at")
    fresh = {child for child, parent, at in links if at >= lived[parent]}
    found: set[str] = set()
    while fresh:
        found |= fresh
        following = Parentage.objects.filter(parent__in=fresh).values_list("child", flat=True)
        fresh = set(following) - found
    return found


def _moments_of(codes: QuerySet | Collection[str]) -> set[datetime]:
    counted = Movement.objects.filter(lot__in=codes).exclude(change=0, amount=0)
    return set(counted.values_list("occurred_at", flat=True))


def mark(moments: Iterable[datetime]) -> None:
    WeekMark.objects.bulk_create(WeekMark(at=at) for at in sorted(moments))


def forget_weeks() -> None:
    """Let every week be counted anew: what it was counted by is another now."""
    Farm.objects.select_for_update(no_key=True).get()
    Week.objects.all().delete()


@transaction.atomic
def forget_losses() -> None:
    """Let where life was lost be counted anew of every week: it was reckoned by other figures."""
    Farm.objects.select_for_update(no_key=True).first()
    Week.objects.filter(losses_kept=True).update(losses_kept=False)


@transaction.atomic
def forget_losses_of(since: datetime, until: datetime | None) -> None:
    """Let where life was lost be counted anew of what was in the house in a span and left since.

    As when a temperature of then is told; until: None where it counts to this day. What the weeks
    add up to stays. The farm's row is held, so that who counts a week sees all of it, or nothing.
    """
    farm = Farm.objects.select_for_update(no_key=True).first()
    if farm is not None:
        first = farm.week_of(since - _COOLS_WITHIN)
        kept = Week.objects.filter(losses_kept=True, first_day__gte=first)
        weeks = list(kept.values_list("pk", flat=True))
        lived = [week for week in weeks if _left_of(farm, week, since, until).exists()]
        kept.filter(pk__in=lived).update(losses_kept=False)


def _left_of(farm: Farm, week: date, since: datetime, until: datetime | None) -> QuerySet[Movement]:
    """Return what left in a week of what was in the house in a span.

    How a harvest cools is reckoned with its whole first day, so that what left earlier on that
    day lived otherwise too.
    """
    left = Movement.objects.filter(_within(farm, week), kind__in=LEFT)
    left = left.filter(Q(occurred_at__gt=since) | _came("gt", since - _COOLS_WITHIN))
    return left if until is None else left.filter(_came("lte", until))


def _came(how: str, at: datetime) -> Q:
    """Return what finds entries of crates with something in them that came after a moment ("gt"),
    or by then ("lte"). What was filled from mixed crates may have come whenever.
    """
    by = Q((f"parent__intake__arrived_at__{how}", at)) | Q(parent__intake=None)
    of_several = Q(Exists(Parentage.objects.filter(by, child=OuterRef("lot"))))
    return Q((f"lot__intake__arrived_at__{how}", at)) | Q(lot__intake=None) & of_several


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
        if not Week.objects.filter(pk=week).update(losses_kept=False, record=None):
            Week.objects.create(pk=week)
        flows = ((*sort, *figures) for sort, figures in sums.flows.items())
        _keep(WeekSum, week, (*SORT, "change", "amount"), flows)
        nets = ((*key, change) for key, change in sums.nets.items())
        _keep(WeekNet, week, ("crop_id", "unit", "change"), nets)


def _keep(sort: type[Kept], week: date, columns: Sequence[str], found: Iterable[tuple]) -> None:
    """Make the rows of a week what was found: few differ when it is counted again."""
    rows = dict.fromkeys(found)
    of_week = sort.objects.filter(week=week)
    kept = {tuple(row): key for key, *row in of_week.values_list("pk", *columns).order_by()}
    gone = [key for row, key in kept.items() if row not in rows]
    if gone:
        of_week.filter(pk__in=gone).delete()
    sort.objects.bulk_create(
        sort(week_id=week, **dict(zip(columns, row, strict=True)))
        for row in rows
        if row not in kept
    )


def need_calendar(farm: Farm) -> Farm:
    """Hold the farm's row, and return it. Raises CalendarChanged where its weeks are others now."""
    now = Farm.objects.select_for_update(no_key=True).get()
    if (now.time_zone, now.week_start) != (farm.time_zone, farm.week_start):
        raise CalendarChanged
    return now


def wrong_weeks(*more: Differs) -> list[str]:
    """Return a line for each difference of a counted, unmarked week from its entries.

    more: what else is kept of a week, and compares itself.
    """
    weeks = list(Week.objects.values_list("pk", flat=True))
    farm = Farm.objects.get() if weeks else None
    differs = (_sums_differ, *more)
    return [line for week in weeks if farm for line in _differences(farm, week, differs)]


def _differences(farm: Farm, first_day: date, differs: Iterable[Differs]) -> list[str]:
    """Compare one week, its marks last: what was written meanwhile has left one."""
    with transaction.atomic():
        try:
            need_calendar(farm)
        except CalendarChanged:
            return []
        week = Week.objects.filter(pk=first_day).first()
        wrong = [line for each in differs for line in each(farm, week)] if week else []
        if wrong and marks_of(farm, first_day).exists():
            return []
    return [f"week {week}: {line}" for line in wrong]


def _sums_differ(farm: Farm, week: Week) -> list[str]:
    booked = add_up(farm, week.first_day)
    flows = {
        tuple(getattr(row, name) for name in SORT): (row.change, row.amount)
        for row in week.sums.all()
    }
    nets = {(row.crop_id, row.unit): row.change for row in week.nets.all()}
    return [*_other(flows, booked.flows), *_other(nets, booked.nets)]


def _other(stored: dict, booked: dict) -> Iterator[str]:
    for key in sorted({*stored, *booked}):
        if stored.get(key) != booked.get(key):
            words = " ".join(str(part) for part in key)
            yield f"{words} is {stored.get(key)}, the ledger says {booked.get(key)}"


def marks_of(farm: Farm, week: date) -> QuerySet[WeekMark]:
    return WeekMark.objects.filter(at__gte=farm.day_start(week), at__lt=farm.day_start(week + DAYS))


def _within(farm: Farm, week: date) -> Q:
    start, end = farm.day_start(week), farm.day_start(week + DAYS)
    return Q(occurred_at__gte=start, occurred_at__lt=end)


def add_up(farm: Farm, week: date) -> Sums:
    """Add up the standing entries of a week."""
    rows = (
        Movement.objects.filter(undone_by__isnull=True)
        .exclude(kind=_KIND.UNDONE)
        .filter(_within(farm, week))
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
