from datetime import date, timedelta

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from inventory.models.crops import NAME_TAKEN, Crop, QuantityField, Unit
from inventory.models.ledger import Movement
from inventory.models.people import Person
from inventory.models.rows import ReadByTheHundred
from inventory.rotation.fit import WAS_OUT

# Until a buyer's own is known: FDA Food Code 3-501.16(A)(2), the warmest a kitchen may hold.
UNKNOWN_FRIDGE_C = 5.0


class Outlet(ReadByTheHundred):
    """Where produce goes, when, how long it must still keep there, and what it refuses.

    delivery_days: weekdays as digits, 0 is Monday. minimum_days: on arrival; None is until the
    next delivery. by_time: when it must be there. cut_off_days: how many days before a delivery
    an order must be said. way_hours: hours without cold on the way there. fridge_c: None until
    somebody knows it. one_more: of whole crates rather one too many than too little. run_order:
    where its stop comes on the run, 0 until somebody says so.
    """

    class Kind(models.TextChoices):
        KITCHEN = "kitchen", _("kitchen")
        MARKET = "market", _("market")
        SHARES = "shares", _("share boxes")
        STAND = "stand", _("farm stand")
        SHOP = "shop", _("shop")

    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=8, choices=Kind, default=Kind.KITCHEN)
    own_grown_only = models.BooleanField(default=False)
    organic_only = models.BooleanField(default=False)
    whole_crates = models.BooleanField(default=False)
    one_more = models.BooleanField(default=False)
    freshest = models.BooleanField(default=False)
    minimum_days = models.PositiveSmallIntegerField(null=True, blank=True)
    fridge_c = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    delivery_days = models.CharField(max_length=7, blank=True)
    by_time = models.TimeField(null=True, blank=True)
    cut_off_days = models.PositiveSmallIntegerField(null=True, blank=True)
    way_hours = models.DecimalField(max_digits=4, decimal_places=1, default=0)
    address = models.CharField(max_length=160, blank=True)
    telephone = models.CharField(max_length=30, blank=True)
    run_order = models.PositiveSmallIntegerField(default=0)
    in_use = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(Lower("name"), name="outlet_names_are_unique", **NAME_TAKEN)
        ]

    def __str__(self):
        return self.name

    @property
    def purpose(self) -> str:
        market = self.kind == self.Kind.MARKET
        return Movement.Purpose.MARKET if market else Movement.Purpose.ORDER

    @property
    def is_firm(self) -> bool:
        """Whether its orders are promises; what a market or the stand would like is a wish."""
        return self.kind not in (self.Kind.MARKET, self.Kind.STAND)

    @property
    def fridge(self) -> float:
        """What its fridge is reckoned at. [°C]"""
        return UNKNOWN_FRIDGE_C if self.fridge_c is None else float(self.fridge_c)

    @property
    def refused_tags(self) -> frozenset[str]:
        """The tags of crates this outlet refuses."""
        rules = {
            "bought-in": self.own_grown_only,
            "not-organic": self.organic_only,
            WAS_OUT: self.is_firm,
        }
        return frozenset(tag for tag, refused in rules.items() if refused)

    @property
    def weekdays(self) -> list[int]:
        return sorted(int(digit) for digit in self.delivery_days)

    def next_delivery(self, after: date) -> date | None:
        """Return its first delivery day after a day, None where none are set."""
        on = self.weekdays
        days = (after + timedelta(days=number) for number in range(1, 8))
        return next((day for day in days if day.weekday() in on), None)

    def first_delivery(self, today: date) -> date:
        """Return the first day it can still be ordered for; today where no days are set.

        Of its delivery days the first whose cut-off is not over.
        """
        return self.first_on(today + timedelta(days=self.cut_off_days or 0)) or today

    def first_on(self, day: date) -> date | None:
        """Return its first delivery day from a day on, None where none are set."""
        return self.next_delivery(day - timedelta(days=1))

    def cut_off(self, due: date) -> date | None:
        """Return the last day on which it may order for a day, None where that is not set."""
        return None if self.cut_off_days is None else due - timedelta(days=self.cut_off_days)

    def days_wanted(self, due: date) -> int:
        """Return how many days what arrives on a day must still keep. [d]"""
        if self.minimum_days is not None:
            return self.minimum_days
        following = self.next_delivery(due)
        return (following - due).days if following else 0


class StandingOrder(models.Model):
    """An order that repeats every week, from the day it starts until before the day it ends.

    The order it was made from is none of its days: that one is due the week before it starts.
    """

    id = models.UUIDField(primary_key=True)
    outlet = models.ForeignKey(Outlet, models.PROTECT)
    starts = models.DateField(help_text="its first day; the others are whole weeks later")
    ends = models.DateField(null=True, blank=True)
    said_by = models.ForeignKey(Person, models.PROTECT)
    said_at = models.DateTimeField()

    class Meta:
        ordering = ["said_at"]

    def __str__(self):
        return f"{self.outlet} {self.starts:%A}"

    def goes_on_after(self, day: date) -> bool:
        """Whether it has a day in the week after one."""
        return self.ends is None or self.ends > day + timedelta(days=7)

    def days(self, first: date, last: date) -> list[date]:
        """Return its days from one day to another, both included."""
        start = max(self.starts, first + timedelta(days=(self.starts - first).days % 7))
        end = min(last, self.ends - timedelta(days=1)) if self.ends else last
        return [start + timedelta(days=n) for n in range(0, max((end - start).days + 1, 0), 7)]


class StandingLine(models.Model):
    """How much of one crop is wanted every time; asked as it was said, in the buyer's words."""

    standing = models.ForeignKey(StandingOrder, models.CASCADE, related_name="lines")
    crop = models.ForeignKey(Crop, models.PROTECT)
    unit = models.CharField(max_length=5, choices=Unit)
    quantity = QuantityField()
    asked = models.CharField(max_length=40, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(quantity__gt=0), name="a_standing_line_wants_something"
            ),
            models.UniqueConstraint(
                fields=["standing", "crop", "unit"], name="one_standing_line_per_crop_and_unit"
            ),
        ]
