from typing import Self

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from inventory.models.buyers import Outlet, StandingOrder
from inventory.models.crops import Crop, QuantityField, Unit
from inventory.models.ledger import Action
from inventory.models.lots import Lot
from inventory.models.people import Person
from inventory.models.places import Position
from inventory.models.rows import ReadByTheHundred


class Order(ReadByTheHundred):
    """What one buyer wants by one day, from when it is said until it has gone out.

    said_by, said_at: of one that repeats, who said that. standing: what it is one week of.
    """

    id = models.UUIDField(primary_key=True)
    outlet = models.ForeignKey(Outlet, models.PROTECT)
    due = models.DateField()
    said_by = models.ForeignKey(Person, models.PROTECT)
    said_at = models.DateTimeField()
    standing = models.ForeignKey(StandingOrder, models.PROTECT, null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    cancelled_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["due", "said_at"]
        indexes = [
            models.Index(
                fields=["due"],
                condition=Q(closed_at__isnull=True, cancelled_at__isnull=True),
                name="order_open",
            ),
            models.Index(fields=["due"], name="order_by_day"),
            models.Index(fields=["closed_at"], name="order_by_closing"),
            models.Index(fields=["outlet", "said_at"], name="order_by_buyer"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True) | Q(cancelled_at__isnull=True),
                name="an_order_is_closed_or_cancelled_not_both",
            ),
        ]

    def __str__(self):
        return f"{self.outlet} {self.due}"

    @property
    def is_open(self) -> bool:
        return self.closed_at is None and self.cancelled_at is None


class OrderLine(ReadByTheHundred):
    """How much of one crop the buyer wants, in the crates' own unit; 0 where no more of it.

    asked: how it was said, where that was in another unit ("6 kg"). told: how much the buyer knows
    will be missing.
    """

    order = models.ForeignKey(Order, models.CASCADE, related_name="lines")
    crop = models.ForeignKey(Crop, models.PROTECT)
    unit = models.CharField(max_length=5, choices=Unit)
    quantity = QuantityField()
    asked = models.CharField(max_length=40, blank=True)
    told = QuantityField(default=0)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(quantity__gte=0), name="a_line_wants_no_less_than_0"
            ),
            models.UniqueConstraint(
                fields=["order", "crop", "unit"], name="one_line_per_crop_and_unit"
            ),
        ]


class OrderEntry(models.Model):
    """One entry about an order: what it said before and after. Never edited, never deleted."""

    class Kind(models.TextChoices):
        SAID = "said", _("order written")
        CHANGED = "changed", _("order changed")
        CLOSED = "closed", _("order done")
        REOPENED = "reopened", _("order opened again")
        CANCELLED = "cancelled", _("order cancelled")
        TOLD = "told", _("buyer told what is missing")
        REPEATS = "repeats", _("order repeats every week")
        ENDS = "ends", _("order repeats no more")
        HANDED = "handed", _("order handed over")

    action = models.OneToOneField(Action, models.PROTECT, related_name="order_entry")
    order = models.ForeignKey(Order, models.PROTECT, related_name="entries")
    kind = models.CharField(max_length=9, choices=Kind)
    before = models.JSONField(default=dict, blank=True)
    after = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self):
        return f"{self.order} {self.kind}"

    @property
    def is_undone(self) -> bool:
        return hasattr(self.action, "undone_by")


class TakeQuerySet(models.QuerySet):
    def standing(self) -> Self:
        """Takes that were not taken back."""
        return self.filter(taken__undone_by__isnull=True)


class Take(models.Model):
    """What of a crate was taken for a line. stood: where the crate was."""

    line = models.ForeignKey(OrderLine, models.CASCADE, related_name="takes")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="takes")
    quantity = QuantityField()
    taken = models.OneToOneField(Action, models.PROTECT, related_name="take")
    stood = models.ForeignKey(Position, models.PROTECT, null=True)

    objects = TakeQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="a_take_takes_something")
        ]


class Lease(models.Model):
    """A crate, or a part of it, that somebody who gets an order is on the way to."""

    line = models.ForeignKey(OrderLine, models.CASCADE, related_name="leases")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="leases")
    person = models.ForeignKey(Person, models.PROTECT)
    quantity = QuantityField()
    until = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="a_lease_is_of_something"),
            models.UniqueConstraint(
                fields=["line", "lot", "person"], name="one_lease_a_line_crate_and_person"
            ),
        ]


class NotThereQuerySet(models.QuerySet):
    def standing(self) -> Self:
        """Those whose crate has not been seen, moved or counted since."""
        return self.filter(Q(lot__seen_at__isnull=True) | Q(at__gt=models.F("lot__seen_at")))


class NotThere(models.Model):
    """That a crate was looked for in vain, for which line, and where."""

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="not_there")
    line = models.ForeignKey(OrderLine, models.CASCADE, related_name="not_there")
    person = models.ForeignKey(Person, models.PROTECT)
    at = models.DateTimeField()
    quantity = QuantityField(help_text="how much of it was to be taken")
    stood = models.ForeignKey(Position, models.PROTECT, null=True)

    objects = NotThereQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
