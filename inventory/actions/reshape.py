"""Counting a crate, splitting it, combining and re-sorting crates into new ones."""

from decimal import Decimal

from inventory.actions.movements import child_of, need_in_date
from inventory.errors import Refused
from inventory.ledger.book import Book, need, need_quantity, portion_of, recorded
from inventory.models import Action, Lot, Movement, Position
from inventory.rotation.fit import Doing
from inventory.rotation.stall import deal


@recorded(Action.Kind.COUNT)
def count_lots(
    book: Book,
    *,
    figures: dict[str, Decimal],
    reason: str,
    position: Position | None = None,
) -> None:
    """Set crates to what a person counted, by code; the difference stays in the ledger.

    position: where they were seen. A crate counted as empty can so be found again there.

    Raises Refused("not-positive", "too-fine", "not-whole"), Conflict("not-here").
    """
    for lot in book.lock(figures):
        figure = figures[lot.pk]
        if figure:
            need_quantity(figure, lot.unit)
        need(lot, Doing.COUNT)
        found_again = lot.state == Lot.State.EMPTY and figure
        state = ""
        if position or found_again:
            state = Lot.State.IN_PLACE if position else Lot.State.TO_PUT_AWAY
        book.write(
            lot,
            Movement.Kind.COUNTED,
            change=figure - lot.quantity,
            figure=figure,
            note=reason,
            state=state,
            position=position,
        )


@recorded(Action.Kind.COUNT)
def say_missing(book: Book, *, lot: str, portion: Decimal | str, reason: str) -> None:
    """Write that so much of a crate is not there, of what was in it then, not of what is now.

    Raises Refused("not-positive", "too-fine", "not-whole"), Conflict("not-here",
    "more-than-there").
    """
    locked = book.lock_one(lot)
    need(locked, Doing.COUNT)
    amount = portion_of(locked, portion)
    left = locked.quantity - amount
    book.write(locked, Movement.Kind.COUNTED, change=-amount, figure=left, note=reason)


@recorded(Action.Kind.SPLIT)
def split_lot(book: Book, *, lot: str, quantity: Decimal) -> None:
    """Put part of a crate into a second one, which stands where the first one does.

    Raises Refused("leave-some", "not-positive", "too-fine", "not-whole"), Conflict("not-here",
    "past-use-by", "held", "happened-before").
    """
    parent = book.lock_one(lot)
    book.need_latest(parent)
    need_in_date(book, parent, Doing.SPLIT)
    need_quantity(quantity, parent.unit)
    if quantity >= parent.quantity:
        raise Refused(
            "leave-some", field="quantity", code=lot, left=parent.quantity, unit=parent.unit
        )
    child = child_of(book, [(parent, quantity)], quantity, book.act.happened_at)
    book.write(parent, Movement.Kind.SPLIT, change=-quantity)
    book.write(
        child,
        Movement.Kind.SPLIT,
        change=quantity,
        state=parent.state,
        position=parent.position,
    )


@recorded(Action.Kind.COMBINE)
def combine_lots(book: Book, *, lots: list[str], position: Position | None = None) -> None:
    """Put crates of one crop together in one. It keeps the oldest cut and the most life used.

    Raises Refused("two-crates", "not-alike"), Conflict("not-here", "past-use-by", "held",
    "happened-before").
    """
    parents = _alike(book, lots, Doing.COMBINE)
    if len(parents) < 2:
        raise Refused("two-crates", field="lots")
    combine(book, parents, position)


def combine(book: Book, parents: list[Lot], position: Position | None) -> None:
    """Write that locked crates of one crop, that may be, were put together in one."""
    grades = {parent.grade for parent in parents}
    grade = grades.pop() if len(grades) == 1 else Lot.Grade.UNSORTED
    into_one(book, parents, Movement.Kind.COMBINED, grade, position)


def into_one(
    book: Book, parents: list[Lot], kind: Movement.Kind, grade: str, position: Position | None
) -> None:
    """Write that all that is in some crates is in a new one now."""
    total = sum((parent.quantity for parent in parents), Decimal(0))
    links = [(parent, parent.quantity) for parent in parents]
    child = child_of(book, links, total, book.act.happened_at, grade=grade)
    _stand(book, child, total, kind, parents, position)
    for parent in parents:
        book.write(parent, kind, change=-parent.quantity)


@recorded(Action.Kind.RESORT)
def resort_lots(
    book: Book,
    *,
    lots: list[str],
    firsts: Decimal,
    seconds: Decimal,
    culls: Decimal,
    lost: Decimal,
    destination: str = "",
    position: Position | None = None,
) -> None:
    """Sort crates again into firsts and seconds; the four amounts must add up to all of it.

    culls are discarded to `destination`, lost is weight lost by drying and trimming. Which
    crate the culls came from is not known: they are booked in code order.

    Raises Refused("no-crates", "not-alike", "sort-sum", "destination", "not-positive", "too-fine",
    "not-whole"), Conflict("not-here", "past-use-by", "held", "happened-before").
    """
    parents = _alike(book, lots, Doing.SORT)
    if not parents:
        raise Refused("no-crates", field="lots")
    total = sum((parent.quantity for parent in parents), Decimal(0))
    if firsts + seconds + culls + lost != total:
        raise Refused("sort-sum", field="firsts", total=total, unit=parents[0].unit)
    for name, amount in (
        ("firsts", firsts),
        ("seconds", seconds),
        ("culls", culls),
        ("lost", lost),
    ):
        if amount:
            need_quantity(amount, parents[0].unit, field=name)
    if culls and not destination:
        raise Refused("destination", field="destination")
    shares = _share_out(parents, [firsts, seconds, culls, lost])
    for index, (grade, amount) in enumerate(
        ((Lot.Grade.FIRSTS, firsts), (Lot.Grade.SECONDS, seconds))
    ):
        if amount:
            links = [(parent, shares[parent.pk][index]) for parent in parents]
            child = child_of(book, links, amount, book.act.happened_at, grade=grade)
            _stand(book, child, amount, Movement.Kind.RESORTED, parents, position)
    for parent in parents:
        _empty_by_sorting(book, parent, shares[parent.pk], destination)


def _empty_by_sorting(book: Book, parent: Lot, shares: list[Decimal], destination: str) -> None:
    firsts, seconds, culled, lost = shares
    if culled:
        book.write(
            parent,
            Movement.Kind.DISCARDED,
            change=-culled,
            reason=Movement.Reason.CULLED,
            destination=destination,
        )
    if lost:
        book.write(parent, Movement.Kind.WEIGHT_LOST, change=-lost)
    book.write(parent, Movement.Kind.RESORTED, change=-(firsts + seconds))


def need_free(book: Book, lot: Lot, doing: Doing) -> None:
    """Raise Conflict("not-here", "past-use-by", "held", "happened-before") unless something new
    may be made of a crate."""
    book.need_latest(lot)
    need_in_date(book, lot, doing)


def _alike(book: Book, codes: list[str], doing: Doing) -> list[Lot]:
    lots = book.lock(codes)
    for lot in lots:
        need_free(book, lot, doing)
        if (lot.crop_id, lot.unit) != (lots[0].crop_id, lots[0].unit):
            raise Refused("not-alike", field="lots", code=lot.pk)
    return lots


def _stand(
    book: Book,
    child: Lot,
    quantity: Decimal,
    kind: Movement.Kind,
    parents: list[Lot],
    position: Position | None,
) -> None:
    """Put a new crate where asked, else where the first of its parents stands."""
    position = position or next((lot.position for lot in parents if lot.position_id), None)
    book.write(
        child,
        kind,
        change=quantity,
        state=Lot.State.IN_PLACE if position else Lot.State.TO_PUT_AWAY,
        position=position,
    )


def _share_out(parents: list[Lot], amounts: list[Decimal]) -> dict[str, list[Decimal]]:
    """Deal the amounts out over the crates in code order; each crate is used up exactly."""
    rows = deal([parent.quantity for parent in parents], amounts)
    return {parent.pk: row for parent, row in zip(parents, rows, strict=True)}
