"""The ages that entries keep, filled in where they were written by an earlier program."""

from datetime import datetime

from django.db.models import Exists, OuterRef

from inventory.models import Crop, Farm, Lot, Movement
from inventory.queries.experience import unknown_ages


def fill_ages(at: datetime) -> int:
    """Give the entries that tell how long crops keep their ages, and return how many had none."""
    farm = Farm.objects.first()
    if farm is None:
        return 0
    filled = 0
    for crop in Crop.objects.filter(Exists(Lot.objects.filter(crop=OuterRef("pk")))):
        entries = unknown_ages(crop, farm, at)
        Movement.objects.bulk_update(entries, ["aged_days"], batch_size=200)
        filled += len(entries)
    return filled
