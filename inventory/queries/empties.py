"""Crates of ours: how many stand with each buyer, and how many are back to be washed."""

from collections.abc import Iterable
from dataclasses import dataclass

from inventory.models import CratesLeft, Empties, Handover, Outlet


@dataclass(frozen=True)
class WithBuyer:
    """How many of our crates stand with a buyer."""

    outlet: Outlet
    crates: int


def count_up(steps: Iterable[tuple[int, int]]) -> int:
    """Return what is left after steps of (added, taken away), each taken away first.

    It never falls below zero: what comes back beyond what was written went out before anybody
    wrote it down. Example: 3 out; then 5 back, 2 out → 2
    """
    left = 0
    for added, away in steps:
        left = max(left - away, 0) + added
    return left


def crates_out() -> list[WithBuyer]:
    """Return the buyers who have crates of ours, most first."""
    rows = CratesLeft.objects.filter(outlet__isnull=False, crates__gt=0).select_related("outlet")
    found = [WithBuyer(row.outlet, row.crates) for row in rows if row.outlet]
    return sorted(found, key=lambda one: (-one.crates, one.outlet.name.lower()))


def crates_with(outlet: Outlet) -> int:
    """Return how many of our crates stand with one buyer."""
    return _left(outlet)


def crates_to_wash() -> int:
    """Return how many came back and nobody said washed: 21 CFR 112.116, food-packing material."""
    return _left(None)


def _left(outlet: Outlet | None) -> int:
    return CratesLeft.objects.filter(outlet=outlet).values_list("crates", flat=True).first() or 0


def count_with(outlet: int) -> int:
    """Add up how many of our crates stand with one buyer, from all that went and came."""
    handed = Handover.objects.standing().filter(order__outlet=outlet)
    back = Empties.objects.standing().filter(outlet=outlet)
    steps = [
        *handed.values_list("action__occurred_at", "crates_out", "crates_back"),
        *((at, 0, number) for at, number in back.values_list("action__occurred_at", "number")),
    ]
    in_time = sorted(steps, key=lambda step: step[0])
    return count_up((out, came_back) for _at, out, came_back in in_time)


def count_to_wash() -> int:
    """Add up how many came back, from anybody, and nobody said washed."""
    handed = Handover.objects.standing().filter(crates_back__gt=0)
    rows = [
        *((at, back, 0) for at, back in handed.values_list("action__occurred_at", "crates_back")),
        *(
            (at, number, 0) if kind == Empties.Kind.BACK else (at, 0, number)
            for at, kind, number in Empties.objects.standing().values_list(
                "action__occurred_at", "kind", "number"
            )
        ),
    ]
    in_time = sorted(rows, key=lambda row: (row[0], row[2]))
    return count_up((back, washed) for _at, back, washed in in_time)


def wrong_counts() -> list[str]:
    """Return a line for each kept number of crates that differs from what went and came.

    The farm's row is to be held, so that nobody writes meanwhile.
    """
    kept: dict[int | None, int] = dict(CratesLeft.objects.values_list("outlet", "crates"))
    buyers = Handover.objects.values_list("order__outlet", flat=True)
    counted: dict[int | None, int] = {None: count_to_wash()}
    counted |= {outlet: count_with(outlet) for outlet in {*buyers, *kept} if outlet}
    return [
        f"crates of ours, {f'buyer {outlet}' if outlet else 'to wash'}: "
        f"{kept.get(outlet, 0)} kept, {crates} counted"
        for outlet, crates in counted.items()
        if kept.get(outlet, 0) != crates
    ]
