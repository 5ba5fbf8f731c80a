"""Crates that differ in nothing but their code, shown as one line that opens."""

from dataclasses import dataclass
from decimal import Decimal

from inventory.queries.crates import Crate


@dataclass(frozen=True)
class CrateGroup:
    crates: list[Crate]

    @property
    def first(self) -> Crate:
        """The one to go first of them."""
        return self.crates[0]

    @property
    def quantity(self) -> Decimal:
        return sum((crate.lot.quantity for crate in self.crates), Decimal(0))


def group_crates(crates: list[Crate]) -> list[CrateGroup]:
    """Group crates of one harvest on one shelf and one list, each group where its first stood."""
    groups: dict[tuple, list[Crate]] = {}
    for crate in crates:
        groups.setdefault(_alike(crate), []).append(crate)
    return [CrateGroup(group) for group in groups.values()]


def _alike(crate: Crate) -> tuple:
    of = vars(crate.lot)  # to ask a row for the key of another takes ten times as long
    return (
        of["crop_id"],
        of["intake_id"] or crate.code,
        of["unit"],
        of["grade"],
        of["position_id"],
        of["kept_until"],
        crate.verdict,
    )
