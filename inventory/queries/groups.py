"""Crates that differ in nothing but their code, shown as one line that opens."""

from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby

from inventory.queries.crates import Crate


@dataclass(frozen=True)
class CrateGroup:
    crates: list[Crate]

    @property
    def first(self) -> Crate:
        return self.crates[0]

    @property
    def quantity(self) -> Decimal:
        return sum((crate.lot.quantity for crate in self.crates), Decimal(0))


def group_crates(crates: list[Crate]) -> list[CrateGroup]:
    """Group neighbours of one intake, place and days left. Order is kept."""
    alike = groupby(
        crates,
        key=lambda crate: (
            crate.lot.crop_id,
            crate.lot.intake_id or crate.code,
            crate.lot.unit,
            crate.lot.position_id,
            crate.days_left,
            crate.days_over,
            crate.verdict,
            crate.lot.kept_until,
        ),
    )
    return [CrateGroup(list(group)) for _, group in alike]
