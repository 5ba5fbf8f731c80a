"""What advice reads of a week, kept with its sums so that no page reads whole weeks of entries.

Counted when it is first asked for; gone when its week is counted anew, as after a late entry. Kept
are plain lists, as JSON: days and figures as text. What changes without an entry (what a place is
called, what one of a crop weighs, how a market was closed) is none of it.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import Count, OuterRef, Q, Subquery

from inventory.ledger.weeks import DAYS, CalendarChanged, need_calendar
from inventory.measures import plain
from inventory.models import Farm, FirstInLine, Lot, Movement, Source, Week
from inventory.models.crops import Total

_KIND, _REASON = Movement.Kind, Movement.Reason
# Thrown away for these it was more than was wanted in time; for others something went wrong.
_TOO_MUCH = (
    _REASON.SPOILED, _REASON.WILTED, _REASON.YELLOWED, _REASON.UNSOLD, _REASON.LISTED,
    _REASON.PAST_DATE,
)  # fmt: skip
_BY_COLD = (_REASON.FROZE, _REASON.CHILLED)

# Rows by what they tell of, each beginning with a crop and a unit:
# cut: the day, how many crates and how much, of what was cut here and came in in this week.
# back_of, wasted_of: the day it was cut, the week it came in, and how much of that harvest came
# back from markets, or was more than was wanted.
# loaded: market, day, crates, how much, how much of known age, that times its days.
# back: market, day and how much. passed: the place of an older crate, and what it was made with.
# harmed: the place, and how much was thrown away as cold had hurt it.
WeekRecord = dict[str, list[list[Any]]]
_Sums = dict[tuple, Decimal]


def read_records(farm: Farm, first: date, last: date) -> dict[date, WeekRecord]:
    """Return what is kept of some weeks whose sums were counted before, by their first days.

    What is not kept yet is counted. Nothing of a week before any entry, and nothing at all where
    the farm's weeks became others meanwhile.
    """
    try:
        weeks = Week.objects.filter(first_day__range=(first, last))
        return {
            week: _keep(farm, week) if record is None else record
            for week, record in weeks.values_list("first_day", "record")
        }
    except CalendarChanged:
        return {}


def _keep(farm: Farm, week: date) -> WeekRecord:
    """Count what advice reads of a week and keep it. Raises CalendarChanged.

    What changes meanwhile leaves a mark that stays, so that the week is counted anew.
    """
    with transaction.atomic():
        need_calendar(farm)
        record = count_record(farm, week)
        Week.objects.filter(pk=week).update(record=record)
    return record


def record_differs(farm: Farm, week: Week) -> Iterator[str]:
    """Yield a line for each thing kept of a week for advice that a recount finds to be another."""
    if week.record is None:
        return
    counted = count_record(farm, week.first_day)
    for what in sorted({*week.record, *counted}):
        kept, now = week.record.get(what), counted.get(what)
        if kept != now:
            yield f"{what} is {kept}, a recount says {now}"


def count_record(farm: Farm, week: date) -> WeekRecord:
    """Read from the entries of a week what advice needs of it."""
    start, end = farm.day_start(week), farm.day_start(week + DAYS)

    def within(moment: str) -> Q:
        return Q((f"{moment}__gte", start), (f"{moment}__lt", end))

    rows = {
        "cut": _cut(farm, within("intake__arrived_at")),
        **_too_much(farm, within("occurred_at")),
        **_at_markets(farm, within("occurred_at")),
        "passed": _passed(within("movement__occurred_at")),
        "harmed": _harmed(within("occurred_at")),
    }
    return {what: sorted(found) for what, found in rows.items()}


def _day(farm: Farm, moment: datetime) -> str:
    return moment.astimezone(farm.zone).date().isoformat()


def _summed(pairs: Iterable[tuple[tuple, Decimal]]) -> list[list[Any]]:
    """Return a row for each key, with what of it adds up to anything."""
    sums: _Sums = defaultdict(Decimal)
    for key, figure in pairs:
        sums[key] += figure
    return [[*key, plain(figure)] for key, figure in sums.items() if figure]


def _cut(farm: Farm, within: Q) -> list[list[Any]]:
    own = Q(intake__source__kind=Source.Kind.BLOCK, parent_links__isnull=True)
    lots = (
        Lot.objects.filter(within, own)
        .exclude(state=Lot.State.VOID)
        .values_list("crop_id", "unit", "intake__cut_at", "intake__arrived_at")
        .annotate(crates=Count("pk"), quantity=Total("born_with"))
        .order_by()
    )
    crates: dict[tuple, int] = defaultdict(int)
    sums: _Sums = defaultdict(Decimal)
    for crop, unit, cut_at, arrived_at, number, quantity in lots:
        key = crop, unit, _day(farm, cut_at or arrived_at)
        crates[key] += number
        sums[key] += quantity
    return [[*key, crates[key], plain(sums[key])] for key in sums]


def _standing(within: Q, *kinds: str) -> Any:
    return Movement.objects.filter(within, kind__in=kinds, undone_by__isnull=True)


def _too_much(farm: Farm, within: Q) -> dict[str, list[list[Any]]]:
    """Return what came back from markets, and what was thrown away or lost there, by harvest."""
    came_back = Q(kind=_KIND.BACK, purpose=Movement.Purpose.MARKET)
    thrown = Q(kind=_KIND.DISCARDED, reason__in=_TOO_MUCH)
    lost = Q(kind=_KIND.SETTLED, outcome=Movement.Outcome.LOST)
    rows = (
        _standing(within, _KIND.BACK, _KIND.DISCARDED, _KIND.SETTLED)
        .filter(came_back | thrown | lost, lot__intake__source__kind=Source.Kind.BLOCK)
        .values_list(
            "lot__crop_id", "lot__unit", "lot__intake__cut_at", "lot__intake__arrived_at", "kind"
        )
        .annotate(change=Total("change"), amount=Total("amount"))
        .order_by()
    )
    back, wasted = [], []
    for crop, unit, cut_at, arrived_at, kind, change, amount in rows:
        came = farm.week_of(arrived_at).isoformat()
        key = crop, unit, _day(farm, cut_at or arrived_at), came
        if kind == _KIND.BACK:
            back.append((key, amount))
        else:
            wasted.append((key, amount if kind == _KIND.SETTLED else -change))
    return {"back_of": _summed(back), "wasted_of": _summed(wasted)}


def _at_markets(farm: Farm, within: Q) -> dict[str, list[list[Any]]]:
    """Return what went to markets, how old, and what came back, by crop and day."""
    rows = (
        _standing(within, _KIND.OUT, _KIND.BACK)
        .filter(purpose=Movement.Purpose.MARKET, outlet__isnull=False, amount__gt=0)
        .values_list(
            "lot__crop_id", "lot__unit", "outlet_id", "occurred_at", "kind", "lot_id", "amount",
            "lot__intake__cut_at", "lot__intake__arrived_at", "lot__intake__source__kind",
        )
    )  # fmt: skip
    back, loads = [], defaultdict(list)
    for crop, unit, market, at, kind, lot, amount, cut_at, came_at, source in rows:
        key = crop, unit, market, _day(farm, at)
        if kind == _KIND.BACK:
            back.append((key, amount))
            continue
        harvested = cut_at or came_at if source == Source.Kind.BLOCK else None
        loads[key].append((lot, amount, harvested and _days_between(farm, harvested, at)))
    return {"loaded": [_load(key, crates) for key, crates in loads.items()], "back": _summed(back)}


def _days_between(farm: Farm, first: datetime, last: datetime) -> int:
    return (last.astimezone(farm.zone).date() - first.astimezone(farm.zone).date()).days


def _load(key: tuple, crates: list[tuple[str, Decimal, int | None]]) -> list[Any]:
    known = [(amount, days) for _lot, amount, days in crates if days is not None]
    return [
        *key,
        len({lot for lot, _amount, _days in crates}),
        plain(sum((amount for _lot, amount, _days in crates), Decimal(0))),
        plain(sum((amount for amount, _days in known), Decimal(0))),
        plain(sum((amount * days for amount, days in known), Decimal(0))),
    ]


def _passed(within: Q) -> list[list[Any]]:
    """Return the crates that stood on a shelf while one went out that keeps a day longer or more,
    though they would have done for that buyer and could be reached."""
    takes = FirstInLine.objects.filter(
        within,
        movement__undone_by__isnull=True,
        first__isnull=False,
        why_not="",
        reachable=True,
        days_apart__gt=0,
    )
    rows = takes.annotate(stood=_stood("first", "movement__occurred_at")).values_list(
        "first__crop_id", "first__unit", "stood", "first__born_with"
    )
    return [[*key, plain(held)] for *key, held in rows if key[-1]]


def _stood(lot: str, at: str) -> Subquery:
    """Return what finds the place at which a crate stood, by the names of its fields."""
    entries = Movement.objects.filter(
        lot=OuterRef(lot),
        position__isnull=False,
        undone_by__isnull=True,
        occurred_at__lte=OuterRef(at),
    ).order_by("-occurred_at", "-pk")
    return Subquery(entries.values("position_id")[:1])


def _harmed(within: Q) -> list[list[Any]]:
    """Return what was thrown away because cold had hurt it, by the place it had stood at."""
    thrown = _standing(within, _KIND.DISCARDED).filter(reason__in=_BY_COLD)
    rows = thrown.annotate(stood=_stood("lot", "occurred_at")).values_list(
        "lot__crop_id", "lot__unit", "stood", "change"
    )
    return _summed((tuple(key), -change) for *key, change in rows if key[-1])
