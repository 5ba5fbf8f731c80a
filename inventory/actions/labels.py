"""Addresses on labels, and what was printed."""

from collections.abc import Iterable
from datetime import date, datetime

from inventory.models import LabelPrint, Lot


def record_prints(prints: Iterable[tuple[Lot, date]], at: datetime, address: str = "") -> None:
    """Remember what the labels said, so that those to be printed again can be listed."""
    LabelPrint.objects.bulk_create(
        LabelPrint(lot=lot, at=at, until=until, address=address) for lot, until in prints
    )
