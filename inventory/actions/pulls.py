"""Getting an order or a market load together: promising crates, taking them, giving up."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from inventory.actions.movements import take_from
from inventory.errors import Conflict, Refused
from inventory.ledger.book import Act, Book, need_quantity, recorded
from inventory.models import Action, Crop, Farm, Lot, Outlet, Pull, PullLine, PullTake
from inventory.queries.crates import promised_by_lot
from inventory.queries.pulls import plan_for, pull_lines


@dataclass(frozen=True)
class Wanted:
    crop: Crop
    unit: str
    quantity: Decimal


def open_pull(
    act: Act, *, lines: list[Wanted], outlet: Outlet | None = None, new_outlet: str = ""
) -> Pull:
    """Write down what a buyer wants; a name not known yet becomes a kitchen.

    The same id again, by the same person, returns the same pull.

    Raises Refused("no-lines", "not-positive", "too-fine", "not-whole"), Conflict("sent-before").
    """
    if not lines:
        raise Refused("no-lines", field="lines")
    for line in lines:
        need_quantity(line.quantity, line.unit)
    with transaction.atomic():
        outlet = outlet or _outlet_called(new_outlet)
        pull, made = Pull.objects.get_or_create(
            id=act.id,
            defaults={"outlet": outlet, "planned_by": act.person, "planned_at": act.at},
        )
        if not made and pull.planned_by_id != act.person.pk:
            raise Conflict("sent-before")
        if made:
            PullLine.objects.bulk_create(
                PullLine(pull=pull, crop=line.crop, unit=line.unit, quantity=line.quantity)
                for line in lines
            )
    return pull


def _outlet_called(name: str) -> Outlet:
    known = Outlet.objects.filter(name__iexact=name).first()
    return known or Outlet.objects.create(name=name)


def plan_pull(pull: Pull, farm: Farm, at: datetime) -> None:
    """Promise crates to what a pull still lacks.

    Raises Conflict("no-longer-open", "promised-meanwhile").
    """
    plan = plan_for(pull, farm, at)
    lines = {str(line.pk): line for line in pull.lines.all()}
    promise(pull, [(lines[take.line], take.lot, take.quantity) for take in plan.takes])


def promise(pull: Pull, takes: Iterable[tuple[PullLine, str, Decimal]]) -> None:
    """Promise crates to the lines of a pull, no more than they still lack.

    Raises Conflict("no-longer-open") if the pull was finished, Conflict("promised-meanwhile")
    if a crate was promised or changed meanwhile.
    """
    takes = list(takes)
    with transaction.atomic():
        pull = Pull.objects.select_for_update(of=("self",)).get(pk=pull.pk)
        if pull.closed_at:
            raise Conflict("no-longer-open")
        codes = sorted({code for _, code, _ in takes})
        locked = Lot.objects.select_for_update(of=("self",)).filter(pk__in=codes).order_by("pk")
        lots = {lot.pk: lot for lot in locked}
        promised = promised_by_lot()
        lacking = {now.line.pk: now.lacking for now in pull_lines(pull)}
        for line, code, wanted in takes:
            quantity = min(wanted, lacking[line.pk])
            if quantity <= 0:
                continue
            lot = lots[code]
            promised[code] = promised.get(code, Decimal(0)) + quantity
            lacking[line.pk] -= quantity
            if lot.held or not lot.is_here or promised[code] > lot.quantity:
                raise Conflict("promised-meanwhile", code=code)
            PullTake.objects.create(line=line, lot=lot, quantity=quantity, stood=lot.position)


@recorded(Action.Kind.TAKE_OUT)
def take_promised(book: Book, *, take: PullTake) -> None:
    """Take a promised crate, or the promised part of it, out for its buyer.

    One that holds less by now goes out whole, and its line lacks the rest.

    Raises Refused("outlet-refuses"), Conflict("taken-already", "not-here", "past-use-by",
    "held", "more-than-there").
    """
    take = PullTake.objects.select_for_update(of=("self",)).get(pk=take.pk)
    if take.is_taken or take.missing or take.line.pull.closed_at:
        raise Conflict("taken-already", code=take.lot_id)
    order, outlet = take.line.pull, take.line.pull.outlet
    lot = book.lock_one(take.lot_id)
    take.quantity = min(take.quantity, lot.quantity)
    take_from(book, lot, take.quantity, outlet.purpose, outlet, order=order)
    take.taken = book.action
    take.save(update_fields=["taken", "quantity"])


def mark_missing(act: Act, *, take: PullTake) -> None:
    """Note that a promised crate could not be found, and promise others in its place.

    It is planned for nobody until somebody moves or counts it.

    Raises Conflict("taken-already", "no-longer-open", "promised-meanwhile").
    """
    marked = PullTake.objects.open().filter(pk=take.pk).update(missing=True, missing_at=act.at)
    # Another phone may have taken it since the page was drawn.
    if not marked and PullTake.objects.get(pk=take.pk).is_taken:
        raise Conflict("taken-already", code=take.lot_id)
    plan_pull(take.line.pull, act.farm, act.at)


def mark_found(*, take: PullTake) -> None:
    """Take back that a crate could not be found: it is promised again as far as its line lacks.

    Raises Conflict("no-longer-open") if the pull was finished.
    """
    with transaction.atomic():
        pull = Pull.objects.select_for_update(of=("self",)).get(lines__takes=take)
        if pull.closed_at:
            raise Conflict("no-longer-open")
        take = PullTake.objects.select_for_update(of=("self",)).get(pk=take.pk)
        if not take.missing:
            return
        lacking = {now.line.pk: now.lacking for now in pull_lines(pull)}[take.line_id]
        free = take.lot.quantity - promised_by_lot().get(take.lot_id, Decimal(0))
        take.quantity = min(take.quantity, lacking, free)
        if take.quantity <= 0:
            take.delete()
            return
        take.missing, take.missing_at = False, None
        take.save(update_fields=["quantity", "missing", "missing_at"])


def reopen_pull(pull: Pull) -> None:
    """Take back that a pull was finished."""
    Pull.objects.filter(pk=pull.pk).update(closed_at=None)


def close_pull(act: Act, *, pull: Pull) -> None:
    """End a pull; what was promised and not taken is free again."""
    Pull.objects.filter(pk=pull.pk, closed_at__isnull=True).update(closed_at=act.at)
