"""What was out of our hands and came back: kitchens get none of it until the owner says so."""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence

from inventory.lives.entries import in_pieces
from inventory.models import Handover, Lot, Movement, Order, Outlet, Parentage, Take
from inventory.rotation.fit import WAS_OUT

# Moments are seconds since 1970, as lives have them.
_Links = Mapping[str, Sequence[tuple[str, float]]]
_Told = dict[str, list[tuple[float, bool]]]


def read_was_out(codes: Collection[str], links: _Links | None = None) -> dict[str, bool]:
    """Return which crates were out of our hands, and whether kitchens are still to get none.

    What was filled from such a crate after it came back was out too. The owner's release ends it.
    links: what each was filled from, and so on, and when, where that is read already.
    """
    links = _links(set(codes)) if links is None else links
    parents = {parent for each in links.values() for parent, _at in each}
    told = _told(set(codes) | parents)
    if not told:
        return {}
    found = {code: _barred(code, None, links, told) for code in codes}
    return {code: barred for code, barred in found.items() if barred is not None}


def _links(codes: set[str]) -> _Links:
    """Return what each crate, and each of its parents, was filled from, and when."""
    found: dict[str, list[tuple[str, float]]] = defaultdict(list)
    fresh = codes
    while fresh:
        rows = [
            row
            for piece in in_pieces(fresh)
            for row in Parentage.objects.filter(child__in=piece).values_list(
                "child", "parent", "at"
            )
        ]
        known = set(found) | codes
        fresh = set()
        for child, parent, at in rows:
            found[child].append((parent, at.timestamp()))
            fresh |= {parent} - known
    return found


def _told(codes: set[str]) -> _Told:
    """Return when each came back from out of our hands (True), or was released (False)."""
    found: _Told = defaultdict(list)
    for piece in in_pieces(codes):
        rows = Movement.objects.filter(
            lot__in=piece,
            kind__in=(Movement.Kind.BACK, Movement.Kind.RELEASED),
            undone_by__isnull=True,
        ).order_by("occurred_at", "pk")
        for entry in rows.only("lot_id", "kind", "occurred_at", "detail"):
            back = entry.kind == Movement.Kind.BACK
            if not back or entry.detail.get(WAS_OUT):
                found[entry.lot_id].append((entry.occurred_at.timestamp(), back))
    return found


def _barred(code: str, until: float | None, links: _Links, told: _Told) -> bool | None:
    """Return whether kitchens get none of a crate as it was then; None where it never was out."""
    inherited = {_barred(parent, at, links, told) for parent, at in links.get(code, [])}
    barred = True if True in inherited else False if False in inherited else None
    for at, back in told.get(code, []):
        if until is not None and at > until:
            break
        barred = True if back else (barred and False)
    return barred


def tags_of(lot: Lot) -> frozenset[str]:
    """Return what an outlet may refuse about one crate."""
    barred = read_was_out([lot.pk]).get(lot.pk)
    return lot.tags | {WAS_OUT} if barred else lot.tags


def left_our_hands(lot: str, purpose: str, outlet: Outlet | int | None) -> bool:
    """Return whether what comes back of a crate was out of our hands.

    What was taken for an order that was neither handed over nor done never left the farm.
    """
    if purpose == Movement.Purpose.MARKET:
        return True
    if purpose != Movement.Purpose.ORDER:
        return False
    takes = Take.objects.standing().filter(lot=lot, line__order__outlet=outlet)
    latest = takes.order_by("-pk").values_list("line__order", flat=True).first()
    if latest is None:
        return True
    done = Order.objects.filter(pk=latest, closed_at__isnull=False).exists()
    return done or Handover.objects.standing().filter(order=latest).exists()
