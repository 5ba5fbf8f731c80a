"""Which crate should go first, as the rule sees it at a moment."""

from collections.abc import Callable, Collection
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from inventory.models import Farm, FirstInLine, Lot, Outlet
from inventory.queries.book import BookPlan, plan_book
from inventory.queries.crates import Crate, one_crate

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
    """A crate at the moment it is taken, beside the plan for its crop."""

    crate: Crate
    plan: BookPlan
    at: datetime


def read_taking_out(code: str, crop: int, farm: Farm, at: datetime) -> Taking | None:
    """Return a crate that is taken; most are in the plan, so that none is read twice."""
    plan = plan_book(farm, at, {crop})
    planned = (crate for crate in (*plan.crates, *plan.lost) if crate.code == code)
    crate = next(planned, None) or one_crate(code, farm, at)
    return Taking(crate, plan, at) if crate else None


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
    taken, plan = taking.crate, taking.plan
    go_too = {taken.code, *(take.crate.code for take in (plan.of(order) if order else ()))}
    was_here = [crate for crate in _alike(plan, taken.lot) if _was_here(crate, taking.at)]
    ahead = [crate for crate in was_here if crate.code not in go_too and crate.key < taken.key]
    if not ahead:
        return None
    lost = {crate.code for crate in plan.lost} | {out_of_reach}
    found = [_ahead(crate, taken, outlet, plan, crate.code not in lost) for crate in ahead]
    wanted: list[Callable[[Ahead], bool]] = [
        lambda one: not one.why_not and one.reachable,
        lambda one: not one.why_not,
        lambda one: True,
    ]
    return next(one for fits in wanted for one in found if fits(one))


def _alike(plan: BookPlan, lot: Lot) -> list[Crate]:
    fit = [crate for crate in (*plan.crates, *plan.lost) if crate.lot.unit == lot.unit]
    return sorted(fit, key=lambda crate: crate.key)


def _was_here(crate: Crate, at: datetime) -> bool:
    return crate.lot.intake is None or crate.lot.intake.arrived_at <= at


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
    plan = plan_book(farm, at, {crate.lot.crop_id})
    own = {take.crate.code for take in plan.of(order)} if order else set()
    for other in plan.crates:
        sooner = other.standing.days_left < crate.standing.days_left
        could = plan.free[other.code] > 0 or other.code in own
        if could and sooner and other.code not in {crate.code, *go_too}:
            return other
    return None
