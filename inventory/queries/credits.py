"""What buyers said of crates on their slips, and who else got some of that harvest."""

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import F

from inventory.models import Credit, Handover, Lot, Take
from inventory.queries.crates import HERE
from inventory.queries.intakes import crates_from
from inventory.queries.slips import intakes_of

# Put together once, asked by every crate's page. By the crop's own index a database would walk
# through all its crates there ever were.
_CREDITS = Credit.objects.standing().alias(of_crop=F("lot__crop_id") + 0)


def left_on_slip(handover: Handover) -> dict[str, tuple[str, Decimal]]:
    """Return (unit, how much is not credited yet) of each crate on a slip, by its code."""
    left: dict[str, Decimal] = defaultdict(Decimal)
    units: dict[str, str] = {}
    for line in handover.paper["lines"]:
        left[line["code"]] += Decimal(line["quantity"])
        units[line["code"]] = line["unit"]
    for credit in Credit.objects.standing().filter(handover=handover):
        left[credit.lot_id] -= credit.quantity
    return {code: (units[code], amount) for code, amount in left.items()}


@dataclass(frozen=True)
class Said:
    """A credit on a slip. others: slips of other orders with some of that harvest; here: its
    crates in the house. Neither of a crate that was only the wrong one."""

    credit: Credit
    others: tuple[Handover, ...] = ()
    here: tuple[Lot, ...] = ()


def read_said(handover: Handover) -> list[Said]:
    """Return what the buyer said of a slip, and whom else it may concern."""
    found = Credit.objects.standing().filter(handover=handover)
    credits = found.select_related("lot__crop", "lot__intake", "action__person", "handover__order")
    return [_whom_else(credit) for credit in credits]


def _whom_else(credit: Credit) -> Said:
    if credit.what == Credit.What.WRONG:
        return Said(credit)
    codes = {code for intake in intakes_of(credit.lot) for code in crates_from(intake)}
    orders = Take.objects.standing().filter(lot__in=codes).values("line__order")
    others = Handover.objects.standing().filter(order__in=orders)
    others = others.exclude(pk=credit.handover_id).select_related("order__outlet")
    here = Lot.objects.filter(pk__in=codes, state__in=HERE).order_by("pk")
    return Said(credit, tuple(others), tuple(here))


def said_of(lot: Lot) -> list[Credit]:
    """Return what buyers said of a crate, and that others of its harvest were soft or refused."""
    of_crop = _CREDITS.filter(of_crop=lot.crop_id)
    if not of_crop.exists():
        return []
    codes = {code for intake in intakes_of(lot) for code in crates_from(intake)}
    found = of_crop.filter(lot__in=codes | {lot.pk})
    said = found.select_related("lot__crop", "handover__order__outlet").order_by("-pk")
    return [
        credit for credit in said if credit.lot_id == lot.pk or credit.what != Credit.What.WRONG
    ]
