"""What a label says, whose label a scanned text is, and which labels have gone wrong."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Q

from inventory.codes.scanned import host_of, read_address, read_bare
from inventory.labels import STOCKS, Stock, custom_stock
from inventory.models import Change, Farm, LabelAddress, LabelPrint, Tag
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


@dataclass(frozen=True)
class KnownAddress:
    """An address whose labels are ours. held_by: "now", "labels", or "" if it may go."""

    address: str
    held_by: str


def known_addresses(farm: Farm) -> list[KnownAddress]:
    """Return the addresses labels were set to carry, the latest first, and what holds each.

    Of places' labels nobody wrote down what was printed: crates' labels and tags hold an address.
    """
    return [
        KnownAddress(known.address, _held_by(known, farm)) for known in LabelAddress.objects.all()
    ]


def _held_by(known: LabelAddress, farm: Farm) -> str:
    if known.address == farm.label_address:
        return "now"
    return "labels" if is_printed(known) else ""


def is_printed(known: LabelAddress) -> bool:
    """Return whether crates' labels were printed, or tags made, while this address was set."""
    return any(
        LabelPrint.objects.filter(_within("at", *span)).exists()
        or Tag.objects.filter(_within("made_at", *span)).exists()
        for span in _spans(known)
    )


def _within(field: str, since: datetime, until: datetime | None) -> Q:
    ended = Q((f"{field}__lt", until)) if until else Q()
    return Q((f"{field}__gte", since)) & ended


def _spans(known: LabelAddress) -> Iterator[tuple[datetime, datetime | None]]:
    """Yield the times an address was the one set, as the owner's changes tell them."""
    changes = Change.objects.filter(subject="farm", field="label_address").order_by("pk")
    told = [(known.since, known.address), *changes.values_list("action__recorded_at", "after")]
    told.sort(key=lambda change: change[0])
    ends = [*(since for since, _address in told[1:]), None]
    for (since, address), until in zip(told, ends, strict=True):
        if address == known.address:
            yield since, until


def under_old_address(crates: Iterable[Crate], farm: Farm) -> list[Crate]:
    """Return those of the crates here whose last label leads to another address than is set now."""
    here = LabelPrint.objects.filter(lot__state__in=HERE).order_by("at", "pk")
    printed = dict(here.values_list("lot_id", "address"))
    ours = ("", farm.label_address)
    if not farm.label_address:
        return []
    return [crate for crate in crates if printed.get(crate.code, "") not in ours]


def gone_wrong(crates: Iterable[Crate]) -> list[Crate]:
    """Return those of the crates here whose label says a day or more too late."""
    here = LabelPrint.objects.filter(lot__state__in=HERE).order_by("at", "pk")
    printed = dict(here.values_list("lot_id", "until"))
    return [
        crate
        for crate in crates
        if crate.code in printed and printed[crate.code] - crate.lasts_until >= STALE_BY
    ]
