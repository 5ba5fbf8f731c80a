"""What a crate's entries add up to. Pure: entries in, plain values out, no Django.

An entry is anything with the fields of a row of the ledger; see `Entry`.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any, Protocol, TypeVar
from uuid import UUID


class State(StrEnum):
    """Where a crate stands. Position is known only in place."""

    TO_PUT_AWAY = "to put away"
    IN_PLACE = "in place"
    OUT = "out"
    EMPTY = "empty"
    VOID = "void"


# The purpose of what goes back to its supplier, on hold or not.
SENT_BACK = "sent back"
# The purpose of what goes to a market, and is out there until that day is closed.
MARKET = "market"
HERE = frozenset({State.TO_PUT_AWAY, State.IN_PLACE})


class Kind(StrEnum):
    """What an entry says happened to a crate."""

    BROUGHT_IN = "brought in"
    CORRECTED = "corrected"
    MOVED = "moved"
    OUT = "out"
    BACK = "back"
    SETTLED = "settled"
    COUNTED = "counted"
    SPLIT = "split"
    COMBINED = "combined"
    RESORTED = "re-sorted"
    WEIGHT_LOST = "weight lost"
    DISCARDED = "discarded"
    INSPECTED = "inspected"
    HELD = "held"
    RELEASED = "released"
    UNDONE = "undone"
    TAG_ON = "tag on"
    TAG_OFF = "tag off"


class Entry(Protocol):
    """One entry of the ledger, as the fold reads it.

    change: signed, in the crate's unit. amount: what it is about where that is not the change.
    state: where the crate stands from then on; empty leaves it. figure: what a count saw.
    detail: what else it says.
    """

    pk: int
    action_id: UUID
    kind: str
    occurred_at: datetime
    change: Decimal
    amount: Decimal
    figure: Decimal | None
    state: str
    position_id: str | None
    purpose: str
    outlet_id: int | None
    other_party: str
    kept_until: date | None
    undoes_id: int | None
    detail: dict[str, Any]


SomeEntry = TypeVar("SomeEntry", bound=Entry)


@dataclass(frozen=True)
class Folded:
    """What a crate's entries say it is. at_market: some of it is, not yet back or settled."""

    quantity: Decimal
    state: str
    position_id: str | None
    held: bool
    kept_until: date | None
    seen_at: datetime | None
    at_market: bool = False


def standing(entries: Iterable[SomeEntry]) -> list[SomeEntry]:
    """Return the entries that still count, in the order in which they happened.

    An undone entry and its undoing say nothing. At one moment the order of the ledger decides.
    """
    entries = list(entries)
    undone = {entry.undoes_id for entry in entries if entry.undoes_id}
    left = [entry for entry in entries if entry.pk not in undone and entry.kind != Kind.UNDONE]
    return sorted(left, key=lambda entry: (entry.occurred_at, entry.pk))


def up_to(entries: Iterable[SomeEntry], moment: datetime) -> list[SomeEntry]:
    """Return the entries that count and had happened by a moment, as is known now."""
    return [entry for entry in standing(entries) if entry.occurred_at <= moment]


def fold(entries: Iterable[Entry]) -> Folded:
    """Return what a crate's entries add up to, whatever order they come in.

    Quantity is the sum of all changes. State and position follow the latest standing entry
    that sets them, hold and keep the latest that speaks of them. A crate in the house that
    holds nothing is empty.
    """
    counted = standing(entries)
    quantity = sum((entry.change for entry in counted), Decimal(0))
    state, position_id, held, kept_until = str(State.VOID), None, False, None
    for entry in counted:
        if entry.state:
            state, position_id = entry.state, entry.position_id
        if entry.kind in (Kind.HELD, Kind.RELEASED):
            held = entry.kind == Kind.HELD
        if entry.kind == Kind.INSPECTED and entry.kept_until:
            kept_until = entry.kept_until
    if state in HERE and not quantity:
        state = str(State.EMPTY)
    return Folded(
        quantity=quantity,
        state=state,
        position_id=position_id if state == State.IN_PLACE else None,
        held=held,
        kept_until=kept_until,
        seen_at=counted[-1].occurred_at if counted else None,
        at_market=any(outing.purpose == MARKET for outing in _left_out(counted)),
    )


@dataclass(frozen=True)
class Outing:
    """What something went out for, and to whom.

    buyer: the buyer's key, else the name it was given to. to: how they were called then, which
    tells no two outings apart: a buyer may be renamed.
    """

    purpose: str
    buyer: int | str
    to: str = field(default="", compare=False)

    @classmethod
    def of(cls, entry: Entry) -> "Outing":
        return cls(entry.purpose, entry.outlet_id or entry.other_party, entry.other_party)

    @property
    def outlet_id(self) -> int | None:
        return self.buyer if isinstance(self.buyer, int) else None


def still_out(entries: Iterable[Entry]) -> dict[Outing, Decimal]:
    """Return what of a crate is out and neither back nor settled, latest last."""
    return _left_out(standing(entries))


def _left_out(counted: Iterable[Entry]) -> dict[Outing, Decimal]:
    pools: dict[Outing, Decimal] = {}
    for entry in counted:
        outing = Outing.of(entry)
        if entry.kind == Kind.OUT:
            pools[outing] = pools.pop(outing, Decimal(0)) + entry.amount
        elif entry.kind in (Kind.BACK, Kind.SETTLED) and outing in pools:
            pools[outing] -= entry.amount
    return {outing: amount for outing, amount in pools.items() if amount > 0}
