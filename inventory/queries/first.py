"""Which crate should go first, as the rule sees it at a moment."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from inventory.models import Farm, FirstInLine, Lot, Outlet, Pull, PullTake
from inventory.queries.crates import Crate, crates_here, one_crate

WhyNot = FirstInLine.WhyNot


@dataclass(frozen=True)
class Ahead:
    """The crate that should go before another; see models.FirstInLine."""

    first: Lot
    days_apart: int
    why_not: str
    reachable: bool


def who_goes_first(
    lot: Lot,
    outlet: Outlet | None,
    farm: Farm,
    at: datetime,
    out_of_reach: str = "",
    order: Pull | None = None,
) -> Ahead | None:
    """Return which crate should go before this one, None where it is itself the first.

    out_of_reach: the code of a crate a person said cannot be reached. Of those ahead the first
    counts that would do for this buyer and can be reached; if there is none, the first that
    would do, else the first of all, with why it would not. at: when it was taken; what came in
    later passes nobody, what has left since is not known any more. order: what it is taken for;
    crates promised to the same go as well, and are not passed by being fetched later.
    """
    taken = one_crate(lot.pk, farm, at)
    alike = Q(crop=lot.crop, unit=lot.unit, state=Lot.State.IN_PLACE, held=False)
    go_too = PullTake.objects.open().filter(line__pull=order).values("lot_id")
    was_here = Q(intake__arrived_at__lte=at) | Q(intake=None)
    others = crates_here(farm, at, alike & was_here & ~Q(pk=lot.pk) & ~Q(pk__in=go_too))
    ahead = [crate for crate in others if taken and crate.is_fit and crate.key < taken.key]
    if taken is None or not ahead:
        return None
    lost = set(PullTake.objects.not_found().values_list("lot_id", flat=True)) | {out_of_reach}
    found = [_ahead(crate, taken, outlet, crate.code not in lost) for crate in ahead]
    wanted: list[Callable[[Ahead], bool]] = [
        lambda one: not one.why_not and one.reachable,
        lambda one: not one.why_not,
        lambda one: True,
    ]
    return next(one for fits in wanted for one in found if fits(one))


def _ahead(crate: Crate, taken: Crate, outlet: Outlet | None, reachable: bool) -> Ahead:
    apart = taken.standing.days_left - crate.standing.days_left
    return Ahead(crate.lot, apart, _why_not(crate, outlet), reachable)


def _why_not(crate: Crate, outlet: Outlet | None) -> str:
    if crate.free <= 0:
        return WhyNot.PROMISED
    if outlet is None:
        return ""
    if crate.lot.tags & outlet.refused_tags:
        return WhyNot.REFUSED
    too_old = crate.fridge_days(float(outlet.fridge_c)).days < outlet.minimum_days
    return WhyNot.TOO_OLD if too_old else ""
