"""The run: a day's stops in the order driven, what goes to each, what comes back."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from uuid import UUID

from inventory.models import Crop, Farm, Handover, Order, Outlet
from inventory.queries.book import plan_book, read_orders
from inventory.queries.empties import crates_out
from inventory.queries.orders import OrderNow, ended_order, order_now
from inventory.queries.slips import Handed, crates_needed, last_taker, slip_of, to_hand_over_of


def in_run_order(outlets: Iterable[Outlet]) -> list[Outlet]:
    """Return buyers in the order one drives: as somebody set it, else by when they want it."""
    return sorted(outlets, key=_run_key)


def _run_key(outlet: Outlet) -> tuple:
    by_time = outlet.by_time.isoformat() if outlet.by_time else "24"
    return (outlet.run_order or 10_000, by_time, outlet.name.lower())


@dataclass(frozen=True)
class Load:
    """One order of a stop. handed: what was taken for it and is to be handed over."""

    now: OrderNow
    handed: tuple[Handed, ...]
    slip: Handover | None

    @cached_property
    def crates(self) -> int:
        return crates_needed(self.handed)

    @property
    def crops(self) -> list[Crop]:
        return list(dict.fromkeys(one.take.line.crop for one in self.handed))


@dataclass(frozen=True)
class Stop:
    """One stop. empties: our crates that stand there; taker: who took it the last time; before:
    the stop driven just before it."""

    outlet: Outlet
    loads: tuple[Load, ...]
    empties: int
    taker: str
    before: Outlet | None

    @property
    def is_kitchen_like(self) -> bool:
        """Whether somebody takes it over; to the market or the stand it goes with us."""
        return self.outlet.is_firm

    @property
    def handed(self) -> list[Handed]:
        return [one for load in self.loads for one in load.handed]

    @property
    def is_done(self) -> bool:
        return all(load.slip for load in self.loads)


def read_run(farm: Farm, day: date, at: datetime) -> list[Stop]:
    """Return a day's stops in the order driven; today's with what should have gone before."""
    today = at.astimezone(farm.zone).date()
    by_outlet: dict[Outlet, list[OrderNow]] = defaultdict(list)
    for now in _orders_of(farm, day, at, late=day == today):
        by_outlet[now.order.outlet].append(now)
    standing = {one.outlet.pk: one.crates for one in crates_out()}
    rows = [now.order.row for of_one in by_outlet.values() for now in of_one if now.order.row]
    handed = to_hand_over_of(rows)
    stops: list[Stop] = []
    for outlet in in_run_order(by_outlet):
        stops.append(
            Stop(
                outlet=outlet,
                loads=tuple(_load(now, handed) for now in by_outlet[outlet]),
                empties=standing.get(outlet.pk, 0),
                taker=last_taker(outlet),
                before=stops[-1].outlet if stops else None,
            )
        )
    return stops


def _orders_of(farm: Farm, day: date, at: datetime, late: bool) -> list[OrderNow]:
    plan = plan_book(farm, at)
    still_open = [
        order_now(order, plan)
        for order in plan.orders
        if order.due == day or (late and order.due < day)
    ]
    done = read_orders(Order.objects.filter(due=day, closed_at__isnull=False))
    return still_open + [ended_order(order) for order in done]


def _load(now: OrderNow, handed: dict[UUID, list[Handed]]) -> Load:
    row = now.order.row
    if row is None:
        return Load(now, (), None)
    return Load(now, tuple(handed[row.pk]), slip_of(row))
