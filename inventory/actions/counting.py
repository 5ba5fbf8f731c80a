"""Counting a room by scanning it: what was seen where, and settling what differs."""

from decimal import Decimal

from django.db import transaction

from inventory.actions.movements import fields_of
from inventory.errors import Refused
from inventory.ledger.book import Act, Book, recorded
from inventory.models import Action, CountRound, CountSeen, Lot, Movement, Position
from inventory.queries.counting import read_round


def open_round(act: Act) -> CountRound:
    """Return this person's round that is still going on, or begin one."""
    going_on = CountRound.objects.filter(person=act.person, ended_at__isnull=True).first()
    return going_on or CountRound.objects.create(person=act.person, started_at=act.at)


def visit(act: Act, *, position: Position) -> CountRound:
    """Note that a place was walked to: what should stand there and is not seen is missing."""
    going_on = open_round(act)
    going_on.places.add(position)
    return going_on


def see(act: Act, *, lot: Lot, position: Position) -> None:
    """Note that a crate was seen at a place, unless it was seen elsewhere since."""
    sight = {"position": position, "at": act.happened_at}
    with transaction.atomic():
        seen, made = CountSeen.objects.get_or_create(
            round=visit(act, position=position), lot=lot, defaults=sight
        )
        if not made and seen.at <= act.happened_at:
            CountSeen.objects.filter(pk=seen.pk).update(**sight)


def end_round(act: Act, *, count_round: CountRound) -> None:
    CountRound.objects.filter(pk=count_round.pk, ended_at__isnull=True).update(ended_at=act.at)


@recorded(Action.Kind.COUNT)
def settle_round(
    book: Book,
    *,
    count_round: CountRound,
    missing: list[str],
    misplaced: list[str],
    back: list[str],
) -> None:
    """Settle what a person ticked of what a round found.

    missing: codes to be set to nothing. misplaced: "crate=place" as it was seen, to be moved
    there. back: codes that stand here though out on record; all that is out of them comes back.
    What is no longer so is left alone.

    Raises Refused("nothing-to-settle").
    """
    found = read_round(count_round)
    gone = {lot.pk for lot in found.missing} & set(missing)
    moved = {
        sight.lot_id: sight.position
        for sight in found.misplaced
        if f"{sight.lot_id}={sight.position_id}" in misplaced
    }
    returned = {sight.lot_id: sight.position for sight in found.unexpected if sight.lot_id in back}
    if not (gone or moved or returned):
        raise Refused("nothing-to-settle")
    for lot in book.lock([*gone, *moved, *returned]):
        if lot.pk in returned:
            _bring_all_back(book, lot, returned[lot.pk])
        elif lot.is_here and lot.pk in moved:
            spot = moved[lot.pk]
            book.write(lot, Movement.Kind.MOVED, state=Lot.State.IN_PLACE, position=spot)
        elif lot.is_here:
            change = -lot.quantity
            book.write(lot, Movement.Kind.COUNTED, change=change, figure=0, note="missing")


def _bring_all_back(book: Book, lot: Lot, position: Position) -> None:
    """Bring back all that is out of a crate that never left and stood in the cold meanwhile."""
    for outing, quantity in book.out_of(lot).items():
        book.write(
            lot,
            Movement.Kind.BACK,
            change=quantity,
            amount=quantity,
            **fields_of(outing),
            warm_hours=Decimal(0),
            state=Lot.State.IN_PLACE,
            position=position,
        )
