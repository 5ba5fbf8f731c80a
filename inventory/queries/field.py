"""What the field should give: what was said of it, what came, and what of it is left."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal

from inventory.models import Crop, Estimate, Farm, Lot, Movement, Source
from inventory.models.crops import Total
from inventory.models.field import ESTIMATE_DAYS, ESTIMATE_LASTS

# What neither came in nor was walked for in this time is no row of the walk any more. Ours.
ROWS_LAST = timedelta(days=60)
DAY = timedelta(days=1)
WEEK = timedelta(days=7)
_TOLD = 2

Key = tuple[int, int, str]  # crop, block, unit


@dataclass(frozen=True)
class Seen:
    """How much a block should give of a crop, and from which day on; 0 is nothing."""

    crop: Crop
    block: Source
    unit: str
    quantity: Decimal
    from_day: date


@dataclass(frozen=True)
class TurnedOut:
    """What was said once, and what came of it in the eight days after. over: those are over."""

    said: Decimal
    came: Decimal
    over: bool


@dataclass(frozen=True)
class WalkRow:
    """One crop of one block on the walk. start: last week's figure; before: how what was said
    before today turned out, the latest first."""

    crop: Crop
    block: Source
    unit: str
    start: Decimal | None = None
    from_day: date | None = None
    before: tuple[TurnedOut, ...] = ()

    @property
    def key(self) -> str:
        return f"{self.crop.pk}_{self.block.pk}_{self.unit}"


@dataclass(frozen=True)
class Came:
    """What came in of a harvest, in one unit."""

    key: Key
    at: datetime
    quantity: Decimal


@dataclass(frozen=True)
class FieldNow:
    """What the latest walk said a block gives of a crop, less what came in of it since.

    until: the last day that it speaks of.
    """

    crop: Crop
    block: Source
    unit: str
    said: Decimal
    left: Decimal
    from_day: date
    until: date

    @property
    def key(self) -> Key:
        return self.crop.pk, self.block.pk, self.unit


def harvests_since(moment: datetime) -> list[Came]:
    """Return what came in from the blocks of the farm since a moment, latest first."""
    lots = Lot.objects.filter(
        intake__source__kind=Source.Kind.BLOCK, intake__arrived_at__gte=moment
    )
    entries = Movement.objects.filter(
        kind=Movement.Kind.BROUGHT_IN, undone_by__isnull=True, lot__in=lots
    )
    sums = entries.values_list(
        "lot__crop_id", "lot__intake__source_id", "lot__unit", "lot__intake__arrived_at"
    ).annotate(total=Total("change"))
    rows = sums.order_by("-lot__intake__arrived_at")
    return [Came((crop, block, unit), at, total) for crop, block, unit, at, total in rows]


def read_field(farm: Farm, at: datetime) -> list[FieldNow]:
    """Return what was said within the last eight days and is not all cut yet."""
    said = Estimate.objects.standing().filter(said_at__gt=at - ESTIMATE_LASTS, said_at__lte=at)
    latest = {_key(row): row for row in said.select_related("crop", "block")}
    came = _by_key(harvests_since(at - ESTIMATE_LASTS))
    found = [_field_now(row, came[key], farm) for key, row in latest.items() if row.quantity]
    return [now for now in found if now.left > 0]


def _field_now(row: Estimate, came: list[Came], farm: Farm) -> FieldNow:
    since = sum((one.quantity for one in came if one.at > row.said_at), Decimal(0))
    said_on = row.said_at.astimezone(farm.zone).date()
    return FieldNow(
        crop=row.crop,
        block=row.block,
        unit=row.unit,
        said=row.quantity,
        left=max(row.quantity - since, Decimal(0)),
        from_day=row.from_day,
        until=said_on + timedelta(days=ESTIMATE_DAYS - 1),
    )


def read_walk(farm: Farm, at: datetime) -> list[WalkRow]:
    """Return a row for each crop and block that was cut or walked for of late, by block."""
    since = at - ROWS_LAST
    came = _by_key(harvests_since(since))
    said: dict[Key, list[Estimate]] = defaultdict(list)
    walked = Estimate.objects.standing().filter(said_at__gt=since).order_by("-said_at", "-pk")
    for row in walked:
        said[_key(row)].append(row)
    keys = came.keys() | said.keys()
    crops = {crop.pk: crop for crop in Crop.objects.filter(grown=True)}
    blocks = {block.pk: block for block in _blocks()}
    rows = [
        _walk_row(WalkRow(crops[crop], blocks[block], unit), said[key], came[key], at)
        for key in keys
        for crop, block, unit in [key]
        if crop in crops and block in blocks
    ]
    return sorted(rows, key=lambda row: (row.block.name, row.crop.shown_name.lower(), row.unit))


def _blocks() -> Iterable[Source]:
    return Source.objects.filter(kind=Source.Kind.BLOCK, in_use=True)


def _walk_row(row: WalkRow, said: list[Estimate], came: list[Came], at: datetime) -> WalkRow:
    """Return a row with the figure said last, else with what came in the week before."""
    earlier = [one for one in said if one.said_at <= at - DAY]
    before = tuple(_turned_out(one, came, at) for one in earlier[:_TOLD])
    if said:
        return replace(
            row, start=said[0].quantity or None, from_day=said[0].from_day, before=before
        )
    week = sum((one.quantity for one in came if one.at > at - WEEK), Decimal(0))
    return replace(row, start=week or None)


def _turned_out(said: Estimate, came: list[Came], at: datetime) -> TurnedOut:
    until = said.said_at + ESTIMATE_LASTS
    within = (one.quantity for one in came if said.said_at < one.at <= until)
    return TurnedOut(said.quantity, sum(within, Decimal(0)), over=until <= at)


def _key(row: Estimate) -> Key:
    return row.crop_id, row.block_id, row.unit


def _by_key(came: Iterable[Came]) -> dict[Key, list[Came]]:
    found: dict[Key, list[Came]] = defaultdict(list)
    for one in came:
        found[one.key].append(one)
    return found
