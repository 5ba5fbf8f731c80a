"""Which crate should go first, as the rule sees it at a moment."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from uuid import UUID

from inventory.models import Farm, FirstInLine, Lot, Outlet
from inventory.queries.book import (
    BookOrder,
    BookPlan,
    Planned,
    crate_beside,
    fit_crates,
    plan_book,
    read_book,
)
from inventory.queries.crates import Crate

WhyNot = FirstInLine.WhyNot


@dataclass(frozen=True)
class Ahead:
    """The crate that should go before another; see models.FirstInLine."""

    first: Lot
    days_apart: int
    why_not: str
    reachable: bool


@dataclass(frozen=True)
class Taking:
    """A crate at the moment it is taken, beside those of its crop that a plan may count on."""

    crate: Crate
    fit: list[Crate]
    farm: Farm
    at: datetime

    @cached_property
    def _book(self) -> list[BookOrder]:
        return read_book(self.farm, self.at, {self.crate.lot.crop_id})

    @cached_property
    def plan(self) -> BookPlan:
        """The plan for its crop, read where it is asked for."""
        crops = {self.crate.lot.crop_id}
        return plan_book(self.farm, self.at, crops, here=self.fit, book=self._book)

    @property
    def planned(self) -> list[Planned]:
        """Which orders the plan sends it to."""
        may_be = self.crate.is_fit and self._book
        return self.plan.of_crate(self.crate.code) if may_be else []


def read_taking_out(code: str, farm: Farm, at: datetime) -> Taking | None:
    """Return a crate that is taken, whatever its state, beside those of its crop."""
    found = crate_beside(code, farm, at)
    return Taking(*found, farm, at) if found else None


def who_goes_first(
    taking: Taking, outlet: Outlet | None, out_of_reach: str = "", order: UUID | None = None
) -> Ahead | None:
    """Return which crate should go before this one, None where it is itself the first.

    out_of_reach: the code of a crate a person said cannot be reached. Of those ahead the first
    counts that would do for this buyer and can be reached; if there is none, the first that
    would do, else the first of all, with why it would not. What came in after it was taken passes
    nobody, what has left since is not known any more. order: what it is taken for; crates planned
    for the same go as well, and are not passed by being fetched later.
    """
    taken = taking.crate
    passed = [crate for crate in taking.fit if crate.key < taken.key and _could_go(crate, taking)]
    if not passed:
        return None
    plan = taking.plan
    go_too = {take.crate.code for take in (plan.of(order) if order else ())}
    ahead = [crate for crate in passed if crate.code not in go_too]
    if not ahead:
        return None
    lost = {crate.code for crate in plan.lost} | {out_of_reach}
    best: Ahead | None = None
    for crate in ahead:
        one = _ahead(crate, taken, outlet, plan, crate.code not in lost)
        if not one.why_not and one.reachable:
            return one
        if best is None or (best.why_not and not one.why_not):
            best = one
    return best


def _could_go(crate: Crate, taking: Taking) -> bool:
    """Return whether a crate is counted like the one that is taken, and was here by then."""
    intake, taken = crate.lot.intake, taking.crate
    was_here = intake is None or intake.arrived_at <= taking.at
    return was_here and crate.lot.unit == taken.lot.unit and crate.code != taken.code


def _ahead(
    crate: Crate, taken: Crate, outlet: Outlet | None, plan: BookPlan, reachable: bool
) -> Ahead:
    apart = taken.standing.days_left - crate.standing.days_left
    return Ahead(crate.lot, apart, _why_not(crate, outlet, plan), reachable)


def _why_not(crate: Crate, outlet: Outlet | None, plan: BookPlan) -> str:
    if plan.free.get(crate.code, 1) <= 0:
        return WhyNot.PROMISED
    if outlet is None:
        return ""
    if crate.tags & outlet.refused_tags:
        return WhyNot.REFUSED
    too_old = crate.fridge_days(outlet.fridge).days < outlet.days_wanted(crate.today)
    return WhyNot.TOO_OLD if too_old else ""


def older_first(
    crate: Crate,
    farm: Farm,
    at: datetime,
    go_too: Collection[str] = (),
    order: UUID | None = None,
) -> Crate | None:
    """Return a crate of the crop that should go before this one, if it matters by a day.

    Only one that can be reached counts: in place, fit, not held, not planned for an order.
    go_too: the codes of crates that are taken with it. order: what it is taken for; those planned
    for the same count as well.
    """
    fit = fit_crates(farm, at, {crate.lot.crop_id})
    return older_than(Taking(crate, fit, farm, at), go_too, order)


def older_than(
    taking: Taking, go_too: Collection[str] = (), order: UUID | None = None
) -> Crate | None:
    """Return what older_first does, of a crate that is read with those of its crop."""
    days_left = taking.crate.standing.days_left
    beside = {taking.crate.code, *go_too}
    if not any(one.standing.days_left < days_left and one.code not in beside for one in taking.fit):
        return None
    plan = taking.plan
    own = {take.crate.code for take in plan.of(order)} if order else set()
    for other in plan.crates:
        sooner = other.standing.days_left < days_left
        could = plan.free[other.code] > 0 or other.code in own
        if could and sooner and other.code not in beside:
            return other
    return None
