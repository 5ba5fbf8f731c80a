"""What a market day was: kept as its closing is written, and no more once that is taken back."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Max, Q

from inventory.ledger.book import Book
from inventory.ledger.fold import Outing
from inventory.models import Action, Lot, MarketDay, MarketSale, Movement, Outlet

# A crop by key, in one of its units.
CropKey = tuple[int, str]
_ZERO = Decimal(0)
_FIGURES = ("loaded", "back", "given", "lost", "sold")


@dataclass(frozen=True)
class Settling:
    """What became of one crate's load at market. out: what was shown as out; the rest is sold."""

    lot: str
    out: Decimal
    back: Decimal = Decimal(0)
    given: Decimal = Decimal(0)
    lost: Decimal = Decimal(0)

    @property
    def sold(self) -> Decimal:
        return self.out - self.back - self.given - self.lost


def keep_market_day(
    book: Book,
    market: Outing,
    settled: list[tuple[Lot, Settling]],
    sold_out: Mapping[CropKey, str] | None = None,
    weather: str = MarketDay.Weather.USUAL,
) -> None:
    """Keep what a market was that is being closed, crop by crop.

    What came back before is in it. Closed once more on one day, this has all of the day in it
    and stands for the earlier. A market known by its name only is kept by the ledger alone.
    """
    if market.outlet_id is None:
        return
    outlet = Outlet.objects.select_for_update(no_key=True).get(pk=market.outlet_id)
    loads = [_load(book, lot, market) for lot, _row in settled]
    day = _day_of(book, outlet, max(last for _first, last in loads))
    since = max([min(first for first, _last in loads), *_closings(book, outlet, day)])
    earlier = MarketDay.objects.standing().filter(outlet=outlet, day=day).first()
    if earlier is not None:
        earlier.stands = False
        earlier.save(update_fields=["stands"])
    sales = _sales(settled, _brought_back(book, outlet, since), earlier)
    made = MarketDay.objects.create(outlet=outlet, day=day, weather=weather, action=book.action)
    for sale in sales:
        sale.market_day = made
        sale.sold_out = (sold_out or {}).get((sale.crop_id, sale.unit), sale.sold_out)
    MarketSale.objects.bulk_create(sales)


def _load(book: Book, lot: Lot, market: Outing) -> tuple[datetime, datetime]:
    """Return when what is out of a crate was taken to a market: the first of it, and the last."""
    left = Decimal(0)
    first = last = book.moment(lot)
    for entry in book.known(lot):
        if Outing.of(entry) != market:
            continue
        if entry.kind == Movement.Kind.OUT:
            first = first if left else entry.occurred_at
            last = entry.occurred_at
            left += entry.amount
        elif entry.kind in (Movement.Kind.BACK, Movement.Kind.SETTLED):
            left -= entry.amount
    return first, last


def _day_of(book: Book, outlet: Outlet, loaded_at: datetime) -> date:
    """Return the day a market was held: its first after it was loaded, else that day itself."""
    loaded = book.act.local_day(loaded_at)
    first = outlet.first_on(loaded)
    return first if first and first <= book.act.today else loaded


def _closings(book: Book, outlet: Outlet, day: date) -> Iterator[datetime]:
    """Yield when a market was closed before: what had come back by then counts in that closing."""
    closed = MarketDay.objects.standing().filter(outlet=outlet)
    before = closed.filter(Q(day=day) | Q(action__occurred_at__lte=book.act.happened_at))
    last = before.aggregate(last=Max("action__occurred_at"))["last"]
    if last is not None:
        yield last


def _brought_back(book: Book, outlet: Outlet, since: datetime) -> Iterator[tuple[CropKey, Decimal]]:
    """Yield what came back from a market before it was closed."""
    back = Movement.objects.filter(
        kind=Movement.Kind.BACK, purpose=Movement.Purpose.MARKET, outlet=outlet,
        occurred_at__gte=since, occurred_at__lte=book.act.happened_at, undone_by__isnull=True,
    ).exclude(action__kind=Action.Kind.SETTLE)  # fmt: skip
    for crop, unit, amount in back.values_list("lot__crop_id", "lot__unit", "amount"):
        yield (crop, unit), amount


def _sales(
    settled: list[tuple[Lot, Settling]],
    brought_back: Iterable[tuple[CropKey, Decimal]],
    earlier: MarketDay | None,
) -> list[MarketSale]:
    """Return what became of each crop: of what is settled, came back before, or was closed."""
    found: dict[CropKey, dict[str, Decimal]] = defaultdict(lambda: dict.fromkeys(_FIGURES, _ZERO))
    said: dict[CropKey, str] = {}
    for sale in earlier.sales.all() if earlier else ():
        said[sale.crop_id, sale.unit] = sale.sold_out
        for name in _FIGURES:
            found[sale.crop_id, sale.unit][name] += getattr(sale, name)
    for key, amount in brought_back:
        found[key]["loaded"] += amount
        found[key]["back"] += amount
    for lot, row in settled:
        figures = {"loaded": row.out, **{name: getattr(row, name) for name in _FIGURES[1:]}}
        for name, amount in figures.items():
            found[lot.crop_id, lot.unit][name] += amount
    return [
        MarketSale(crop_id=crop, unit=unit, sold_out=said.get((crop, unit), ""), **figures)
        for (crop, unit), figures in found.items()
    ]


def hold_market_of(action: Action) -> None:
    """Let nobody close the market anew that an action closed while that is taken back."""
    Outlet.objects.select_for_update(no_key=True).filter(market_days__action=action).first()


def take_back_market_day(action: Action) -> None:
    """Let the day of a closing that is taken back count no more, but what it stood for."""
    day = MarketDay.objects.standing().filter(action=action).first()
    if day is None:
        return
    day.stands = False
    day.save(update_fields=["stands"])
    others = MarketDay.objects.filter(outlet=day.outlet, day=day.day).exclude(pk=day.pk)
    earlier = others.filter(action__undone_by__isnull=True).last()
    if earlier is not None:
        earlier.stands = True
        earlier.save(update_fields=["stands"])
