"""What a market day was, crop by crop, and what a market usually sells."""

from typing import Self

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from inventory.models.buyers import Outlet
from inventory.models.crops import Crop, QuantityField, Unit
from inventory.models.ledger import Action


class MarketDayQuerySet(models.QuerySet):
    def standing(self) -> Self:
        """Those that count: one of a market and day."""
        return self.filter(stands=True)


class MarketDay(models.Model):
    """That a market was closed, and how the day was. Written by the closing, never edited.

    day: the day the market was held. stands: no once the closing was taken back, or another of
    the same day stands in its place, which has all of the day in it.
    """

    class Weather(models.TextChoices):
        """An odd day says nothing about a usual one."""

        USUAL = "usual", _("as usual")
        POOR = "poor", _("poor (rain, heat)")
        STRONG = "strong", _("strong (holiday)")

    outlet = models.ForeignKey(Outlet, models.PROTECT, related_name="market_days")
    day = models.DateField()
    weather = models.CharField(max_length=6, choices=Weather, default=Weather.USUAL)
    action = models.OneToOneField(Action, models.PROTECT, related_name="market_day")
    stands = models.BooleanField(default=True)

    objects = MarketDayQuerySet.as_manager()

    class Meta:
        ordering = ["day", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["outlet", "day"], condition=Q(stands=True), name="a_market_has_one_of_a_day"
            )
        ]

    def __str__(self):
        return f"{self.outlet} {self.day}"


class MarketSale(models.Model):
    """What became of all of one crop, in one unit, that was taken to a market day.

    loaded: back, given, lost and sold are all of it. sold_out: whether and when there was no
    more to sell; empty where nobody said.
    """

    class SoldOut(models.TextChoices):
        NO = "no", _("no")
        END = "end", _("at the end")
        EARLY = "early", _("early")

    market_day = models.ForeignKey(MarketDay, models.CASCADE, related_name="sales")
    crop = models.ForeignKey(Crop, models.PROTECT, related_name="+")
    unit = models.CharField(max_length=5, choices=Unit)
    loaded = QuantityField()
    back = QuantityField(default=0)
    given = QuantityField(default=0)
    lost = QuantityField(default=0)
    sold = QuantityField()
    sold_out = models.CharField(max_length=5, choices=SoldOut, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["market_day", "crop", "unit"], name="a_market_day_has_a_crop_once"
            ),
            models.CheckConstraint(
                condition=Q(loaded__gte=0, back__gte=0, given__gte=0, lost__gte=0, sold__gte=0),
                name="nothing_at_market_is_less_than_0",
            ),
        ]

    def __str__(self):
        return f"{self.market_day} {self.crop} {self.sold}"

    @property
    def sell_through(self) -> float | None:
        """The share of what was taken there that was sold, None where that was nothing."""
        return float(self.sold / self.loaded) if self.loaded else None


class MarketHabit(models.Model):
    """What a market usually sells of a crop on a day, and the least that lies on the table to the
    end, as the owner says."""

    outlet = models.ForeignKey(Outlet, models.CASCADE, related_name="habits")
    crop = models.ForeignKey(Crop, models.CASCADE, related_name="+")
    unit = models.CharField(max_length=5, choices=Unit)
    usually_sells = QuantityField(null=True, blank=True)
    least_on_table = QuantityField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["outlet", "crop", "unit"], name="a_market_has_one_habit_per_crop_and_unit"
            ),
            models.CheckConstraint(
                condition=(Q(usually_sells__isnull=True) | Q(usually_sells__gt=0))
                & (Q(least_on_table__isnull=True) | Q(least_on_table__gt=0)),
                name="a_habit_is_of_something",
            ),
        ]

    def __str__(self):
        return f"{self.outlet}, {self.crop}"
