"""Entries of one crate's ledger as plain values, for the rooms that know no database."""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

SIX = datetime(2026, 6, 10, 6, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Written:
    """An entry; see inventory.ledger.fold.Entry."""

    pk: int
    action_id: UUID
    kind: str
    occurred_at: datetime
    change: Decimal = Decimal(0)
    amount: Decimal = Decimal(0)
    figure: Decimal | None = None
    state: str = ""
    position_id: str | None = None
    purpose: str = ""
    outlet_id: int | None = None
    other_party: str = ""
    kept_until: date | None = None
    undoes_id: int | None = None
    detail: dict[str, Any] = field(default_factory=dict)


def hour(number: float) -> datetime:
    """A moment of the day, in whole or half hours."""
    return SIX + timedelta(hours=number - 6)


def ledger(*told: tuple) -> list[Written]:
    """Entries in the order they were written: (hour, kind, what else they say).

    Each is an action of its own unless "action" numbers it.
    """
    entries = []
    for pk, (at, kind, *said) in enumerate(told, start=1):
        facts = dict(*said)
        action = UUID(int=facts.pop("action", 100 + pk))
        for name in facts.keys() & {"change", "amount", "figure"}:
            facts[name] = Decimal(facts[name])
        entries.append(Written(pk, action, kind, hour(at), **facts))
    return entries
