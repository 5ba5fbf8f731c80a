"""Addresses on labels, and what was printed."""

from collections.abc import Iterable
from datetime import date, datetime

from django.db import transaction

from inventory.models import Farm, LabelAddress, LabelPrint, Lot


def set_label_address(farm: Farm, address: str, at: datetime) -> None:
    """Print labels under this address from now on; labels under earlier ones stay ours."""
    with transaction.atomic():
        farm.label_address = address
        farm.save(update_fields=["label_address"])
        if address:
            LabelAddress.objects.get_or_create(address=address, defaults={"since": at})


def record_prints(prints: Iterable[tuple[Lot, date]], at: datetime) -> None:
    """Remember what the labels said, so that those gone wrong can be listed."""
    LabelPrint.objects.bulk_create(LabelPrint(lot=lot, at=at, until=until) for lot, until in prints)
