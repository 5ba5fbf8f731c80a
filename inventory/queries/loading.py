"""What to load for a market day: what is promised there, what must move, and the rest by rule."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal
from statistics import median_low

from django.db.models import F

from inventory.learning.demand import (
    Asked,
    Known,
    SoldOut,
    TooFew,
    Weather,
    asked_for,
    demand,
)
from inventory.ledger.outings import AtMarket, read_at_market
from inventory.models import (
    Crop,
    Farm,
    MarketHabit,
    MarketSale,
    OrderLine,
    Outlet,
    Source,
    StandingLine,
    Take,
)
from inventory.queries.book import BookPlan, Planned, plan_book
from inventory.queries.crates import Crate
from inventory.queries.intakes import LastTime, last_times
from inventory.rotation import Worklist
from inventory.rotation.fit import WAS_OUT
from inventory.rotation.loading import (
    Buyer,
    Load,
    Rather,
    Stock,
    Worth,
    plan_load,
    ratio_of,
    worth_with,
)

ZERO = Decimal(0)
# Market days further back tell of other seasons, and who ordered so long ago may not again. Ours.
LOOK_BACK = timedelta(days=400)
BUYS_STILL = timedelta(days=60)
# How long what comes back stood out, when nobody measured. Common practice, no source.
STALL_H = 6.0

CropUnit = tuple[int, str]


@dataclass(frozen=True)
class Own:
    """What a person says for this load. crates: how many; at_home: what one kept is worth."""

    crates: int | None = None
    at_home: Decimal | None = None


@dataclass(frozen=True)
class Question:
    """What a load is worked out for. own: what a person says, by crop and unit."""

    outlet: Outlet
    day: date
    weather: Weather = Weather.USUAL
    rather: Rather = Rather.EVEN
    own: Mapping[CropUnit, Own] = field(default_factory=dict)


@dataclass(frozen=True)
class ToLoad:
    """One crop to be loaded, in one unit. promised: what this market's own orders lack, which
    for_orders fills; load: what goes beside that in all; loaded: crates of it that are out there
    already; crates: the rest, in the order to take them. as_usual: of days like the one ahead too
    few were closed, so that usual ones were asked.

    load is None where nobody knows what a crate of it holds.
    """

    crop: Crop
    unit: str
    own: Own
    promised: Decimal = ZERO
    for_orders: tuple[Planned, ...] = ()
    stock: Stock | None = None
    load: Load | None = None
    crates: tuple[Crate, ...] = ()
    loaded: int = 0
    as_usual: bool = False

    @property
    def key(self) -> str:
        return f"{self.crop.pk}-{self.unit}"

    @property
    def quantity(self) -> Decimal:
        """What is in the crates that are to go by the load."""
        return sum((crate.lot.quantity for crate in self.crates), ZERO)

    @property
    def codes(self) -> list[Crate]:
        """All crates to be fetched, for orders too, in the order one walks the shelves."""
        both = {crate.code: crate for crate in self.crates}
        both |= {take.crate.code: take.crate for take in self.for_orders}
        return sorted(both.values(), key=_walk)

    @property
    def number(self) -> int:
        """How many crates to put on the van, those for orders among them."""
        ordered = {take.crate.code for take in self.for_orders}
        return len(ordered) + self.still_to_go

    @property
    def still_to_go(self) -> int:
        """How many crates of the load are not out there yet."""
        return max(self.load.crates - self.loaded, 0) if self.load else 0


@dataclass(frozen=True)
class Loading:
    """What to load for one market day."""

    asked: Question
    rows: tuple[ToLoad, ...]

    @property
    def number(self) -> int:
        return sum(row.number for row in self.rows)


def markets() -> list[Outlet]:
    return list(Outlet.objects.filter(kind=Outlet.Kind.MARKET, in_use=True))


def next_market(outlet: Outlet, today: date) -> date:
    """Return the day the next load is for: today while today is one, tomorrow where none is set."""
    return outlet.next_delivery(today - timedelta(days=1)) or today + timedelta(days=1)


def read_loading(farm: Farm, at: datetime, asked: Question) -> Loading:
    """Return what to load, crop by crop: whole crates that nobody else is promised."""
    plan = plan_book(farm, at)
    outlet = asked.outlet
    free = _free(plan, asked)
    ordered = _ordered(plan, asked)
    habits = {(row.crop_id, row.unit): row for row in _habits(outlet)}
    sold = _sold(asked, plan.today)
    loaded = _loaded(asked)
    crops = _crops(free, ordered, loaded, habits.values())
    buyers = _Buyers(asked, crops, plan.today)
    none_here = {crop for crop, _unit in crops.keys() - free.keys() - loaded.keys()}
    last = last_times(none_here, Source.Kind.BLOCK)
    rows = [
        _Row(
            asked,
            key,
            crop,
            free.get(key, []),
            loaded.get(key, []),
            habits.get(key),
            buyers,
            last.get(key[0]),
        ).told(sold[key], *ordered.get(key, (ZERO, [])))
        for key, crop in crops.items()
    ]
    rows.sort(key=lambda row: (row.crop.shown_name.lower(), row.unit))
    return Loading(asked, tuple(row for row in rows if row.load or row.promised))


def _free(plan: BookPlan, asked: Question) -> dict[CropUnit, list[Crate]]:
    """Return the crates this market takes, whole and promised to nobody: must moves first."""
    outlet, found = asked.outlet, defaultdict(list)
    hours = float(outlet.way_hours)
    for crate in plan.crates:
        keeps = crate.days_on_arrival(asked.day, outlet.fridge, hours).days
        if (
            plan.free[crate.code] == crate.lot.quantity
            and keeps >= 0
            and not crate.tags & outlet.refused_tags
        ):
            found[crate.lot.crop_id, crate.lot.unit].append(crate)
    return {
        key: sorted(crates, key=lambda one: not _must_move(one)) for key, crates in found.items()
    }


def _must_move(crate: Crate) -> bool:
    return crate.verdict.worklist == Worklist.SELL_FIRST


def _walk(crate: Crate) -> tuple[int, str]:
    return (crate.lot.position.walk if crate.lot.position else 0, crate.code)


def _ordered(plan: BookPlan, asked: Question) -> dict[CropUnit, tuple[Decimal, list[Planned]]]:
    """Return what this market's own orders of the day lack, and the crates planned for them."""
    keys = {
        order.id
        for order in plan.orders
        if order.outlet.pk == asked.outlet.pk and order.due == asked.day
    }
    lines = [line for order in plan.orders if order.id in keys for line in order.lines]
    takes = [take for take in plan.takes if take.order.id in keys]
    found: dict[CropUnit, tuple[Decimal, list[Planned]]] = {}
    for line in lines:
        if line.lacking:
            key = line.crop.pk, line.unit
            before, planned = found.get(key, (ZERO, []))
            mine = [take for take in takes if take.line.id == line.id]
            found[key] = before + line.lacking, [*planned, *mine]
    return found


def _loaded(asked: Question) -> dict[CropUnit, list[AtMarket]]:
    """Return what is out at this market by now, but for what was taken for its orders."""
    out = [row for row in read_at_market() if row.outing.outlet_id == asked.outlet.pk]
    takes = Take.objects.standing().filter(
        lot__in=[row.lot.pk for row in out], line__order__outlet=asked.outlet
    )
    of_orders = set(takes.values_list("lot", flat=True)) if out else set()
    found: dict[CropUnit, list[AtMarket]] = defaultdict(list)
    for row in out:
        if row.lot.pk not in of_orders:
            found[row.lot.crop_id, row.lot.unit].append(row)
    return found


def _habits(outlet: Outlet) -> list[MarketHabit]:
    return list(MarketHabit.objects.filter(outlet=outlet).select_related("crop"))


def _crops(
    free: Mapping[CropUnit, list[Crate]],
    ordered: Mapping[CropUnit, object],
    loaded: Mapping[CropUnit, Sequence[AtMarket]],
    habits: Iterable[MarketHabit],
) -> dict[CropUnit, Crop]:
    found = {key: crates[0].lot.crop for key, crates in free.items()}
    found |= {key: rows[0].lot.crop for key, rows in loaded.items()}
    found |= {(row.crop_id, row.unit): row.crop for row in habits}
    missing = {pk for pk, unit in ordered if (pk, unit) not in found}
    by_key = Crop.objects.in_bulk(missing) if missing else {}
    return found | {key: by_key[key[0]] for key in ordered if key not in found}


def _sold(asked: Question, today: date) -> dict[CropUnit, list[Asked]]:
    """Return what this market's closed days tell of what was asked for, the latest last."""
    rows = MarketSale.objects.filter(
        market_day__outlet=asked.outlet,
        market_day__stands=True,
        market_day__day__gt=today - LOOK_BACK,
    )
    found: dict[CropUnit, list[Asked]] = defaultdict(list)
    fields = ("crop", "unit", "sold", "back", "sold_out", "market_day__weather")
    for crop, unit, sold, back, said, weather in rows.order_by("market_day__day").values_list(
        *fields
    ):
        found[crop, unit].append(
            asked_for(float(sold), float(back), SoldOut(said), Weather(weather))
        )
    return found


class _Buyers:
    """Who else would take what is left after a market day, crop by crop."""

    def __init__(self, asked: Question, crops: Collection[CropUnit], today: date):
        self._asked = asked
        self._outlets = {row.pk: row for row in Outlet.objects.filter(in_use=True)}
        self._of = _who_buys({crop for crop, _unit in crops}, today)

    def of(self, crate: Crate, stall_h: float, tags: Collection[str]) -> Iterator[Buyer]:
        """Yield who takes such a crop, with the days a crate of it would keep there.

        stall_h: hours out of the cold before; tags: what a buyer may refuse about it then.
        """
        crop = crate.lot.crop
        price = crop.price if crate.lot.unit == crop.unit else None
        for key in self._of[crop.pk] & self._outlets.keys():
            outlet = self._outlets[key]
            if outlet.refused_tags & frozenset(tags):
                continue
            due = self._comes(outlet)
            if due is None:
                yield Buyer(keeps=0, wants=0, price=None)  # some day, so for a price nobody knows
            else:
                hours = float(outlet.way_hours) + stall_h
                keeps = crate.days_on_arrival(due, outlet.fridge, hours).days
                yield Buyer(keeps, outlet.days_wanted(due), price)

    def _comes(self, outlet: Outlet) -> date | None:
        """Return when it takes something after the market day; the market itself in a week."""
        again = self._asked.day + timedelta(days=7) if outlet == self._asked.outlet else None
        return outlet.next_delivery(self._asked.day) or again


def _who_buys(crops: Collection[int], today: date) -> dict[int, set[int]]:
    """Return who ordered each crop of late, has it every week, or sells it at a market."""
    since = today - BUYS_STILL
    # The sum and no order keep a database from walking through all lines these crops ever had.
    ordered = OrderLine.objects.alias(of=F("crop_id") + 0).order_by()
    sold = MarketSale.objects.alias(of=F("crop_id") + 0).order_by()
    pairs = [
        *ordered.filter(of__in=crops, order__due__gte=since).values_list("crop", "order__outlet"),
        *StandingLine.objects.filter(crop__in=crops)
        .exclude(standing__ends__lte=today)
        .values_list("crop", "standing__outlet"),
        *sold.filter(of__in=crops, market_day__day__gte=since).values_list(
            "crop", "market_day__outlet"
        ),
    ]
    found: dict[int, set[int]] = defaultdict(set)
    for crop, outlet in pairs:
        found[crop].add(outlet)
    return found


@dataclass(frozen=True)
class _Row:
    """One crop of the load, being worked out."""

    asked: Question
    key: CropUnit
    crop: Crop
    free: Sequence[Crate]
    loaded: Sequence[AtMarket]
    habit: MarketHabit | None
    buyers: _Buyers
    last: LastTime | None  # how it was brought in, where none is here

    def told(self, sold: Sequence[Asked], promised: Decimal, planned: Sequence[Planned]) -> ToLoad:
        own = self.asked.own.get(self.key, Own())
        stock = self._stock()
        known, as_usual = self._known(sold)
        load = self._load(known, stock, own) if stock else None
        left = max(load.crates - len(self.loaded), 0) if load else 0
        return ToLoad(
            crop=self.crop,
            unit=self.key[1],
            own=own,
            promised=promised,
            for_orders=tuple(planned),
            stock=stock,
            load=load,
            crates=tuple(self.free[:left]),
            loaded=len(self.loaded),
            as_usual=as_usual,
        )

    def _known(self, sold: Sequence[Asked]) -> tuple[Known, bool]:
        """Return what is asked for on such a day; of too few such, on a usual one, said so."""
        usually = self.habit.usually_sells if self.habit else None
        usual = None if usually is None else float(usually)
        known = demand(sold, usual, self.asked.weather)
        if isinstance(known, TooFew) and self.asked.weather != Weather.USUAL:
            return demand(sold, usual, Weather.USUAL), True
        return known, False

    def _load(self, known: Known, stock: Stock, own: Own) -> Load:
        least = self.habit.least_on_table if self.habit else None
        ratio = ratio_of(self._worth(own), self.asked.rather)
        return plan_load(known, ratio, stock, float(least or 0), own.crates)

    def _stock(self) -> Stock | None:
        there = [crate.lot.quantity for crate in self.free] + [row.amount for row in self.loaded]
        if there:
            must_move = sum(map(_must_move, self.free))
            return Stock(median_low(there), len(there), must_move)
        last = self.last
        known = last is not None and last.unit == self.key[1] and last.quantity > 0
        return Stock(last.quantity, crates=0) if last and known else None

    def _worth(self, own: Own) -> Worth:
        """Return what one is worth, by the crate in the middle of what is here.

        A farm keeps one price of a crop, so what one is worth at home nobody knows but a person;
        only that it is worth nothing where nobody comes before it is past. After a day at the
        stall it is worth no more than if it had stayed.
        """
        price = self.crop.price if self.key[1] == self.crop.unit else None
        if not self.free:
            return Worth(price, own.at_home, None)
        crate = self.free[len(self.free) // 2]
        kept = worth_with(self.buyers.of(crate, 0.0, crate.tags))
        back = worth_with(self.buyers.of(crate, STALL_H, crate.tags | {WAS_OUT}))
        at_home = own.at_home if own.at_home is not None else (ZERO if kept == 0 else None)
        after = back if back is None or at_home is None else min(back, at_home)
        return Worth(price, at_home, after)
