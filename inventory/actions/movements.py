"""Moving crates, taking them out, bringing them back, and closing the market day."""

from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

from inventory.errors import Conflict, Refused
from inventory.ledger.book import (
    Book,
    need,
    need_quantity,
    portion_of,
    recorded,
)
from inventory.ledger.outings import out_of
from inventory.models import Action, Lot, Movement, Outlet, Parentage, Position
from inventory.rotation.fit import Doing

LONGEST_WARM = timedelta(hours=72)


@recorded(Action.Kind.MOVE)
def move_lots(book: Book, *, lots: list[str], position: Position) -> None:
    """Put crates at a position; those to put away are put away by it."""
    if not lots:
        raise Refused("no-crates", field="lots")
    for lot in book.lock(lots):
        need(lot, Doing.MOVE)
        book.write(lot, Movement.Kind.MOVED, state=Lot.State.IN_PLACE, position=position)


@recorded(Action.Kind.TAKE_OUT)
def take_out(
    book: Book,
    *,
    lot: str,
    portion: Decimal | str,
    purpose: str,
    outlet: Outlet | None = None,
    to: str = "",
) -> None:
    """Take out all or part of a crate for an order, the market, as a gift or for own use."""
    take_from(book, book.lock_one(lot), portion, purpose, outlet, to)


def take_from(book, lot: Lot, portion, purpose: str, outlet: Outlet | None, to: str = "") -> None:
    """Write the outgoing entry of one locked crate. All of it makes the crate `out`."""
    need(lot, Doing.TAKE_OUT)
    if outlet is not None:
        refused = lot.tags & outlet.refused_tags
        if refused:
            raise Refused("outlet-refuses", field="outlet", outlet=outlet.name, tag=min(refused))
    if purpose == Movement.Purpose.GIVEN and not (outlet or to):
        raise Refused("to-whom", field="to")
    amount = portion_of(lot, portion)
    whole = amount == lot.quantity
    book.write(
        lot,
        Movement.Kind.OUT,
        change=-amount,
        amount=amount,
        state=Lot.State.OUT if whole else "",
        purpose=purpose,
        other_party=outlet.name if outlet else to,
    )


@recorded(Action.Kind.BRING_BACK)
def bring_back(
    book: Book,
    *,
    lot: str,
    quantity: Decimal,
    warm_hours: Decimal | None = None,
    position: Position | None = None,
    outing: tuple[str, str] | None = None,
) -> None:
    """Bring back what did not go. warm_hours: how long it stood warm; None: all the time out.
    outing: (purpose, to) it comes back from, where a crate went several ways; None: the latest.

    A crate that went out whole comes back under its own code; what comes back of a part
    becomes a crate of its own that keeps the harvest date and the life used.
    """
    locked = book.lock_one(lot)
    pools = out_of(locked)
    if not pools:
        raise Conflict("nothing-out", code=lot)
    purpose, other_party = outing or list(pools)[-1]
    return_from(book, locked, quantity, purpose, other_party, warm_hours, position)


def return_from(book, lot, quantity, purpose, other_party, warm_hours, position) -> None:
    """Write the return of one locked crate, or of a part of it."""
    need_quantity(quantity, lot.unit)
    out = out_of(lot).get((purpose, other_party), Decimal(0))
    if quantity > out:
        raise Conflict("more-than-out", field="quantity", code=lot.pk, left=out, unit=lot.unit)
    if warm_hours is not None and not 0 <= warm_hours <= LONGEST_WARM / timedelta(hours=1):
        raise Refused("warm-hours", field="warm_hours")
    where = {
        "state": Lot.State.IN_PLACE if position else Lot.State.TO_PUT_AWAY,
        "position": position,
        "warm_hours": warm_hours,
    }
    outing = {"amount": quantity, "purpose": purpose, "other_party": other_party}
    if lot.state == Lot.State.OUT:
        book.write(lot, Movement.Kind.BACK, change=quantity, **outing, **where)
        return
    left_at = (
        lot.movements.filter(
            kind=Movement.Kind.OUT,
            purpose=purpose,
            other_party=other_party,
            undone_by__isnull=True,
        )
        .latest("occurred_at", "pk")
        .occurred_at
    )
    child = child_of(book, [(lot, quantity)], quantity, left_at)
    book.write(lot, Movement.Kind.BACK, **outing)
    book.write(child, Movement.Kind.BACK, change=quantity, **where)
    if lot.held:
        book.write(child, Movement.Kind.HELD)


def child_of(book: Book, shares: list[tuple[Lot, Decimal]], quantity, at, **fields) -> Lot:
    """Make a crate filled from others. It keeps their intake when they share one."""
    parents = [parent for parent, _ in shares]
    intakes = {parent.intake_id for parent in parents}
    first = parents[0]
    child = book.new_lot(
        crop=first.crop,
        unit=first.unit,
        born_with=quantity,
        intake_id=intakes.pop() if len(intakes) == 1 else None,
        **{"container": first.container, "grade": first.grade, **fields},
    )
    Parentage.objects.bulk_create(
        Parentage(child=child, parent=parent, quantity=share, at=at) for parent, share in shares
    )
    return child


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


@recorded(Action.Kind.SETTLE)
def close_market(
    book: Book,
    *,
    market: str,
    rows: list[Settling],
    warm_hours: Decimal | None = None,
    position: Position | None = None,
) -> None:
    """Close a market day, crate by crate. What left after the rows were made stays out."""
    if not rows:
        raise Conflict("nothing-out", code=market)
    locked = {lot.pk: lot for lot in book.lock(row.lot for row in rows)}
    for row in rows:
        _settle(book, locked[row.lot], market, row, warm_hours, position)


def _settle(book, lot: Lot, market: str, row: Settling, warm_hours, position) -> None:
    key = (Movement.Purpose.MARKET, market)
    out = out_of(lot)
    if not out.get(key):
        raise Conflict("nothing-out", code=lot.pk)
    if row.sold < 0 or row.out > out[key]:
        raise Conflict(
            "more-than-out", field=f"back-{lot.pk}", code=lot.pk, left=out[key], unit=lot.unit
        )
    all_settled = lot.state == Lot.State.OUT and not row.back and sum(out.values()) == row.out
    if row.back:
        return_from(book, lot, row.back, *key, warm_hours, position)
    outcomes = {
        Movement.Outcome.SOLD: row.sold,
        Movement.Outcome.GIVEN: row.given,
        Movement.Outcome.LOST: row.lost,
    }
    for outcome, amount in outcomes.items():
        if amount:
            book.write(
                lot,
                Movement.Kind.SETTLED,
                amount=amount,
                outcome=outcome,
                purpose=Movement.Purpose.MARKET,
                other_party=market,
                state=Lot.State.EMPTY if all_settled else "",
            )
