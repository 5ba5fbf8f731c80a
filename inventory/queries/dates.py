"""What the dates on cases say of the crates that were filled from them."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date

from inventory.models import Lot, Parentage
from inventory.rotation.dates import CaseDates, earliest, read_date


def is_past_use_by(lot: Lot, day: date) -> bool:
    """Return whether nobody may sell, give or use a crate on this day, by its use-by date."""
    return dates_of(lot, parents_of([lot])).is_past_use_by(day)


def dates_of(lot: Lot, parents: Mapping[str, list[Lot]]) -> CaseDates:
    """Return what the cases say that a crate was filled from. parents: see parents_of.

    No query where its intake is read already, or it is of several.
    """
    intake = lot.intake
    if intake is not None:
        return read_date(intake.best_before, intake.best_before_kind)
    return earliest(dates_of(parent, parents) for parent in parents.get(lot.pk, []))


def parents_of(lots: Iterable[Lot]) -> dict[str, list[Lot]]:
    """Return what the crates of several intakes were filled from, and so on, by code."""
    found: dict[str, list[Lot]] = defaultdict(list)
    mixed = {lot.pk for lot in lots if vars(lot)["intake_id"] is None}
    while mixed:
        links = Parentage.objects.filter(child__in=mixed).select_related("parent__intake")
        for link in links:
            found[link.child_id].append(link.parent)
        mixed = {link.parent_id for link in links if link.parent.intake_id is None}
    return found
