"""What a label says, whose label a scanned text is, and which labels have gone wrong."""

from collections.abc import Iterable
from datetime import timedelta
from urllib.parse import urlsplit

from inventory.codes import InvalidCode, read_code
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

    Only this site's own address, and those labels were printed under before, are taken, and
    only with a right check character. Raises NotOurs.
    """
    kind, code = "", text.strip()
    if "/" in code:
        address, code = code.rsplit("/", 1)
        address, _slash, kind = address.rpartition("/")
        if kind.upper() not in ("L", "P") or not _is_ours(address, host):
            raise NotOurs(text)
    try:
        return kind.upper(), read_code(code)
    except InvalidCode as error:
        raise NotOurs(text) from error


def _is_ours(address: str, host: str) -> bool:
    try:
        found = urlsplit(address.lower())
    except ValueError:
        return False
    if found.scheme not in ("http", "https") or found.path.strip("/"):
        return False
    known = {urlsplit(known.address.lower()).netloc for known in LabelAddress.objects.all()}
    return found.netloc == host.lower() or found.netloc in known


def gone_wrong(crates: Iterable[Crate]) -> list[Crate]:
    """Return those of the crates here whose label says a day or more too late."""
    here = LabelPrint.objects.filter(lot__state__in=HERE).order_by("at", "pk")
    printed = dict(here.values_list("lot_id", "until"))
    return [
        crate
        for crate in crates
        if crate.code in printed and printed[crate.code] - crate.lasts_until >= STALE_BY
    ]
