"""The run: a day's stops in the order driven, what goes to each, what comes back."""

from collections.abc import Iterable

from inventory.models import Outlet


def in_run_order(outlets: Iterable[Outlet]) -> list[Outlet]:
    """Return buyers in the order one drives: as somebody set it, else by when they want it."""
    return sorted(outlets, key=_run_key)


def _run_key(outlet: Outlet) -> tuple:
    by_time = outlet.by_time.isoformat() if outlet.by_time else "24"
    return (outlet.run_order or 10_000, by_time, outlet.name.lower())
