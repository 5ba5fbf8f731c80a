"""Handing orders over, and what a buyer says of them afterwards."""

import secrets
from decimal import Decimal
from uuid import UUID

from django.db.models import Max

from inventory.actions.empties import recount_crates
from inventory.actions.orders import close_as_handed, lock_order
from inventory.actions.photos import keep_photo
from inventory.codes import ALPHABET
from inventory.errors import Conflict, Refused
from inventory.ledger.book import Book, need_quantity, recorded
from inventory.models import Action, Credit, Farm, Handover, Outlet
from inventory.queries.credits import left_on_slip
from inventory.queries.run import in_run_order
from inventory.queries.slips import crates_needed, make_paper, slip_of, to_hand_over


@recorded(Action.Kind.HANDOVER)
def hand_over(
    book: Book,
    *,
    order: UUID,
    to_whom: str,
    crates_back: int = 0,
    crates_out: int | None = None,
) -> None:
    """Say that an order was handed over, to whom, and what came back empty then.

    It makes the numbered slip and closes the order. crates_out: None for as many as its crates
    need.

    Raises Refused("who-took"), Conflict("unknown-order", "no-longer-open", "handed-already",
    "nothing-taken").
    """
    if not to_whom:
        raise Refused("who-took", field="to_whom")
    row = lock_order(book, order)
    if row.cancelled_at is not None:
        raise Conflict("no-longer-open")
    earlier = slip_of(row)
    if earlier is not None:
        raise Conflict("handed-already", number=earlier.number)
    handed = to_hand_over(row)
    if not handed:
        raise Conflict("nothing-taken")
    Handover.objects.create(
        action=book.action,
        order=row,
        number=_next_number(),
        crates_out=crates_needed(handed) if crates_out is None else crates_out,
        crates_back=crates_back,
        to_whom=to_whom,
        at=book.act.happened_at,
        paper=make_paper(row, handed, book.act.farm, book.act.today),
        page_token=_new_token(),
    )
    close_as_handed(book, row)
    recount_crates(row.outlet_id)


def _next_number() -> int:
    """Return the number of the next slip; the farm's row is locked, so that none is given twice."""
    Farm.objects.select_for_update().get()
    return (Handover.objects.aggregate(latest=Max("number"))["latest"] or 0) + 1


def _new_token() -> str:
    """Return what nobody guesses: 130 random bits, in signs that keep a QR code small."""
    return "".join(secrets.choice(ALPHABET) for _sign in range(26))


@recorded(Action.Kind.CREDIT)
def give_credit(
    book: Book,
    *,
    slip: int,
    lot: str,
    what: str,
    quantity: Decimal | None = None,
    photo: bytes | None = None,
) -> None:
    """Note what a buyer says of a crate on a slip. what: a Credit.What; quantity: None for all;
    photo: a small JPEG of what they mean.

    Raises Refused("not-on-slip", "not-positive", "too-fine", "not-whole"),
    Conflict("slip-withdrawn", "more-than-slip").
    """
    handover = Handover.objects.select_for_update(of=("self",)).get(number=slip)
    if handover.is_withdrawn:
        raise Conflict("slip-withdrawn")
    unit, left = left_on_slip(handover).get(lot, ("", None))
    if left is None:
        raise Refused("not-on-slip", field="lot", code=lot)
    amount = left if quantity is None else quantity
    if amount > left or not left:
        raise Conflict("more-than-slip", field="quantity", code=lot, left=left, unit=unit)
    need_quantity(amount, unit)
    if photo:
        # Before the row: one that names a photo has it. What no row names is cleared away.
        keep_photo(book.action.pk, photo)
    Credit.objects.create(
        action=book.action,
        handover=handover,
        lot_id=lot,
        what=what,
        quantity=amount,
        has_photo=bool(photo),
    )


def drive_earlier(*, outlet: Outlet, before: Outlet) -> None:
    """Put a buyer's stop on the run just before another's, from now on."""
    stops = [stop for stop in in_run_order(Outlet.objects.all()) if stop != outlet]
    stops.insert(stops.index(before), outlet)
    for number, stop in enumerate(stops, start=1):
        stop.run_order = number
    Outlet.objects.bulk_update(stops, ["run_order"])
