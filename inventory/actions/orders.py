"""The order book: saying, changing, getting and closing orders."""

from collections.abc import Iterable
from datetime import date, timedelta
from decimal import Decimal
from uuid import UUID, uuid5

from django.db import transaction

from inventory.actions.movements import take_from
from inventory.errors import Conflict, Refused
from inventory.ledger.book import Act, Book, need_quantity, recorded
from inventory.models import (
    Action,
    Lease,
    Lot,
    NotThere,
    Order,
    OrderEntry,
    OrderLine,
    Outlet,
    StandingLine,
    StandingOrder,
    Take,
)
from inventory.queries.book import BookOrder, Wanted, find_order
from inventory.queries.orders import read_order
from inventory.queries.slips import slip_of

Kind = OrderEntry.Kind
WEEK = timedelta(days=7)
LEASED_FOR = timedelta(minutes=30)
FURTHEST_DUE = timedelta(days=400)


@recorded(Action.Kind.ORDER)
def say_order(
    book: Book,
    *,
    lines: list[Wanted],
    due: date,
    outlet: Outlet | None = None,
    new_outlet: str = "",
    repeats: bool = False,
) -> None:
    """Write down what a buyer wants and by when; a name not known yet becomes a kitchen.

    The order has the id of the action. repeats: every week from then on.

    Raises Refused("no-lines", "not-positive", "too-fine", "not-whole", "due-past", "due-far",
    "buyer-off").
    """
    _need_lines(lines)
    _need_due(book.act, due)
    outlet = outlet or _outlet_called(new_outlet)
    if not outlet.in_use:
        raise Refused("buyer-off", field="outlet", outlet=outlet.name)
    order = Order.objects.create(
        id=book.act.id, outlet=outlet, due=due, said_by=book.act.person, said_at=book.act.at
    )
    _set_lines(order, lines)
    if repeats:
        _repeat(book, order)
    _enter(book, order, Kind.SAID, {})


def _need_lines(lines: list[Wanted]) -> None:
    if not lines:
        raise Refused("no-lines", field="lines")
    for line in lines:
        need_quantity(line.quantity, line.unit)


def _need_due(act: Act, due: date) -> None:
    if due < act.local_day(act.at):
        raise Refused("due-past", field="due")
    if due > act.local_day(act.at) + FURTHEST_DUE:
        raise Refused("due-far", field="due")


def _outlet_called(name: str) -> Outlet:
    found, _made = Outlet.objects.get_or_create(name__iexact=name, defaults={"name": name})
    return found


def _set_lines(order: Order, lines: Iterable[Wanted]) -> None:
    """Make the lines of an order these; one that is wanted no more stays, and wants nothing."""
    wanted = {(line.crop.pk, line.unit): line for line in lines}
    for row in order.lines.all():
        line = wanted.pop((row.crop_id, row.unit), None)
        row.quantity = line.quantity if line else Decimal(0)
        row.asked = line.asked if line else ""
        row.save(update_fields=["quantity", "asked"])
    OrderLine.objects.bulk_create(
        OrderLine(
            order=order, crop=line.crop, unit=line.unit, quantity=line.quantity, asked=line.asked
        )
        for line in wanted.values()
    )


def _state(order: Order) -> dict[str, object]:
    """Return what an entry keeps of an order, as plain text."""
    order.refresh_from_db()
    return {
        "due": order.due.isoformat(),
        "closed": order.closed_at.isoformat() if order.closed_at else "",
        "cancelled": order.cancelled_at.isoformat() if order.cancelled_at else "",
        "lines": {
            f"{line.crop_id}:{line.unit}": [str(line.quantity), line.asked, str(line.told)]
            for line in order.lines.all()
        },
        "repeats": _repeats_until(order.standing),
    }


def _repeats_until(standing: StandingOrder | None) -> str:
    """Return "" of an order that does not repeat, "on" of one that does, else its last day."""
    if standing is None:
        return ""
    return standing.ends.isoformat() if standing.ends else "on"


def _enter(book: Book, order: Order, kind: str, before: dict[str, object]) -> None:
    OrderEntry.objects.create(
        action=book.action, order=order, kind=kind, before=before, after=_state(order)
    )


def _repeat(book: Book, order: Order) -> None:
    """Let an order repeat every week, from its own day on."""
    standing = StandingOrder.objects.create(
        id=uuid5(book.act.id, "every week"),
        outlet=order.outlet,
        starts=order.due + WEEK,
        said_by=book.act.person,
        said_at=book.act.at,
    )
    StandingLine.objects.bulk_create(
        StandingLine(
            standing=standing, crop=line.crop, unit=line.unit,
            quantity=line.quantity, asked=line.asked,
        )
        for line in order.lines.filter(quantity__gt=0)
    )  # fmt: skip
    order.standing = standing
    order.save(update_fields=["standing"])


def lock_order(book_or_act: Book | Act, key: UUID) -> Order:
    """Return an order's row, locked; the day of one that repeats gets its own.

    Raises Conflict("unknown-order").
    """
    act = book_or_act.act if isinstance(book_or_act, Book) else book_or_act
    rows = Order.objects.select_for_update(of=("self",)).select_related("outlet", "standing")
    if not rows.filter(pk=key).exists():
        found = find_order(key, act.farm, act.at)
        if found is None:
            raise Conflict("unknown-order")
        _give_a_row(found)
    return rows.get(pk=key)


def _give_a_row(found: BookOrder) -> None:
    standing = found.standing
    assert standing is not None
    order, made = Order.objects.get_or_create(
        id=found.id,
        defaults={
            "outlet": found.outlet, "due": found.due, "said_by": standing.said_by,
            "said_at": standing.said_at, "standing": standing,
        },
    )  # fmt: skip
    if made:
        _set_lines(
            order,
            [Wanted(line.crop, line.unit, line.quantity, line.asked) for line in found.lines],
        )


def lock_open_order(book_or_act: Book | Act, key: UUID) -> Order:
    """Raises Conflict("unknown-order", "no-longer-open")."""
    order = lock_order(book_or_act, key)
    if not order.is_open:
        raise Conflict("no-longer-open")
    return order


@recorded(Action.Kind.ORDER)
def change_order(book: Book, *, order: UUID, lines: list[Wanted], due: date) -> None:
    """Make an order another: what is wanted, or the day. Of one that repeats only that week's.

    Raises Refused("no-lines", "not-positive", "too-fine", "not-whole", "due-past", "due-far"),
    Conflict("unknown-order", "no-longer-open").
    """
    _need_lines(lines)
    row = lock_open_order(book, order)
    if due != row.due:
        _need_due(book.act, due)
    before = _state(row)
    row.due = due
    row.save(update_fields=["due"])
    _set_lines(row, lines)
    _enter(book, row, Kind.CHANGED, before)


@recorded(Action.Kind.ORDER)
def close_order(book: Book, *, order: UUID) -> None:
    """Say that an order is done: it went out as far as it was got.

    Raises Conflict("unknown-order", "no-longer-open").
    """
    row = lock_open_order(book, order)
    before = _state(row)
    row.closed_at = book.act.at
    row.save(update_fields=["closed_at"])
    Lease.objects.filter(line__order=row).delete()
    _enter(book, row, Kind.CLOSED, before)


def close_as_handed(book: Book, row: Order) -> None:
    """Close an order that is handed over, whether it was done before or not."""
    before = _state(row)
    row.closed_at = row.closed_at or book.act.at
    row.save(update_fields=["closed_at"])
    Lease.objects.filter(line__order=row).delete()
    _enter(book, row, Kind.HANDED, before)


@recorded(Action.Kind.ORDER)
def cancel_order(book: Book, *, order: UUID) -> None:
    """Say that a buyer does not want an order any more; of one that repeats, that week's.

    Raises Conflict("unknown-order", "no-longer-open").
    """
    row = lock_open_order(book, order)
    before = _state(row)
    row.cancelled_at = book.act.at
    row.save(update_fields=["cancelled_at"])
    Lease.objects.filter(line__order=row).delete()
    _enter(book, row, Kind.CANCELLED, before)


@recorded(Action.Kind.ORDER)
def reopen_order(book: Book, *, order: UUID) -> None:
    """Open an order again that was done or cancelled; one handed over is taken back first.

    Raises Conflict("unknown-order", "open-already", "handed-already").
    """
    row = lock_order(book, order)
    if row.is_open:
        raise Conflict("open-already")
    handed = slip_of(row)
    if handed is not None:
        raise Conflict("handed-already", number=handed.number)
    before = _state(row)
    row.closed_at = row.cancelled_at = None
    row.save(update_fields=["closed_at", "cancelled_at"])
    _enter(book, row, Kind.REOPENED, before)


@recorded(Action.Kind.ORDER)
def tell_short(book: Book, *, order: UUID, lacks: dict[str, Decimal]) -> None:
    """Say that a buyer was told how much will lack, by "crop:unit" of the line.

    Raises Conflict("unknown-order").
    """
    row = lock_order(book, order)
    before = _state(row)
    for line in row.lines.all():
        told = lacks.get(f"{line.crop_id}:{line.unit}")
        if told is not None:
            line.told = told
            line.save(update_fields=["told"])
    _enter(book, row, Kind.TOLD, before)


@recorded(Action.Kind.ORDER)
def repeat_order(book: Book, *, order: UUID) -> None:
    """Let an order repeat every week from now on.

    Raises Conflict("unknown-order", "repeats-already").
    """
    row = lock_order(book, order)
    if row.standing is not None:
        raise Conflict("repeats-already")
    before = _state(row)
    _repeat(book, row)
    _enter(book, row, Kind.REPEATS, before)


@recorded(Action.Kind.ORDER)
def end_repeating(book: Book, *, order: UUID) -> None:
    """Let an order that repeats do so no more after this one.

    Raises Conflict("unknown-order", "repeats-not").
    """
    row = lock_order(book, order)
    standing = row.standing
    if standing is None or not standing.goes_on_after(row.due):
        raise Conflict("repeats-not")
    before = _state(row)
    standing.ends = row.due + timedelta(days=1)
    standing.save(update_fields=["ends"])
    _enter(book, row, Kind.ENDS, before)


def take_back_entry(entry: OrderEntry, at: Act) -> None:
    """Make an order what it was before an entry; what was said by mistake is cancelled."""
    order = Order.objects.select_for_update(of=("self",)).get(pk=entry.order_id)
    before = entry.before or {**entry.after, "cancelled": at.at.isoformat(), "repeats": ""}
    order.due = date.fromisoformat(before["due"])
    order.closed_at = before["closed"] or None
    order.cancelled_at = before["cancelled"] or None
    _set_repeats(order, before["repeats"])
    order.save()
    for line in order.lines.all():
        quantity, asked, told = before["lines"].get(f"{line.crop_id}:{line.unit}", ["0", "", "0"])
        line.quantity, line.asked, line.told = Decimal(quantity), asked, Decimal(told)
        line.save(update_fields=["quantity", "asked", "told"])


def _set_repeats(order: Order, until: str) -> None:
    """Let an order repeat as it did; its standing one, where it did not, has no day but its own."""
    standing = order.standing
    if standing is None:
        return
    if not until:
        standing.ends = standing.starts
        order.standing = None
    else:
        standing.ends = None if until == "on" else date.fromisoformat(until)
    standing.save(update_fields=["ends"])


@recorded(Action.Kind.TAKE_OUT)
def take_for_order(
    book: Book,
    *,
    order: UUID,
    lot: str,
    quantity: Decimal | None = None,
    beyond: bool = False,
    out_of_reach: str = "",
) -> None:
    """Take a crate out for an order, all of it or so much; never more than is in it.

    No more than its line still lacks, so that a page left open takes nothing twice. beyond: a
    person says so much, or to take it although the line lacks nothing.

    Raises Refused("outlet-refuses", "not-wanted", "not-positive", "too-fine", "not-whole"),
    Conflict("unknown-order", "no-longer-open", "not-here", "past-use-by", "held",
    "taken-already", "line-full").
    """
    row = lock_open_order(book, order)
    locked = book.lock_one(lot)
    line = _line_for(row, locked)
    if line is None:
        raise Refused("not-wanted", code=locked.pk)
    if not locked.is_here and Take.objects.standing().filter(line=line, lot=locked).exists():
        raise Conflict("taken-already", code=locked.pk)
    amount = locked.quantity if quantity is None else min(quantity, locked.quantity)
    if not beyond:
        amount = min(amount, _lacking(line, locked))
    stood = locked.position
    take_from(
        book, locked, amount, row.outlet.purpose, row.outlet,
        out_of_reach=out_of_reach, order=row.pk,
    )  # fmt: skip
    Take.objects.create(line=line, lot=locked, quantity=amount, taken=book.action, stood=stood)
    leases = Lease.objects.filter(line__order=row, person=book.act.person)
    leases.filter(lot=locked).delete()
    leases.update(until=book.act.at + LEASED_FOR)


def _lacking(line: OrderLine, lot: Lot) -> Decimal:
    """Return what a line still lacks. Raises Conflict("taken-already", "line-full")."""
    takes = Take.objects.standing().filter(line=line)
    lacking = line.quantity - sum((take.quantity for take in takes), Decimal(0))
    if lacking > 0:
        return lacking
    mine = takes.filter(lot=lot).exists()
    raise Conflict("taken-already" if mine else "line-full", code=lot.pk)


def _line_for(order: Order, lot: Lot) -> OrderLine | None:
    return order.lines.filter(crop_id=lot.crop_id, unit=lot.unit).first()


def go_for(act: Act, *, order: UUID) -> None:
    """Say that somebody gets an order: the crates shown are theirs for half an hour from now.

    What another person on the same order is on the way to stays theirs.

    Raises Conflict("unknown-order", "no-longer-open").
    """
    with transaction.atomic():
        row = lock_open_order(act, order)
        Lease.objects.filter(line__order=row, until__lte=act.at).delete()
        now = read_order(row.pk, act.farm, act.at, act.person.pk)
        assert now is not None
        lines = {(line.crop_id, line.unit): line for line in row.lines.all()}
        Lease.objects.filter(line__order=row, person=act.person).delete()
        Lease.objects.bulk_create(
            Lease(
                line=lines[take.line.crop.pk, take.line.unit],
                lot=take.crate.lot,
                person=act.person,
                quantity=take.quantity,
                until=act.at + LEASED_FOR,
            )
            for take in now.fetch
        )


def mark_missing(act: Act, *, order: UUID, lot: str, quantity: Decimal) -> None:
    """Note that a crate could not be found: it is planned for nobody until somebody sees it.

    Raises Refused("not-wanted"), Conflict("unknown-order", "no-longer-open", "taken-already").
    """
    with transaction.atomic():
        row = lock_open_order(act, order)
        found = Lot.objects.filter(pk=lot).first()
        line = _line_for(row, found) if found else None
        if found is None or line is None:
            raise Refused("not-wanted", code=lot)
        # Another phone may have taken it since the page was drawn.
        if Take.objects.standing().filter(line=line, lot=found).exists() and not found.is_here:
            raise Conflict("taken-already", code=lot)
        if not NotThere.objects.standing().filter(lot=found, line=line).exists():
            NotThere.objects.create(
                lot=found, line=line, person=act.person, at=act.at,
                quantity=quantity, stood=found.position,
            )  # fmt: skip
        Lease.objects.filter(lot=found).delete()


def mark_found(*, order: UUID, lot: str) -> None:
    """Take back that a crate could not be found: the plan may count on it again."""
    NotThere.objects.filter(lot=lot, line__order=order).delete()
