"""Counting a room by scanning it: what was seen where, and settling what differs."""

from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction

from inventory.errors import Refused
from inventory.ledger.book import Act, Book, recorded
from inventory.ledger.outings import out_of
from inventory.models import Action, CountRound, CountSeen, Lot, Movement, Position


@dataclass(frozen=True)
class Misplaced:
    lot: str
    position: str


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
    """Note that a crate was seen at a place."""
    with transaction.atomic():
        CountSeen.objects.update_or_create(
            round=visit(act, position=position),
            lot=lot,
            defaults={"position": position, "at": act.at},
        )


def end_round(act: Act, *, count_round: CountRound) -> None:
    CountRound.objects.filter(pk=count_round.pk, ended_at__isnull=True).update(ended_at=act.at)


@recorded(Action.Kind.COUNT)
def settle_round(
    book: Book, *, missing: list[str], misplaced: list[Misplaced], back: list[Misplaced]
) -> None:
    """Set missing crates to nothing and misplaced ones to where they were seen.

    back: crates out on record that stand here after all; all that is out of them comes back.
    """
    if not (missing or misplaced or back):
        raise Refused("nothing-to-settle")
    places = {row.lot: row.position for row in [*misplaced, *back]}
    spots = Position.objects.in_bulk(set(places.values()))
    returning = {row.lot for row in back}
    for lot in book.lock([*missing, *places]):
        spot = spots.get(places.get(lot.pk))
        if lot.pk in returning:
            _bring_all_back(book, lot, spot)
        elif lot.is_here and spot:
            book.write(lot, Movement.Kind.MOVED, state=Lot.State.IN_PLACE, position=spot)
        elif lot.is_here:
            change = -lot.quantity
            book.write(lot, Movement.Kind.COUNTED, change=change, figure=0, note="missing")


def _bring_all_back(book: Book, lot: Lot, position: Position) -> None:
    """Bring back all that is out of a crate that never left and stood in the cold meanwhile."""
    for (purpose, other_party), quantity in out_of(lot).items():
        book.write(
            lot,
            Movement.Kind.BACK,
            change=quantity,
            amount=quantity,
            purpose=purpose,
            other_party=other_party,
            warm_hours=Decimal(0),
            state=Lot.State.IN_PLACE,
            position=position,
        )
