"""Moving crates, taking them out, bringing them back, and closing the market day."""

from collections.abc import Iterable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from inventory.actions.market_days import Settling, keep_market_day
from inventory.errors import Conflict, Refused
from inventory.ledger.book import (
    Book,
    need,
    need_quantity,
    portion_of,
    recorded,
)
from inventory.ledger.fold import Outing
from inventory.models import Action, FirstInLine, Lot, Movement, Outlet, Parentage, Position
from inventory.queries.crates import age_of, with_life
from inventory.queries.dates import is_past_use_by
from inventory.queries.first import Taking, read_taking_out, who_goes_first
from inventory.queries.was_out import left_our_hands, tags_of
from inventory.rotation.fit import WAS_OUT, Doing

LONGEST_WARM = timedelta(hours=72)
# Why what comes back from a kitchen is held.
WITH_A_BUYER = "was with a buyer"


@recorded(Action.Kind.MOVE)
def move_lots(book: Book, *, lots: list[str], position: Position) -> None:
    """Put crates at a position; those to put away are put away by it.

    Raises Refused("no-crates"), Conflict("not-here").
    """
    move_to(book, dict.fromkeys(lots, position))


def move_to(book: Book, places: dict[str, Position]) -> list[Lot]:
    """Write crates' moves, each to its position, in the order in which they are named.

    Raises Refused("no-crates"), Conflict("not-here").
    """
    locked = lock_in_order(book, places)
    for lot in locked:
        need(lot, Doing.MOVE)
        book.write(lot, Movement.Kind.MOVED, state=Lot.State.IN_PLACE, position=places[lot.pk])
    return locked


def lock_in_order(book: Book, codes: Iterable[str]) -> list[Lot]:
    """Return these crates in the order in which they are named, once each; at least one.

    Raises Refused("no-crates").
    """
    named = list(dict.fromkeys(codes))
    if not named:
        raise Refused("no-crates", field="lots")
    locked = {lot.pk: lot for lot in book.lock(named)}
    return [locked[code] for code in named]


@recorded(Action.Kind.TAKE_OUT, read="taking")
def take_out(
    book: Book,
    *,
    lot: str,
    portion: Decimal | str,
    purpose: str,
    outlet: Outlet | None = None,
    to: str = "",
    out_of_reach: str = "",
    taking: Taking | None = None,
) -> None:
    """Take out all or part of a crate for an order, the market, as a gift or for own use.

    taking: the crate beside those of its crop, as its scan was judged by; of another moment it is
    read anew.

    Raises Refused("outlet-refuses", "to-whom", "not-positive", "too-fine", "not-whole"),
    Conflict("not-here", "past-use-by", "held", "more-than-there").
    """
    take_from(book, book.lock_one(lot), portion, purpose, outlet, to, out_of_reach, taking=taking)


@recorded(Action.Kind.TAKE_OUT)
def take_out_lots(
    book: Book,
    *,
    lots: list[str],
    purpose: str,
    outlet: Outlet | None = None,
    to: str = "",
) -> None:
    """Take out several crates whole, in the order in which they should go.

    Raises Refused("no-crates", "outlet-refuses-one", "to-whom"), Conflict("not-here", "held").
    """
    locked = lock_in_order(book, lots)
    for lot in locked:
        refused = tags_of(lot) & outlet.refused_tags if outlet else None
        if outlet and refused:
            raise Refused(
                "outlet-refuses-one",
                field="outlet",
                code=lot.pk,
                outlet=outlet.name,
                tag=min(refused),
            )
    crates = with_life(locked, book.act.farm, book.act.happened_at)
    for crate in sorted(crates, key=lambda crate: crate.key):
        take_from(book, crate.lot, "all", purpose, outlet, to)


def take_from(
    book: Book,
    lot: Lot,
    portion: Decimal | str,
    purpose: str,
    outlet: Outlet | None,
    to: str = "",
    out_of_reach: str = "",
    order: UUID | None = None,
    taking: Taking | None = None,
) -> None:
    """Write the outgoing entry of one locked crate, and which should have gone before it.

    All of it makes the crate `out`. out_of_reach: a crate that somebody says can't be got at.
    order: what it is for. taking: see take_out.

    Raises Refused("outlet-refuses", "to-whom", "not-positive", "too-fine", "not-whole"),
    Conflict("not-here", "past-use-by", "held", "more-than-there").
    """
    at = book.moment(lot)
    if taking is None or taking.at != at:
        taking = read_taking_out(lot.pk, book.act.farm, at)
    assert taking is not None, "a locked crate is there"
    lot.intake, crate = taking.crate.lot.intake, taking.crate
    need_in_date(book, lot, Doing.TAKE_OUT)
    if outlet is not None:
        refused = crate.tags & outlet.refused_tags
        if refused:
            raise Refused("outlet-refuses", field="outlet", outlet=outlet.name, tag=min(refused))
    if purpose == Movement.Purpose.GIVEN and not (outlet or to):
        raise Refused("to-whom", field="to")
    amount = portion_of(lot, portion)
    whole = amount == lot.quantity
    ahead = who_goes_first(taking, outlet, out_of_reach, order)
    entry = book.write(
        lot,
        Movement.Kind.OUT,
        change=-amount,
        amount=amount,
        state=Lot.State.OUT if whole else "",
        purpose=purpose,
        outlet=outlet,
        other_party=outlet.name if outlet else to,
        aged_days=crate.clocks.aged_days(lot.pk, taking.at),
    )
    FirstInLine.objects.create(movement=entry, **(vars(ahead) if ahead else {}))


@recorded(Action.Kind.TAKE_OUT)
def send_back(book: Book, *, lot: str, portion: Decimal | str, note: str = "") -> None:
    """Send all or part of a crate back to the supplier it came from; it may be on hold.

    It is neither sold nor waste, and passes no crate that should have gone first.

    Raises Refused("not-positive", "too-fine", "not-whole"), Conflict("not-here", "not-bought",
    "more-than-there").
    """
    locked = book.lock_one(lot)
    supplier = locked.supplier
    need(locked, Doing.SEND_BACK, bought=supplier is not None)
    assert supplier is not None
    amount = portion_of(locked, portion)
    book.write(
        locked,
        Movement.Kind.OUT,
        change=-amount,
        amount=amount,
        state=Lot.State.OUT if amount == locked.quantity else "",
        purpose=Movement.Purpose.SENT_BACK,
        other_party=supplier.name,
        note=note,
    )


def need_in_date(book: Book, lot: Lot, doing: Doing) -> None:
    """Raise Conflict("not-here", "past-use-by", "held") unless this can be done to a crate.

    A use-by date counts on the farm's day on which it is done.
    """
    need(lot, doing, past_use_by=is_past_use_by(lot, book.act.today))


@recorded(Action.Kind.BRING_BACK)
def bring_back(
    book: Book,
    *,
    lot: str,
    quantity: Decimal,
    warm_hours: Decimal | None = None,
    position: Position | None = None,
    outing: Outing | None = None,
) -> None:
    """Bring back what did not go. warm_hours: how long it stood warm; None: all the time out.
    outing: what it comes back from, where a crate went several ways; None: the latest.

    A crate that went out whole comes back under its own code; what comes back of a part
    becomes a crate of its own that keeps the harvest date and the life used.

    Raises Refused("warm-hours", "not-positive", "too-fine", "not-whole"), Conflict("nothing-out",
    "more-than-out").
    """
    locked = book.lock_one(lot)
    pools = book.out_of(locked)
    if not pools:
        raise Conflict("nothing-out", code=lot)
    return_from(book, locked, quantity, outing or list(pools)[-1], warm_hours, position)


def return_from(
    book: Book,
    lot: Lot,
    quantity: Decimal,
    outing: Outing,
    warm_hours: Decimal | None,
    position: Position | None,
) -> Lot:
    """Write the return of one locked crate, or of a part of it, and return the crate it is in.

    What was out of our hands is for the market, giving and own use only, and what was with a
    kitchen on hold, until the owner says otherwise.

    Raises Refused("warm-hours", "not-positive", "too-fine", "not-whole"),
    Conflict("more-than-out").
    """
    need_quantity(quantity, lot.unit)
    out = book.out_of(lot).get(outing, Decimal(0))
    if quantity > out:
        raise Conflict("more-than-out", field="quantity", code=lot.pk, left=out, unit=lot.unit)
    if warm_hours is not None and not 0 <= warm_hours <= LONGEST_WARM / timedelta(hours=1):
        raise Refused("warm-hours", field="warm_hours")
    where: dict[str, Any] = {
        "state": Lot.State.IN_PLACE if position else Lot.State.TO_PUT_AWAY,
        "position": position,
        "warm_hours": warm_hours,
    }
    gone = left_our_hands(lot.pk, outing.purpose, outing.outlet_id)
    if gone:
        where["detail"] = {WAS_OUT: True}
    to_hold = gone and outing.purpose == Movement.Purpose.ORDER
    from_there: dict[str, Any] = {"amount": quantity, **fields_of(outing)}
    if outing.purpose == Movement.Purpose.ORDER:
        from_there["aged_days"] = age_of(lot.pk, book.act.farm, book.moment(lot))
    if lot.state == Lot.State.OUT:
        book.write(lot, Movement.Kind.BACK, change=quantity, **from_there, **where)
        if to_hold and not lot.held:
            book.write(lot, Movement.Kind.HELD, note=WITH_A_BUYER)
        return lot
    left_at = max(
        entry.occurred_at
        for entry in book.known(lot)
        if entry.kind == Movement.Kind.OUT and Outing.of(entry) == outing
    )
    child = child_of(book, [(lot, quantity)], quantity, left_at)
    book.write(lot, Movement.Kind.BACK, **from_there)
    book.write(child, Movement.Kind.BACK, change=quantity, **where)
    if lot.held or to_hold:
        book.write(child, Movement.Kind.HELD, note=WITH_A_BUYER if to_hold else "")
    return child


def fields_of(outing: Outing) -> dict:
    """Return an outing as the columns of an entry."""
    return {
        "purpose": outing.purpose,
        "outlet_id": outing.outlet_id,
        "other_party": outing.to,
    }


def child_of(
    book: Book, shares: list[tuple[Lot, Decimal]], quantity: Decimal, at: datetime, **fields: Any
) -> Lot:
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


@recorded(Action.Kind.SETTLE)
def close_market(
    book: Book,
    *,
    market: Outing,
    rows: list[Settling],
    warm_hours: Decimal | None = None,
    position: Position | None = None,
) -> None:
    """Close a market day, crate by crate. What left after the rows were made stays out.

    Raises Refused("warm-hours", "not-positive", "too-fine", "not-whole"), Conflict("nothing-out",
    "more-than-out").
    """
    if not rows:
        raise Conflict("nothing-out", code=market.to)
    locked = {lot.pk: lot for lot in book.lock(row.lot for row in rows)}
    for row in rows:
        need_out(book, locked[row.lot], market, row.out, f"back-{row.lot}")
        settle(book, locked[row.lot], market, row, warm_hours, position)
    keep_market_day(book, market, [(locked[row.lot], row) for row in rows])


def need_out(book: Book, lot: Lot, market: Outing, amount: Decimal, field: str) -> None:
    """Raise Conflict("nothing-out", "more-than-out") unless so much of a crate is at a market."""
    out = book.out_of(lot).get(market)
    if not out:
        raise Conflict("nothing-out", code=lot.pk)
    if amount > out:
        raise Conflict("more-than-out", field=field, code=lot.pk, left=out, unit=lot.unit)


def settle(
    book: Book,
    lot: Lot,
    market: Outing,
    row: Settling,
    warm_hours: Decimal | None,
    position: Position | None,
    to: str = "",
) -> Lot | None:
    """Write what became of one locked crate's load, and return the crate what came back is in.

    to: to whom it was given. Raises Conflict("more-than-out").
    """
    if row.sold < 0:
        raise Conflict(
            "more-than-out", field=f"back-{lot.pk}", code=lot.pk, left=row.out, unit=lot.unit
        )
    back = None
    if row.back:
        back = return_from(book, lot, row.back, market, warm_hours, position)
    outcomes = {
        Movement.Outcome.SOLD: row.sold,
        Movement.Outcome.GIVEN: row.given,
        Movement.Outcome.LOST: row.lost,
    }
    for outcome, amount in outcomes.items():
        if amount:
            ends = lot.state == Lot.State.OUT and sum(book.out_of(lot).values()) == amount
            book.write(
                lot,
                Movement.Kind.SETTLED,
                amount=amount,
                outcome=outcome,
                state=Lot.State.EMPTY if ends else "",
                note=to if outcome == Movement.Outcome.GIVEN else "",
                **fields_of(market),
            )
    return back
