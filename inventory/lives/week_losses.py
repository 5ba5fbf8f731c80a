"""Where the keeping life of what left in a week was lost, kept with the sums of that week.

Counted when a week is first looked at, and anew when that is said to be forgotten, as after a
temperature of the past; the rows go with the week's sums, as after a late entry. What a week costs
is what its own crates cost.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import QuerySet

from inventory.keeping.log import DAY_S
from inventory.ledger.fold import Entry
from inventory.ledger.outings import TOLD
from inventory.ledger.weeks import DAYS, LEFT, need_calendar
from inventory.lives.clocks import Clocks
from inventory.lives.entries import in_pieces, read_lots
from inventory.lives.logs import rooms_read_once
from inventory.lives.losses import Leaving, Loss, Went, add_up, leavings
from inventory.lives.reader import read_clocks
from inventory.models import Farm, FirstInLine, Lot, Movement, Week, WeekLoss
from inventory.models.ledger import breaks_the_order

_TO_DAYS, _TO_MONEY = Decimal("0.001"), Decimal("0.01")


# Put together once, asked anew by every week that is counted.
_LEFT_OR_BACK = TOLD.filter(kind__in=(*LEFT, Movement.Kind.BACK), undone_by__isnull=True)
_PASSED: QuerySet[FirstInLine, Any] = (
    FirstInLine.objects.filter(movement__undone_by__isnull=True)
    .order_by("-movement__occurred_at")
    .values_list(
        "movement__occurred_at", "first", "why_not", "reachable", "days_apart",
        "movement__lot__intake", "first__intake",
    )
)  # fmt: skip


def keep_losses(farm: Farm, first_day: date) -> None:
    """See to it that where life was lost is kept of a week whose sums are. Raises CalendarChanged.

    What changes meanwhile leaves a mark that stays, so that the week is counted anew, or waits for
    the farm's row and then forgets what is kept here.
    """
    unkept = Week.objects.filter(pk=first_day, losses_kept=False)
    if not unkept.exists():
        return
    # How far the rooms' logs have come is asked again, now that nobody can change it.
    with transaction.atomic(), rooms_read_once():
        now = need_calendar(farm)
        if unkept.update(losses_kept=True):
            WeekLoss.objects.filter(week=first_day).delete()
            WeekLoss.objects.bulk_create(_rows(now, first_day))


def _rows(farm: Farm, first_day: date) -> list[WeekLoss]:
    rows = [_row(first_day, *found) for found in count_losses(farm, first_day).items()]
    return [row for row in rows if row.crate_days > 0]


def _row(week: date, what: tuple[int, str], loss: Loss) -> WeekLoss:
    crop_id, step = what
    days = Decimal(loss.crate_days).quantize(_TO_DAYS)
    money = None if loss.money is None else Decimal(loss.money).quantize(_TO_MONEY)
    return WeekLoss(week_id=week, crop_id=crop_id, step=step, crate_days=days, money=money)


def losses_differ(farm: Farm, week: Week) -> Iterator[str]:
    """Yield a line for each loss that is kept of a week and that a recount finds to be another.

    The last digit may differ: rooms' logs are added up from wherever they were read from.
    """
    if not week.losses_kept:
        return
    kept = {(row.crop_id, row.step): row for row in week.losses.all()}
    counted = {(row.crop_id, row.step): row for row in _rows(farm, week.first_day)}
    for key in sorted({*kept, *counted}):
        before, now = _figures(kept.get(key)), _figures(counted.get(key))
        if _are_apart(before[0], now[0], _TO_DAYS) or _are_apart(before[1], now[1], _TO_MONEY):
            crop, step = key
            yield f"{crop} lost {step} is {before}, a recount says {now}"


def _figures(row: WeekLoss | None) -> tuple[Decimal | None, Decimal | None]:
    return (row.crate_days, row.money) if row else (Decimal(0), Decimal(0))


def _are_apart(one: Decimal | None, other: Decimal | None, by: Decimal) -> bool:
    if one is None or other is None:
        return one is not other
    return abs(one - other) > by


def count_losses(farm: Farm, first_day: date) -> dict[tuple[int, str], Loss]:
    """Add up where the life of what left in a week was lost, by crop and step."""
    start, end = farm.day_start(first_day), farm.day_start(first_day + DAYS)
    moved = Movement.objects.filter(kind__in=LEFT, undone_by__isnull=True)
    codes = set(
        moved.filter(occurred_at__gte=start, occurred_at__lt=end).values_list("lot", flat=True)
    )
    left = {
        code: [part for part in leavings(entries) if start <= part.at < end]
        for code, entries in _entries_of(codes).items()
    }
    lots = read_lots([code for code, parts in left.items() if parts])
    clocks, passed = read_clocks(lots, farm), _first_passed(codes)
    return add_up(
        _went(lot, part, clocks, passed.get(lot.pk)) for lot in lots for part in left[lot.pk]
    )


def _entries_of(codes: set[str]) -> dict[str, list[Entry]]:
    found: dict[str, list[Entry]] = defaultdict(list)
    for piece in in_pieces(codes):
        for entry in _LEFT_OR_BACK.filter(lot__in=piece):
            found[entry.lot_id].append(entry)
    return found


def _first_passed(codes: Iterable[str]) -> dict[str, datetime]:
    """Return when a younger crate first went though one of these would have done."""
    found: dict[str, datetime] = {}
    for piece in in_pieces(set(codes)):
        for at, first, *told in _PASSED.filter(first__in=piece):
            if breaks_the_order(first, *told):
                found[first] = at
    return found


def _went(lot: Lot, part: Leaving, clocks: Clocks, passed_at: datetime | None) -> Went:
    aged, passed = clocks.spent(lot.pk, part.lived_to)
    stayed_s = (part.lived_to - passed_at).total_seconds() if passed_at else 0.0
    crop = lot.crop
    price = crop.price if lot.unit == crop.unit else None
    return Went(
        crop_id=lot.crop_id,
        aged=aged,
        passed=passed,
        forgotten_days=max(stayed_s, 0.0) / DAY_S,
        keeping_days=crop.reference.base_days,
        # A count may have found more in it than it was made with.
        share=float(part.amount / max(lot.born_with, part.amount)),
        value=None if price is None else float(part.amount * price),
    )
