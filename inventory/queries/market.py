"""The market by crop: what is out, what came back of it, and how its days sold."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Q

from inventory.learning import share
from inventory.ledger.outings import AtMarket
from inventory.ledger.weeks import DAYS
from inventory.models import Action, Crop, Farm, MarketDay, MarketSale, Movement
from inventory.queries.crates import Crate, crates_here

DAYS_BEFORE = 4


@dataclass(frozen=True)
class CropOut:
    """What of a crop, in one unit, is out at a market."""

    crop: Crop
    unit: str
    crates: list[AtMarket]

    @property
    def key(self) -> str:
        """What its fields are called by."""
        return f"{self.crop.pk}-{self.unit}"

    @property
    def amount(self) -> Decimal:
        return sum((row.amount for row in self.crates), Decimal(0))


def by_crop(rows: Iterable[AtMarket]) -> list[CropOut]:
    """Return what is out at one market crop by crop, in the order of the rows."""
    found: dict[tuple[int, str], CropOut] = {}
    for row in rows:
        crop = row.lot.crop
        found.setdefault((crop.pk, row.lot.unit), CropOut(crop, row.lot.unit, []))
        found[crop.pk, row.lot.unit].crates.append(row)
    return list(found.values())


@dataclass(frozen=True)
class Sold:
    """How a crop sold on a market day, and which share on those before, the latest first.

    None: nothing of it was taken there.
    """

    sale: MarketSale
    before: list[float | None]


def read_sold(action: Action) -> list[Sold]:
    """Return how what was taken to a market sold, as one closing of it says."""
    day = MarketDay.objects.filter(action=action).select_related("outlet").first()
    if day is None:
        return []
    days = MarketDay.objects.standing().filter(outlet=day.outlet, day__lt=day.day)
    shares = [
        {(sale.crop_id, sale.unit): sale.sell_through for sale in earlier.sales.all()}
        for earlier in days.order_by("-day").prefetch_related("sales")[:DAYS_BEFORE]
    ]
    sales = sorted(day.sales.select_related("crop"), key=lambda sale: sale.crop.shown_name)
    return [Sold(sale, [of.get((sale.crop_id, sale.unit)) for of in shares]) for sale in sales]


def read_came_back(action: Action, farm: Farm, at: datetime) -> list[Crate]:
    """Return the crates that what came back with a closing is in, while they are here."""
    put_in = action.movements.filter(change__gt=0, undone_by__isnull=True)
    kinds = (Movement.Kind.BACK, Movement.Kind.COMBINED, Movement.Kind.RESORTED)
    return crates_here(farm, at, Q(pk__in=put_in.filter(kind__in=kinds).values("lot")))


def sold_by_week(
    farm: Farm, first: date, weeks: int, crops: Mapping[int, Crop]
) -> list[tuple[date, Decimal | None]]:
    """Return what share of what was taken to markets was sold, in %, for weeks up to this one's.

    By weight; None where nothing that anybody weighed was taken there. crops: all, by their keys.
    """
    starts = [first - DAYS * back for back in range(weeks - 1, -1, -1)]
    days = MarketDay.objects.standing().filter(day__gte=starts[0], day__lt=first + DAYS)
    taken: dict[date, Decimal] = defaultdict(Decimal)
    sold: dict[date, Decimal] = defaultdict(Decimal)
    sales = MarketSale.objects.filter(market_day__in=days).values_list(
        "market_day__day", "crop_id", "unit", "loaded", "sold"
    )
    for day, crop, unit, loaded, gone in sales:
        week = farm.week_start_of(day)
        one = crops[crop].kg_of_one(unit) or Decimal(0)
        taken[week] += loaded * one
        sold[week] += gone * one
    return [(week, share(sold[week], taken[week])) for week in starts]
