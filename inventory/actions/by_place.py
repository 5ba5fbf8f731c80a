"""What became of many crates, said in one form: each is a doing of its own, and all or none."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from django.db import transaction

from inventory.actions.movements import take_out
from inventory.actions.quality import discard, inspect
from inventory.actions.reshape import say_missing
from inventory.errors import Refused
from inventory.ledger.book import Act
from inventory.models import Action, Outlet
from inventory.queries.by_place import id_of


@dataclass(frozen=True)
class TakenOut:
    """portion: "all" or how much."""

    lot: str
    portion: Decimal | str
    purpose: str
    outlet: Outlet | None = None
    to: str = ""


@dataclass(frozen=True)
class Discarded:
    lot: str
    portion: Decimal | str
    reason: str
    destination: str


@dataclass(frozen=True)
class Kept:
    """Looked at and kept for so many days. seen: what was seen of it."""

    lot: str
    days: int
    seen: str


@dataclass(frozen=True)
class Missing:
    """So much of it is not there, and nobody knows where it went."""

    lot: str
    portion: Decimal | str
    reason: str


Said = TakenOut | Discarded | Kept | Missing


def write_all(act: Act, *, said: Sequence[Said]) -> Action:
    """Write down what became of crates; return the first doing. Each can be undone by itself.

    Raises what each of them raises, as of the field of its crate; then nothing is written.
    Raises Refused("no-crates").
    """
    if not said:
        raise Refused("no-crates")
    with transaction.atomic():
        done = [_write(replace(act, id=id_of(act.id, n)), one) for n, one in enumerate(said)]
    return done[0]


def _write(act: Act, said: Said) -> Action:
    try:
        return _written(act, said)
    except Refused as refusal:
        refusal.field = f"do-{said.lot}"
        raise


def _written(act: Act, said: Said) -> Action:
    match said:
        case TakenOut(lot, portion, purpose, outlet, to):
            return take_out(act, lot=lot, portion=portion, purpose=purpose, outlet=outlet, to=to)
        case Discarded(lot, portion, reason, destination):
            return discard(act, lot=lot, portion=portion, reason=reason, destination=destination)
        case Kept(lot, days, seen):
            return inspect(act, lot=lot, days=days, seen=seen)
        case Missing(lot, portion, reason):
            return say_missing(act, lot=lot, portion=portion, reason=reason)
