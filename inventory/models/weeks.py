from django.db import models
from django.utils.translation import gettext_lazy as _

from inventory.models.crops import Crop, QuantityField, Unit


class Week(models.Model):
    """That a week of the farm's calendar was counted: its sums below are kept, not looked up."""

    first_day = models.DateField(primary_key=True)
    losses_kept = models.BooleanField(
        default=False, help_text="where life was lost was counted as well"
    )
    record = models.JSONField(
        null=True, blank=True, help_text="what advice reads of it; empty until it is asked for"
    )

    class Meta:
        ordering = ["first_day"]

    def __str__(self):
        return str(self.first_day)


class WeekSum(models.Model):
    """What entries of one sort add up to in a week, of one crop in one of its own units.

    The columns tell the sorts apart as those of an entry do.
    """

    week = models.ForeignKey(Week, models.CASCADE, related_name="sums")
    crop = models.ForeignKey(Crop, models.PROTECT, related_name="+")
    unit = models.CharField(max_length=5, choices=Unit)
    kind = models.CharField(max_length=11)
    purpose = models.CharField(max_length=9, blank=True)
    outcome = models.CharField(max_length=5, blank=True)
    reason = models.CharField(max_length=9, blank=True)
    destination = models.CharField(max_length=13, blank=True)
    bought = models.BooleanField(default=False, help_text="not grown here, as far as known")
    change = QuantityField(help_text="of what is in the house")
    amount = QuantityField(help_text="what it is about where that is not the change")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=[
                    "week", "crop", "unit", "kind", "purpose", "outcome", "reason", "destination",
                    "bought",
                ],
                name="one_sum_a_week_and_sort",
            )
        ]  # fmt: skip

    def __str__(self):
        return f"{self.week_id} {self.kind} {self.change}"


class WeekNet(models.Model):
    """By how much a crop in one unit became more in a week: what later weeks begin with adds up
    from these few rows."""

    week = models.ForeignKey(Week, models.CASCADE, related_name="nets")
    crop = models.ForeignKey(Crop, models.PROTECT, related_name="+")
    unit = models.CharField(max_length=5, choices=Unit)
    change = QuantityField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["week", "crop", "unit"], name="one_net_a_week")
        ]

    def __str__(self):
        return f"{self.week_id} {self.change}"


class WeekLoss(models.Model):
    """How much keeping life was lost of a crop in one step, of what left in a week.

    At the farm's price and keeping days: where those change it is counted anew.
    """

    class Step(models.TextChoices):
        FIELD = "field", _("In the field")
        COOLING = "cooling", _("Cooling slowly")
        ROOM = "room", _("Room too warm")
        OUT = "out", _("Out at a stall, and back")
        FORGOTTEN = "forgotten", _("Forgotten, younger went")

    week = models.ForeignKey(Week, models.CASCADE, related_name="losses")
    crop = models.ForeignKey(Crop, models.PROTECT, related_name="+")
    step = models.CharField(max_length=9, choices=Step)
    crate_days = QuantityField(help_text="days at the best temperature, times crates")
    money = models.DecimalField(
        max_digits=12, decimal_places=2, null=True, blank=True,
        help_text="empty where some of it had no price",
    )  # fmt: skip

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["week", "crop", "step"], name="one_loss_a_week_crop_and_step"
            )
        ]

    def __str__(self):
        return f"{self.week_id} {self.step} {self.crate_days}"


class WeekMark(models.Model):
    """That something of this moment was written, undone or put right: its week is to be recounted.

    A row each, so that no doing waits for another; gone when the week is counted.
    """

    at = models.DateTimeField(db_index=True)

    def __str__(self):
        return str(self.at)
