"""What a label says, whose label a scanned text is, and which labels have gone wrong."""

from collections.abc import Iterable
from datetime import timedelta

from inventory.codes.scanned import host_of, read_address, read_bare
from inventory.labels import STOCKS, Stock, custom_stock
from inventory.models import Farm, LabelAddress, LabelPrint
from inventory.queries.crates import HERE, Crate

STALE_BY = timedelta(days=1)


class NotOurs(ValueError):
    """A scanned text that is no label of this farm."""


def link(farm: Farm, kind: str, code: str) -> str:
    """Return what a symbol holds: the farm's address in capitals, or the bare code."""
    return f"{farm.label_address.upper()}/{kind}/{code}" if farm.label_address else code


def farm_stock(farm: Farm) -> Stock:
    """Return the stock the farm prints on."""
    if farm.label_stock in STOCKS:
        return STOCKS[farm.label_stock]
    return custom_stock(float(farm.label_w_mm or 0), float(farm.label_h_mm or 0))


def read_label(text: str, host: str) -> tuple[str, str]:
    """Return (kind, code) of a scanned text: "L" or "P" with an address, "" for a bare code.

    Only this site's own name, and those labels were printed under before, are taken, and only
    with a right check character. Raises NotOurs.
    """
    bare = read_bare(text)
    if bare:
        return "", bare
    found = read_address(text, {host_of(f"//{host}"), *_known_hosts()} - {""})
    if found is None:
        raise NotOurs(text)
    return found


def _known_hosts() -> set[str]:
    return {host_of(known.address) for known in LabelAddress.objects.all()}


def gone_wrong(crates: Iterable[Crate]) -> list[Crate]:
    """Return those of the crates here whose label says a day or more too late."""
    here = LabelPrint.objects.filter(lot__state__in=HERE).order_by("at", "pk")
    printed = dict(here.values_list("lot_id", "until"))
    return [
        crate
        for crate in crates
        if crate.code in printed and printed[crate.code] - crate.lasts_until >= STALE_BY
    ]
