"""What may be pulled for a buyer, and the plan for an open pull."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db.models import Q

from inventory.models import Crop, Farm, Lot, Pull, PullLine, PullTake
from inventory.queries.crates import Crate, crates_here
from inventory.rotation import Plan, plan_pulls
from inventory.rotation import PullLine as WantedLine
from inventory.rotation import PullLot as PullableLot


def plan_for(pull: Pull, farm: Farm, at: datetime) -> Plan:
    """Return the crates that fill what the lines of a pull still lack.

    Fit are crates in place, not held, not on the discard list and not only kept by a look;
    what other pulls were promised, and crates this one found missing, are left out.
    """
    lines = [line for line in pull_lines(pull) if line.lacking > 0]
    crates = _fit_crates({line.line.crop_id for line in lines}, farm, at)
    missing = set(PullTake.objects.not_found().values_list("lot_id", flat=True))
    ranks = _ranks(crates)
    lots = [
        PullableLot(
            code=crate.code,
            crop=_crop_key(crate.lot.crop_id, crate.lot.unit),
            quantity=crate.free,
            days_left=dict.fromkeys(
                (str(line.line.pk) for line in lines),
                crate.fridge_days(float(pull.outlet.fridge_c)).days,
            ),
            walk=crate.lot.position.walk if crate.lot.position else 0,
            tags=crate.lot.tags,
            rank=ranks[crate.code],
            part=crate.lot.is_part or crate.promised > 0,
        )
        for crate in crates
        if crate.code not in missing
    ]
    wanted = [
        WantedLine(
            id=str(line.line.pk),
            crop=_crop_key(line.line.crop_id, line.line.unit),
            quantity=line.lacking,
            minimum_days=pull.outlet.minimum_days,
            refused=pull.outlet.refused_tags,
        )
        for line in lines
    ]
    return plan_pulls(lots, wanted)


def _fit_crates(crop_ids: set[int], farm: Farm, at: datetime) -> list[Crate]:
    where = Q(state=Lot.State.IN_PLACE, held=False, crop_id__in=crop_ids)
    return [crate for crate in crates_here(farm, at, where) if crate.is_fit]


def _ranks(crates: list[Crate]) -> dict[str, int]:
    """Number crates in rotation order; crates of one harvest share a number."""
    ages = sorted({crate.key[:2] for crate in crates})
    numbers = {age: number for number, age in enumerate(ages)}
    return {crate.code: numbers[crate.key[:2]] for crate in crates}


def _crop_key(crop_id: int, unit: str) -> str:
    return f"{crop_id}:{unit}"


@dataclass(frozen=True)
class LineNow:
    """A line of a pull: what is taken, what is promised and still to fetch, what lacks."""

    line: PullLine
    taken: Decimal
    promised: Decimal

    @property
    def lacking(self) -> Decimal:
        return self.line.quantity - self.taken - self.promised


def pull_lines(pull: Pull) -> list[LineNow]:
    taken: dict[int, Decimal] = defaultdict(Decimal)
    promised: dict[int, Decimal] = defaultdict(Decimal)
    for take in pull_takes(pull):
        if take.is_taken:
            taken[take.line_id] += take.quantity
        elif not take.missing and pull.closed_at is None:
            promised[take.line_id] += take.quantity
    return [
        LineNow(line, taken[line.pk], promised[line.pk])
        for line in pull.lines.select_related("crop")
    ]


def pull_takes(pull: Pull) -> list[PullTake]:
    """Return the takes of a pull, taken ones too, in the order one walks the shelves."""
    takes = PullTake.objects.filter(line__pull=pull).select_related(
        "line", "lot__crop", "lot__position__room", "stood", "taken__undone_by"
    )
    return sorted(takes, key=lambda take: (_walk(take), take.pk))


def _walk(take: PullTake) -> int:
    return take.spot.walk if take.spot else 0


@dataclass(frozen=True)
class Offer:
    """A crop in the house that could be asked for, and how much of it is free."""

    crop: Crop
    unit: str
    free: Decimal


def half_done() -> list[Pull]:
    """Return the orders that somebody began to get together, the latest first."""
    open_ones = Pull.objects.filter(closed_at__isnull=True)
    return list(open_ones.select_related("outlet", "planned_by").order_by("-planned_at"))


def read_offers(farm: Farm, at: datetime) -> list[Offer]:
    """Return what is free to be pulled, by crop and unit."""
    free: dict[tuple[int, str], Decimal] = defaultdict(Decimal)
    crops: dict[int, Crop] = {}
    for crate in crates_here(farm, at, Q(state=Lot.State.IN_PLACE, held=False)):
        if crate.is_fit:
            free[crate.lot.crop_id, crate.lot.unit] += crate.free
            crops[crate.lot.crop_id] = crate.lot.crop
    offers = [
        Offer(crops[crop], unit, amount) for (crop, unit), amount in free.items() if amount > 0
    ]
    return sorted(offers, key=lambda offer: (offer.crop.shown_name.lower(), offer.unit))
