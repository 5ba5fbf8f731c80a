"""Crates of ours: how many stand with each buyer, and how many are back to be washed."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from inventory.models import Empties, Handover, Outlet


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
    steps = _steps_by_buyer()
    outlets = Outlet.objects.in_bulk(steps)
    found = [WithBuyer(outlets[key], count_up(each)) for key, each in steps.items()]
    standing = [one for one in found if one.crates]
    return sorted(standing, key=lambda one: (-one.crates, one.outlet.name.lower()))


def crates_with(outlet: Outlet) -> int:
    """Return how many of our crates stand with one buyer."""
    return count_up(_steps_by_buyer(outlet).get(outlet.pk, []))


def _steps_by_buyer(outlet: Outlet | None = None) -> dict[int, list[tuple[int, int]]]:
    """Return (out, back) of each delivery and each return by itself, in order of time."""
    handed = Handover.objects.standing()
    back = Empties.objects.standing().filter(kind=Empties.Kind.BACK)
    if outlet is not None:
        handed, back = handed.filter(order__outlet=outlet), back.filter(outlet=outlet)
    rows = [
        *handed.values_list("action__occurred_at", "order__outlet", "crates_out", "crates_back"),
        *(
            (at, key, 0, number)
            for at, key, number in back.values_list("action__occurred_at", "outlet", "number")
        ),
    ]
    steps: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for _at, key, out, came_back in sorted(rows, key=lambda row: row[0]):
        steps[key].append((out, came_back))
    return steps


def crates_to_wash() -> int:
    """Return how many came back and nobody said washed: 21 CFR 112.116, food-packing material."""
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
