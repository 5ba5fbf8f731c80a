"""The order book: what every buyer wants and by when, and the plan that fills it.

The plan is made anew each time it is read, so it is never stale. Stored are what was taken,
what was not found, and which crates somebody is on the way to.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import cached_property
from uuid import UUID, uuid5

from django.db.models import F, Prefetch, Q, QuerySet

from inventory.lives.logs import every_room
from inventory.models import (
    Crop,
    Farm,
    Intake,
    Lease,
    Lot,
    NotThere,
    Order,
    OrderLine,
    Outlet,
    StandingLine,
    StandingOrder,
    Take,
)
from inventory.queries.crates import HERE, Crate, crates_here, share, with_life
from inventory.rotation import PullLine, PullLot, Short, plan_pulls

STANDING_DAYS = 14  # how far ahead an order that repeats stands in the book
# For so long a day of one that nobody touched is asked about: a Friday's until Monday.
LATE_DAYS = 3
CASE = "case"
_OPEN = Q(closed_at=None, cancelled_at=None)
_MAY_GO = Q(state=Lot.State.IN_PLACE, held=False)
# Questions put together once, for they are asked by every scan: each use narrows or copies them.
_OPEN_LINES = (
    OrderLine.objects.filter(order__closed_at=None, order__cancelled_at=None)
    # By the crop's own index a database would walk through all lines it ever had.
    .alias(of_crop=F("crop_id") + 0)
    .select_related("crop", "order__outlet")
)
_LINES = OrderLine.objects.select_related("crop")
_TAKES = Take.objects.standing().values_list("line_id", "quantity").order_by()
_IN_STANDING = StandingLine.objects.select_related("crop")
_REPEATING = StandingLine.objects.values_list("standing_id", flat=True).order_by()
_GOING_ON = StandingOrder.objects.filter(outlet__in_use=True).select_related("outlet")
_OWN_PARTS = "position", "container"
_CRATES = Lot.objects.select_related("crop", *_OWN_PARTS)
_BESIDE = Lot.objects.filter(_MAY_GO).select_related(*_OWN_PARTS)
_INTAKES = Intake.objects.select_related("source")
_LEASES = Lease.objects.order_by("pk").values_list(
    "line_id", "lot_id", "quantity", "person_id", "until"
)
_LOST = (
    NotThere.objects.standing()
    .filter(lot__state__in=HERE)
    .values_list("lot_id", flat=True)
    .order_by()
)


@dataclass(frozen=True)
class Wanted:
    """How much of a crop is wanted, in the crates' own unit; asked: how it was said, if not so."""

    crop: Crop
    unit: str
    quantity: Decimal
    asked: str = ""


@dataclass(frozen=True)
class BookLine:
    """What an order wants of one crop. taken: of it so far. key: of its row, None before it has
    one. asked: how it was said, where that was otherwise. told: what the buyer knows will lack."""

    order: UUID
    crop: Crop
    unit: str
    quantity: Decimal
    taken: Decimal = Decimal(0)
    key: int | None = None
    asked: str = ""
    told: Decimal = Decimal(0)

    @cached_property
    def id(self) -> str:
        return f"{self.order}:{self.crop.pk}:{self.unit}"

    @property
    def crop_id(self) -> int:
        return self.crop.pk

    @property
    def lacking(self) -> Decimal:
        return max(self.quantity - self.taken, Decimal(0))


@dataclass(frozen=True)
class BookOrder:
    """An order in the book. row: its own. day_of: the order that repeats of which this is a day
    that nobody touched, so that it has no row."""

    id: UUID
    outlet: Outlet
    due: date
    said_at: datetime
    lines: tuple[BookLine, ...]
    row: Order | None = None
    day_of: StandingOrder | None = None

    @property
    def standing(self) -> StandingOrder | None:
        """The order that repeats of which this is one day. May ask the database."""
        return self.row.standing if self.row else self.day_of

    @property
    def is_open(self) -> bool:
        return self.row is None or self.row.is_open

    @property
    def is_begun(self) -> bool:
        """Whether something is taken for it already."""
        return any(line.taken for line in self.lines)

    @property
    def cut_off(self) -> date | None:
        """The last day on which it may be changed by the buyer, where they have one."""
        return self.outlet.cut_off(self.due)

    @property
    def is_cancelled(self) -> bool:
        return self.row is not None and self.row.cancelled_at is not None

    @property
    def repeats(self) -> bool:
        """Whether it comes again the week after."""
        standing = self.standing
        return standing is not None and standing.goes_on_after(self.due)


def day_of(standing: StandingOrder, due: date) -> UUID:
    """Return the id of one day of an order that repeats, whether it has a row yet or not."""
    return uuid5(standing.pk, due.isoformat())


def read_book(farm: Farm, at: datetime, crops: Collection[int] | None = None) -> list[BookOrder]:
    """Return every open order, and those that repeat on each of their days, by due date.

    crops: only those that want one of these, with their lines of these alone.
    """
    orders = read_orders(Order.objects.filter(_OPEN)) if crops is None else _wanting(crops)
    return _by_day([*orders, *_repeating(at.astimezone(farm.zone).date(), crops)])


def read_book_and_gone(
    farm: Farm, at: datetime, since: datetime
) -> tuple[list[BookOrder], list[BookOrder]]:
    """Return what read_book does of all crops, and the orders that went out since a moment."""
    read = read_orders(Order.objects.filter(_OPEN | Q(closed_at__gt=since)))
    book = [order for order in read if order.is_open]
    gone = [order for order in read if not order.is_open]
    return _by_day([*book, *_repeating(at.astimezone(farm.zone).date())]), gone


def _by_day(orders: Iterable[BookOrder]) -> list[BookOrder]:
    return sorted(orders, key=lambda order: (order.due, order.said_at, str(order.id)))


def read_orders(found: QuerySet[Order]) -> list[BookOrder]:
    """Return these orders with their lines, and what was taken for each."""
    # Sorted here: by the day a database would walk through all orders there ever were.
    unsorted = found.select_related("standing", "outlet").order_by()
    rows = sorted(unsorted, key=lambda row: (row.due, row.said_at))
    return _with_lines(rows, _LINES.filter(order__in=rows))


def _wanting(crops: Collection[int]) -> list[BookOrder]:
    """Return the open orders with lines of these crops, and those lines alone."""
    lines = list(_OPEN_LINES.filter(of_crop__in=crops))
    return _with_lines({line.order_id: line.order for line in lines}.values(), lines)


def _with_lines(rows: Iterable[Order], lines: Collection[OrderLine]) -> list[BookOrder]:
    of_rows: dict[UUID, list[OrderLine]] = defaultdict(list)
    for line in lines:
        of_rows[line.order_id].append(line)
    taken = _taken(lines) if of_rows else {}
    return [
        BookOrder(
            id=row.pk,
            outlet=row.outlet,
            due=row.due,
            said_at=row.said_at,
            lines=tuple(
                BookLine(
                    row.pk, line.crop, line.unit, line.quantity, taken.get(line.pk, Decimal(0)),
                    line.pk, line.asked, line.told,
                )
                for line in of_rows[row.pk]
            ),
            row=row,
        )
        for row in rows
    ]  # fmt: skip


def _taken(lines: Collection[OrderLine]) -> dict[int, Decimal]:
    """Return how much was taken so far, by line, for those that anything was taken for."""
    taken: dict[int, Decimal] = defaultdict(Decimal)
    for line, quantity in _TAKES.filter(line__in=lines):
        taken[line] += quantity
    return taken


def _repeating(today: date, crops: Collection[int] | None = None) -> list[BookOrder]:
    """Return the days of orders that repeat that have no row of their own: those ahead, and those
    just past, of which nobody has said what became of them. crops: see read_book.
    """
    first, last = today - timedelta(days=LATE_DAYS), today + timedelta(days=STANDING_DAYS)
    going_on, lines = _GOING_ON, _IN_STANDING.all()
    if crops is not None:
        repeating = set(_REPEATING.filter(crop__in=crops))
        if not repeating:  # most crops are in no order that repeats
            return []
        going_on, lines = going_on.filter(pk__in=repeating), lines.filter(crop__in=crops)
    going_on = going_on.filter(starts__lte=last).exclude(ends__lte=first)
    days = {
        day_of(standing, due): (standing, due)
        for standing in going_on.prefetch_related(Prefetch("lines", lines))
        for due in standing.days(first, last)
    }
    if not days:
        return []
    known = set(Order.objects.filter(pk__in=days).values_list("pk", flat=True))
    return [_one_day(standing, due) for key, (standing, due) in days.items() if key not in known]


def _one_day(standing: StandingOrder, due: date) -> BookOrder:
    key = day_of(standing, due)
    lines = tuple(
        BookLine(key, line.crop, line.unit, line.quantity, asked=line.asked)
        for line in standing.lines.all()
    )
    return BookOrder(key, standing.outlet, due, standing.said_at, lines, day_of=standing)


def find_order(key: UUID, farm: Farm, at: datetime) -> BookOrder | None:
    """Return an order by its id, whatever became of it."""
    rows = read_orders(Order.objects.filter(pk=key))
    if rows:
        return rows[0]
    today = at.astimezone(farm.zone).date()
    return next((order for order in _repeating(today) if order.id == key), None)


@dataclass(frozen=True)
class Planned:
    """A crate, or part of it, that the plan sends to a line. whose: who is on the way to it."""

    order: BookOrder
    line: BookLine
    crate: Crate
    quantity: Decimal
    whose: int | None = None

    @property
    def outlet(self) -> Outlet:
        return self.order.outlet

    @property
    def due(self) -> date:
        return self.order.due

    @property
    def walk(self) -> tuple[int, str]:
        position = self.crate.lot.position
        return (position.walk if position else 0, self.crate.code)

    @property
    def is_all(self) -> bool:
        return self.quantity >= self.crate.lot.quantity

    @property
    def left(self) -> Decimal:
        """What stays in the crate."""
        return self.crate.lot.quantity - self.quantity


@dataclass(frozen=True)
class BookPlan:
    """Which crates go to which lines of the book, and what will lack. crates: all that may go,
    oldest first; free: how much of each is planned for nobody. lost: those that would, but that
    nobody found; not_found: the codes of all that nobody found."""

    today: date
    orders: tuple[BookOrder, ...]
    takes: tuple[Planned, ...]
    shorts: dict[str, Short]
    crates: tuple[Crate, ...]
    lost: tuple[Crate, ...] = ()
    not_found: frozenset[str] = frozenset()

    def of(self, order: UUID) -> list[Planned]:
        """Return what is to be fetched for one order, in the order one walks the shelves."""
        return sorted(
            (take for take in self.takes if take.line.order == order), key=lambda take: take.walk
        )

    def of_crate(self, code: str) -> list[Planned]:
        return [take for take in self.takes if take.crate.code == code]

    @cached_property
    def free(self) -> dict[str, Decimal]:
        left = {crate.code: crate.lot.quantity for crate in self.crates}
        for take in self.takes:
            left[take.crate.code] -= take.quantity
        return left


def plan_book(
    farm: Farm,
    at: datetime,
    crops: Collection[int] | None = None,
    here: Collection[Crate] | None = None,
    book: list[BookOrder] | None = None,
) -> BookPlan:
    """Return the plan of the whole book, or of these crops: others never change it.

    here, book: all crates of them in the house, and the orders, where they are read already.
    May go are crates in place, not held, not on the discard list, not only kept by a look, and
    not looked for in vain since they were last seen.
    """
    orders = read_book(farm, at, crops) if book is None else book
    lines = [line for order in orders for line in order.lines if _is_of(line, crops)]
    fit = fit_crates(farm, at, crops) if here is None else [crate for crate in here if crate.is_fit]
    codes = lost_crates()
    crates = [crate for crate in fit if crate.code not in codes]
    fixed = _leased(orders, lines, crates, at)
    today = at.astimezone(farm.zone).date()
    plan = _Planner(orders, lines, crates, fixed, today).plan
    by_id, by_code = {line.id: line for line in lines}, {crate.code: crate for crate in crates}
    of = {order.id: order for order in orders}
    made = [
        Planned(of[by_id[take.line].order], by_id[take.line], by_code[take.lot], take.quantity)
        for take in plan.takes
    ]
    return BookPlan(
        today=today,
        orders=tuple(orders),
        takes=(*fixed, *made),
        shorts={short.line: short for short in plan.shorts},
        crates=tuple(crates),
        lost=tuple(crate for crate in fit if crate.code in codes),
        not_found=codes,
    )


def _is_of(line: BookLine, crops: Collection[int] | None) -> bool:
    return crops is None or line.crop.pk in crops


def crate_beside(code: str, farm: Farm, at: datetime) -> tuple[Crate, list[Crate]] | None:
    """Return a crate, whatever its state, and all of its crop that a plan may count on."""
    crop = Crop.objects.filter(lots=code).first()
    if crop is None:
        return None
    rows = Lot.objects.filter(Q(pk=code) | _may_go({crop.pk})).select_related(*_OWN_PARTS)
    found = with_life(_of_crops(rows, {crop}), farm, at)
    fit = sorted((crate for crate in found if crate.is_fit), key=lambda crate: crate.key)
    return next(crate for crate in found if crate.code == code), fit


def planned_of(crates: Iterable[Crate], farm: Farm, at: datetime) -> dict[str, list[Planned]]:
    """Return which orders the plan sends some crates to, by their codes.

    The plan is only made where one of them may go to an order at all, or somebody is on the way
    to it: else those beside it need not be read.
    """
    crates = list(crates)
    fit = [crate for crate in crates if crate.is_fit]
    crops = {crate.lot.crop_id for crate in fit}
    book = read_book(farm, at, crops) if crops else []
    if not _may_be_planned(fit, book, at):
        return {crate.code: [] for crate in crates}
    plan = plan_book(farm, at, crops, here=fit_with(fit, farm, at), book=book)
    return {crate.code: plan.of_crate(crate.code) for crate in crates}


def crate_and_planned(code: str, farm: Farm, at: datetime) -> tuple[Crate, list[Planned]] | None:
    """Return a crate, whatever its state, and which orders the plan sends it to.

    Those beside it are read along with it, and only where an order lacks what is in it.
    """
    lot = next(iter(_CRATES.filter(pk=code)), None)
    if lot is None:
        return None
    crops = {lot.crop_id}
    book = read_book(farm, at, crops) if lot.state == Lot.State.IN_PLACE and not lot.held else []
    lacking = _lacking(lot, book)
    beside = _BESIDE.filter(crop__in=crops) if lacking else ()
    lots = _of_crops([lot, *(one for one in beside if one.pk != code)], {lot.crop})
    share([lot.position] if lot.position else [], room=every_room())
    crate, *here = with_life(lots, farm, at)
    if not (lacking and crate.is_fit and _may_be_planned([crate], book, at)):
        return crate, []
    here = sorted((one for one in (crate, *here) if one.is_fit), key=lambda one: one.key)
    return crate, plan_book(farm, at, crops, here=here, book=book).of_crate(code)


def _may_be_planned(fit: list[Crate], book: list[BookOrder], at: datetime) -> bool:
    """Return whether an order may get one of these crates, or somebody is on the way to one."""
    return any(_is_wanted(crate, book) for crate in fit) or _is_fetched(fit, book, at)


def _lacking(lot: Lot, book: list[BookOrder]) -> list[BookOrder]:
    """Return the orders that lack what is in a crate."""
    kind = lot.crop_id, lot.unit
    return [
        order
        for order in book
        if any(line.lacking and (line.crop_id, line.unit) == kind for line in order.lines)
    ]


def _is_wanted(crate: Crate, book: list[BookOrder]) -> bool:
    """Return whether any order lacks what is in a crate, and its buyer would take this one."""
    return any(suits(crate, order.outlet, order.due) for order in _lacking(crate.lot, book))


def _is_fetched(crates: list[Crate], book: list[BookOrder], at: datetime) -> bool:
    """Return whether somebody is on the way to one of these crates."""
    if not book:
        return False
    codes = [crate.code for crate in crates]
    return Lease.objects.filter(lot__in=codes, until__gt=at).exists()


def suits(crate: Crate, outlet: Outlet, due: date) -> bool:
    """Return whether a buyer refuses nothing of a crate that still keeps long enough there."""
    if crate.tags & outlet.refused_tags:
        return False
    keeps = crate.days_on_arrival(due, outlet.fridge, float(outlet.way_hours)).days
    return keeps >= outlet.days_wanted(due)


def fit_crates(farm: Farm, at: datetime, crops: Collection[int] | None) -> list[Crate]:
    """Return the crates that a plan may count on, of these crops, oldest first."""
    return [crate for crate in crates_here(farm, at, _may_go(crops)) if crate.is_fit]


def fit_with(crates: Collection[Crate], farm: Farm, at: datetime) -> list[Crate]:
    """Return the fit ones of some crates that are read, and all others of their crops."""
    read, crops = {crate.code for crate in crates}, {crate.lot.crop for crate in crates}
    rows = _BESIDE.filter(crop__in={crop.pk for crop in crops}).exclude(pk__in=read)
    others = with_life(_of_crops(rows, crops), farm, at)
    fit = (crate for crate in (*crates, *others) if crate.is_fit)
    return sorted(fit, key=lambda crate: crate.key)


def _of_crops(rows: Iterable[Lot], crops: Iterable[Crop]) -> list[Lot]:
    """Return crates of these crops, which they share as they do their harvests and deliveries.

    A room is read where one is named.
    """
    lots = list(rows)
    keys = {lot.intake_id for lot in lots if lot.intake_id}
    intakes = {intake.pk: intake for intake in _INTAKES.filter(pk__in=keys)} if keys else {}
    share(lots, crop={crop.pk: crop for crop in crops}, intake=intakes)
    return lots


def _may_go(crops: Collection[int] | None) -> Q:
    """Return the condition of crates that a plan looks at."""
    return _MAY_GO if crops is None else _MAY_GO & Q(crop__in=crops)


def lost_crates() -> frozenset[str]:
    """Return the codes of crates that were looked for in vain and not seen since."""
    return frozenset(_LOST.all())


def _leased(
    orders: list[BookOrder], lines: list[BookLine], crates: list[Crate], at: datetime
) -> list[Planned]:
    """Return the crates somebody is on the way to, as far as their lines still lack them."""
    of = {order.id: order for order in orders}
    by_key = {line.key: line for line in lines if line.key is not None}
    by_code = {crate.code: crate for crate in crates}
    left = {crate.code: crate.lot.quantity for crate in crates}
    lacking = {line.id: line.lacking for line in lines}
    found = []
    for key, code, quantity, person, until in _LEASES.filter(line__in=by_key):
        line = by_key[key]
        amount = min(quantity, left.get(code, Decimal(0)), lacking[line.id])
        if until > at and amount > 0:
            left[code] -= amount
            lacking[line.id] -= amount
            found.append(Planned(of[line.order], line, by_code[code], amount, person))
    return found


class _Planner:
    """Puts crates and lines as the plan's plain values, less what is fixed already."""

    def __init__(
        self,
        orders: list[BookOrder],
        lines: list[BookLine],
        crates: list[Crate],
        fixed: list[Planned],
        today: date,
    ):
        self._orders = {order.id: order for order in orders}
        self._today = today
        self._ways: dict[str, dict[str, tuple]] = defaultdict(dict)
        self._days: dict[tuple, dict[str, int]] = {}
        self._gone: dict[str, Decimal] = defaultdict(Decimal)
        self._got: dict[str, Decimal] = defaultdict(Decimal)
        for take in fixed:
            self._gone[take.crate.code] += take.quantity
            self._got[take.line.id] += take.quantity
        lacking = [line for line in lines if line.lacking > self._got[line.id]]
        for line in lacking:
            self._ways[_crop_key(line.crop.pk, line.unit)][line.id] = self._way(line)
        wanted = [
            crate for crate in crates if _crop_key(crate.lot.crop_id, crate.lot.unit) in self._ways
        ]
        ranks = _ranks(wanted)
        lots = [self._lot(crate, ranks[crate.code]) for crate in wanted]
        self.plan = plan_pulls(
            [lot for lot in lots if lot.quantity > 0], [self._line(line) for line in lacking]
        )

    def _lot(self, crate: Crate, rank: int) -> PullLot:
        lot, gone = crate.lot, self._gone[crate.code]
        position, columns = lot.position, vars(lot)
        key = _crop_key(columns["crop_id"], lot.unit)
        alike = crate.record, key
        if alike not in self._days:
            self._days[alike] = _days_on_arrival(crate, self._ways[key])
        return PullLot(
            code=crate.code,
            crop=key,
            quantity=lot.quantity - gone,
            days_left=self._days[alike],
            walk=position.walk if position else 0,
            tags=crate.tags,
            rank=rank,
            part=lot.is_part or gone > 0,
            life_days=crate.days_left,
            harvest=str(columns["intake_id"] or crate.code),
        )

    def _way(self, line: BookLine) -> tuple[date, float, float]:
        """Return when a line is due, in which fridge it keeps, and how long it is on the way."""
        order = self._orders[line.order]
        return order.due, order.outlet.fridge, float(order.outlet.way_hours)

    def _line(self, line: BookLine) -> PullLine:
        order = self._orders[line.order]
        outlet = order.outlet
        return PullLine(
            id=line.id,
            crop=_crop_key(line.crop.pk, line.unit),
            quantity=line.lacking - self._got[line.id],
            minimum_days=outlet.days_wanted(order.due),
            refused=outlet.refused_tags,
            firm=outlet.is_firm,
            due=(order.due - self._today).days,
            said=round(order.said_at.timestamp() * 1000),
            whole=outlet.whole_crates or line.asked.endswith(CASE),
            freshest=outlet.freshest,
            one_more=outlet.one_more,
        )


def _days_on_arrival(crate: Crate, ways: dict[str, tuple]) -> dict[str, int]:
    """Return how long a crate keeps with the buyer of each line. ways: see _Planner._way."""
    days = {way: crate.days_on_arrival(*way).days for way in set(ways.values())}
    return {line: days[way] for line, way in ways.items()}


def _ranks(crates: Iterable[Crate]) -> dict[str, int]:
    """Number crates in rotation order; crates of one harvest share a number."""
    ages = {crate.code: crate.key[:2] for crate in crates}
    numbers = {age: number for number, age in enumerate(sorted(set(ages.values())))}
    return {code: numbers[age] for code, age in ages.items()}


def _crop_key(crop_id: int, unit: str) -> str:
    return f"{crop_id}:{unit}"
