"""Handing over: the numbered slip, our crates that stay with a buyer, what a kitchen says after."""

from typing import Self

from django.db import models
from django.db.models import Q
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy as _

from inventory.models.buyers import Outlet
from inventory.models.crops import QuantityField
from inventory.models.ledger import Action
from inventory.models.lots import Lot
from inventory.models.orders import Order


class StandingQuerySet(models.QuerySet):
    def standing(self) -> Self:
        """Those that were not taken back."""
        return self.filter(action__undone_by__isnull=True)


class Handover(models.Model):
    """That an order was handed over. Its slip keeps its number, taken back or not.

    paper: what the slip says, as it was printed then. crates_back: how many of our crates came
    back with it. page_token: what leads to its page without a sign-in, which anybody can open who
    has the slip, unless page_open is switched off.
    """

    action = models.OneToOneField(Action, models.PROTECT, related_name="handover")
    order = models.ForeignKey(Order, models.PROTECT, related_name="handovers")
    number = models.PositiveIntegerField(unique=True)
    crates_out = models.PositiveSmallIntegerField(default=0)
    crates_back = models.PositiveSmallIntegerField(default=0)
    to_whom = models.CharField(max_length=80)
    at = models.DateTimeField()
    paper = models.JSONField(default=dict)
    page_token = models.CharField(max_length=40, null=True, blank=True, unique=True)
    page_open = models.BooleanField(default=True)

    objects = StandingQuerySet.as_manager()

    class Meta:
        ordering = ["number"]
        constraints = [
            models.CheckConstraint(condition=~Q(to_whom=""), name="a_handover_says_to_whom")
        ]

    def __str__(self):
        return f"{self.number}"

    @property
    def is_withdrawn(self) -> bool:
        return hasattr(self.action, "undone_by")


class Empties(models.Model):
    """Crates of ours that came back by themselves, from whom, or that were washed."""

    class Kind(models.TextChoices):
        BACK = "back", _("empty crates came back")
        WASHED = "washed", _("crates washed")

    action = models.OneToOneField(Action, models.PROTECT, related_name="empties")
    kind = models.CharField(max_length=6, choices=Kind)
    outlet = models.ForeignKey(Outlet, models.PROTECT, null=True, blank=True)
    number = models.PositiveSmallIntegerField()

    objects = StandingQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(number__gt=0), name="empties_are_some"),
            models.CheckConstraint(
                condition=Q(kind="back", outlet__isnull=False)
                | Q(kind="washed", outlet__isnull=True),
                name="crates_come_back_from_a_buyer_and_are_washed_here",
            ),
        ]

    def __str__(self):
        return f"{self.number} {self.kind}"


class CratesLeft(models.Model):
    """How many crates of ours stand with a buyer; without a buyer, how many wait to be washed.

    Kept for speed: what handovers and returns add up to, counted anew by whatever changes it.
    """

    outlet = models.ForeignKey(Outlet, models.CASCADE, null=True, related_name="+")
    crates = models.PositiveIntegerField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(Coalesce("outlet", 0), name="crates_left_are_counted_once")
        ]

    def __str__(self):
        return f"{self.outlet_id or 'to wash'} {self.crates}"


class Credit(models.Model):
    """What a buyer said afterwards of a crate on a slip, and how much of it is not to be paid.

    has_photo: one is kept under the id of its action (actions/photos.py).
    """

    class What(models.TextChoices):
        SOFT = "soft", _("soft")
        WRONG = "wrong", _("wrong")
        REFUSED = "refused", _("refused")

    action = models.OneToOneField(Action, models.PROTECT, related_name="credit")
    handover = models.ForeignKey(Handover, models.PROTECT, related_name="credits")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="credits")
    what = models.CharField(max_length=7, choices=What)
    quantity = QuantityField()
    has_photo = models.BooleanField(default=False)

    objects = StandingQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="a_credit_is_of_something")
        ]

    def __str__(self):
        return f"{self.handover} {self.lot_id} {self.what}"
