from datetime import timedelta
from typing import Self

from django.db import models
from django.db.models import Q

from inventory.models.crops import Crop, QuantityField, Source, Unit
from inventory.models.ledger import Action
from inventory.models.people import Person

# What somebody saw in the field a week ago and a day says nothing any more.
ESTIMATE_DAYS = 8
ESTIMATE_LASTS = timedelta(days=ESTIMATE_DAYS)


class EstimateQuerySet(models.QuerySet):
    def standing(self) -> Self:
        """Those whose walk was not undone."""
        return self.filter(action__undone_by__isnull=True)


class Estimate(models.Model):
    """What a block should give of a crop, as somebody said who walked there; 0 is nothing.

    The latest said of a crop, block and unit counts, for eight days. from_day: not ready before.
    """

    action = models.ForeignKey(Action, models.PROTECT, related_name="estimates")
    crop = models.ForeignKey(Crop, models.PROTECT)
    block = models.ForeignKey(Source, models.PROTECT)
    unit = models.CharField(max_length=5, choices=Unit)
    quantity = QuantityField()
    from_day = models.DateField()
    said_by = models.ForeignKey(Person, models.PROTECT)
    said_at = models.DateTimeField()

    objects = EstimateQuerySet.as_manager()

    class Meta:
        ordering = ["said_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(quantity__gte=0), name="a_block_gives_no_less_than_0"
            ),
            models.UniqueConstraint(
                fields=["action", "crop", "block", "unit"],
                name="a_walk_says_a_crop_of_a_block_once",
            ),
        ]

    def __str__(self):
        return f"{self.crop} {self.block} {self.quantity}"
