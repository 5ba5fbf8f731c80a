"""Orders as their pages show them: one of them, a day's, and what could still be promised."""

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from uuid import UUID

from django.db.models import F, OuterRef, Subquery

from inventory.ledger.outings import out_of_each
from inventory.models import Crop, Farm, Lot, NotThere, Order, OrderLine, Outlet, Take
from inventory.models.places import Position
from inventory.queries.book import (
    BookLine,
    BookOrder,
    BookPlan,
    Planned,
    find_order,
    plan_book,
    read_orders,
    suits,
)
from inventory.queries.crates import Crate
from inventory.rotation import Short

SOON = timedelta(days=1)
ASKED_FOR = timedelta(days=7)
LEAST_INSTEAD = 1  # of any unit: less is no offer


@dataclass(frozen=True)
class LineNow:
    """A line of an order: what of it is taken, to be fetched, and will lack.

    instead: what else of its kind this buyer could have.
    """

    line: BookLine
    to_fetch: Decimal
    lacks: Decimal
    short: Short | None = None
    instead: "Offer | None" = None

    @property
    def untold(self) -> Decimal:
        """How much the buyer does not know yet that it will lack."""
        return max(self.lacks - self.line.told, Decimal(0))


@dataclass(frozen=True)
class OrderNow:
    """An order with the plan for it.

    fetch: in the order one walks, without what somebody else is on the way to; others: that.
    """

    order: BookOrder
    lines: tuple[LineNow, ...]
    fetch: tuple[Planned, ...]
    others: tuple[Planned, ...] = ()

    @property
    def share_taken(self) -> float:
        """How much of the order is got, each line counting alike. [%]"""
        return self._percent(lambda line: line.line.taken)

    @property
    def share_covered(self) -> float:
        """How much is got or here to be fetched. [%]"""
        return self._percent(lambda line: line.line.taken + line.to_fetch)

    def _percent(self, much: Callable[[LineNow], Decimal]) -> float:
        lines = [line for line in self.lines if line.line.quantity]
        shares = (min(much(line) / line.line.quantity, Decimal(1)) for line in lines)
        return float(sum(shares, Decimal(0)) / len(lines) * 100) if lines else 0.0

    @property
    def got(self) -> int:
        """How many lines are wholly got."""
        return sum(1 for line in self.lines if not line.line.lacking)

    @property
    def lacking(self) -> list[LineNow]:
        """The lines that will lack something, or did when the order went out."""
        return [line for line in self.lines if line.lacks]

    @property
    def untold(self) -> list[LineNow]:
        return [line for line in self.lines if line.untold]

    @property
    def price(self) -> Decimal | None:
        """What all of it comes to at the farm's own prices; None where one of them is not set."""
        prices = [(line.line.quantity, _price_of(line.line)) for line in self.lines]
        if not prices or any(price is None for _quantity, price in prices):
            return None
        return sum((quantity * price for quantity, price in prices if price), Decimal(0))

    @property
    def is_begun(self) -> bool:
        return self.order.is_begun


def _price_of(line: BookLine) -> Decimal | None:
    return line.crop.price if line.unit == line.crop.unit else None


def order_now(order: BookOrder, plan: BookPlan, person: int | None = None) -> OrderNow:
    """Return an order as the plan has it, for one person who gets it."""
    takes = plan.of(order.id)
    planned: dict[str, Decimal] = defaultdict(Decimal)
    for take in takes:
        planned[take.line.id] += take.quantity
    return OrderNow(
        order=order,
        lines=tuple(
            _line_now(line, planned[line.id], plan.shorts.get(line.id))
            for line in order.lines
            if line.quantity or line.taken
        ),
        fetch=tuple(take for take in takes if take.whose in (None, person)),
        others=tuple(take for take in takes if take.whose not in (None, person)),
    )


def _line_now(line: BookLine, to_fetch: Decimal, short: Short | None) -> LineNow:
    return LineNow(line, to_fetch, short.quantity if short else Decimal(0), short)


def read_order(key: UUID, farm: Farm, at: datetime, person: int | None = None) -> OrderNow | None:
    """Return an order by its id with the plan for it; of one that is done what was taken."""
    order = find_order(key, farm, at)
    if order is None:
        return None
    if not order.is_open:
        return ended_order(order)
    now = order_now(order, plan_book(farm, at, {line.crop.pk for line in order.lines}), person)
    return _with_substitutes(now, plan_book(farm, at)) if now.lacking else now


def _with_substitutes(now: OrderNow, plan: BookPlan) -> OrderNow:
    """Return an order with what could go instead of what it lacks: most of the same group."""
    outlet, wanted = now.order.outlet, {line.line.crop.pk for line in now.lines}
    free = [
        offer
        for offer in free_for(plan, outlet, now.order.due)
        if offer.crop.pk not in wanted and offer.free >= LEAST_INSTEAD
    ]
    free.sort(key=lambda offer: offer.free, reverse=True)
    lines = [
        replace(line, instead=next((one for one in free if _alike(one.crop, line)), None))
        if line.lacks
        else line
        for line in now.lines
    ]
    return replace(now, lines=tuple(lines))


def _alike(crop: Crop, line: LineNow) -> bool:
    return crop.reference.group == line.line.crop.reference.group


def _as_it_ended(order: BookOrder, line: BookLine) -> LineNow:
    return LineNow(line, Decimal(0), Decimal(0) if order.is_cancelled else line.lacking)


@dataclass(frozen=True)
class Step:
    """One crate on the walk of an order: to be fetched, taken, or looked for in vain."""

    crop: Crop
    lot: Lot
    quantity: Decimal
    spot: Position | None
    planned: Planned | None = None
    taken: Take | None = None
    missing: NotThere | None = None

    @property
    def walk(self) -> tuple[int, str]:
        return (self.spot.walk if self.spot else 0, self.lot.pk)


def read_steps(now: OrderNow) -> list[Step]:
    """Return the crates of an order in the order one walks the shelves, taken ones too.

    Those taken or not found keep their place, so that no other slides under the thumb.
    """
    row = now.order.row
    steps = [
        Step(take.line.crop, take.crate.lot, take.quantity, take.crate.lot.position, planned=take)
        for take in now.fetch
    ]
    if row is not None:
        steps += [*_taken(row), *_missing(row)]
    return sorted(steps, key=lambda step: step.walk)


def _taken(row: Order) -> list[Step]:
    takes = Take.objects.standing().filter(line__order=row)
    found = takes.select_related("line__crop", "lot__position__room", "stood", "taken")
    return [
        Step(take.line.crop, take.lot, take.quantity, take.stood or take.lot.position, taken=take)
        for take in found
    ]


def _missing(row: Order) -> list[Step]:
    rows = NotThere.objects.standing().filter(line__order=row)
    found = rows.select_related("line__crop", "lot__position__room", "stood")
    return [
        Step(one.line.crop, one.lot, one.quantity, one.lot.position or one.stood, missing=one)
        for one in found
    ]


@dataclass(frozen=True)
class DayOfOrders:
    """The orders due on one day, those half got first, then by when they must be there.

    soon: what lacks may have to be told; later it may still be cut, or ripen.
    """

    due: date
    orders: tuple[OrderNow, ...]
    late: bool = False
    soon: bool = True


def read_days(farm: Farm, at: datetime, plan: BookPlan | None = None) -> list[DayOfOrders]:
    """Return every open order by its day, those that should have gone before first.

    plan: of the whole book, if made already.
    """
    plan = plan or plan_book(farm, at)
    today = at.astimezone(farm.zone).date()
    by_day: dict[date, list[OrderNow]] = defaultdict(list)
    for order in plan.orders:
        by_day[order.due].append(order_now(order, plan))
    return [
        DayOfOrders(
            due, tuple(sorted(orders, key=_half_got_first)), due < today, due <= today + SOON
        )
        for due, orders in sorted(by_day.items())
    ]


def _half_got_first(now: OrderNow) -> tuple:
    by_time = now.order.outlet.by_time
    at = by_time.isoformat() if by_time else "24"
    return (not now.is_begun, at, now.order.said_at, str(now.order.id))


def untold(plan: BookPlan, gone: Iterable[BookOrder]) -> list[OrderNow]:
    """Return the orders of which something will lack, or did, that their buyer does not know.

    Those due by tomorrow, as later ones may still be cut for. gone: those that went out lately.
    """
    soon = [order_now(order, plan) for order in due_soon(plan.orders, plan.today)]
    return [now for now in (*soon, *map(ended_order, gone)) if now.untold]


def due_soon(orders: Iterable[BookOrder], today: date) -> list[BookOrder]:
    """Return those of some orders that are due by tomorrow."""
    return [order for order in orders if order.due <= today + SOON]


def gone_untold(at: datetime) -> list[OrderNow]:
    """Return the orders that went out lately without what their buyer was not told of."""
    lately = read_orders(Order.objects.filter(closed_at__gt=at - ASKED_FOR))
    return [now for now in map(ended_order, lately) if now.untold]


def ended_order(order: BookOrder) -> OrderNow:
    return OrderNow(order, tuple(_as_it_ended(order, line) for line in order.lines), ())


@dataclass(frozen=True)
class Offer:
    """A crop in the house that could be asked for, and how much of it nobody is promised."""

    crop: Crop
    unit: str
    free: Decimal


def read_offers(farm: Farm, at: datetime) -> list[Offer]:
    """Return what may go and is planned for nobody, by crop and unit."""
    plan = plan_book(farm, at)
    return _offers(plan, plan.crates)


def free_for(plan: BookPlan, outlet: Outlet, due: date) -> list[Offer]:
    """Return what is planned for nobody and may go to a buyer on a day, by crop and unit."""
    free = (crate for crate in plan.crates if plan.free[crate.code] > 0)
    return _offers(plan, (crate for crate in free if suits(crate, outlet, due)))


def _offers(plan: BookPlan, crates: Iterable[Crate]) -> list[Offer]:
    free: dict[tuple[int, str], Decimal] = defaultdict(Decimal)
    crops: dict[int, Crop] = {}
    for crate in crates:
        free[crate.lot.crop_id, crate.lot.unit] += plan.free[crate.code]
        crops[crate.lot.crop_id] = crate.lot.crop
    offers = [
        Offer(crops[crop], unit, amount) for (crop, unit), amount in free.items() if amount > 0
    ]
    return sorted(offers, key=lambda offer: (offer.crop.shown_name.lower(), offer.unit))


def taken_of(row: Order) -> list[Take]:
    """Return what was taken for an order and not taken back, in the order it was taken."""
    takes = Take.objects.standing().filter(line__order=row)
    return list(takes.select_related("line__crop", "lot", "taken").order_by("pk"))


def usual_case(crop: Crop, unit: str) -> Decimal | None:
    """Return what a crate of a crop held when the latest was made, None where none ever was."""
    latest = Lot.objects.filter(crop=crop, unit=unit, intake__isnull=False).order_by("-pk")
    return latest.values_list("born_with", flat=True).first()


def last_order(outlet: Outlet) -> Order | None:
    """Return what a buyer last ordered, a start for the next."""
    rows = Order.objects.filter(outlet=outlet, cancelled_at=None)
    return rows.order_by("-said_at").first()


def buyers_to_ask() -> list[Outlet]:
    """Return the buyers one writes orders for, who ordered last first."""
    latest = Order.objects.filter(outlet=OuterRef("pk")).order_by("-said_at").values("said_at")
    outlets = Outlet.objects.filter(in_use=True).annotate(last=Subquery(latest[:1]))
    return list(outlets.order_by(F("last").desc(nulls_last=True), "name"))


def still_out_for(row: Order) -> list[Take]:
    """Return what was taken for an order and is neither back nor settled."""
    takes = taken_of(row)
    out = out_of_each(take.lot_id for take in takes)
    return [
        take
        for take in takes
        if any(outing.outlet_id == row.outlet_id for outing in out.get(take.lot_id, {}))
    ]


def lines_of(row: Order) -> list[OrderLine]:
    return list(row.lines.select_related("crop").filter(quantity__gt=0))
