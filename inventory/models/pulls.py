from typing import Self

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from inventory.models.crops import NAME_TAKEN, Crop, QuantityField, Unit
from inventory.models.ledger import Action, Movement
from inventory.models.lots import Lot
from inventory.models.places import Position


class Outlet(models.Model):
    """Where produce goes, how long it must still keep there, and what it refuses."""

    class Kind(models.TextChoices):
        KITCHEN = "kitchen", _("kitchen")
        MARKET = "market", _("market")
        SHARES = "shares", _("share boxes")
        STAND = "stand", _("farm stand")

    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=8, choices=Kind, default=Kind.KITCHEN)
    own_grown_only = models.BooleanField(default=False)
    organic_only = models.BooleanField(default=False)
    minimum_days = models.PositiveSmallIntegerField(default=0)
    fridge_c = models.DecimalField(max_digits=5, decimal_places=2, default=4)
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
    def refused_tags(self) -> frozenset[str]:
        """The tags of crates this outlet refuses."""
        rules = {"bought-in": self.own_grown_only, "not-organic": self.organic_only}
        return frozenset(tag for tag, refused in rules.items() if refused)


class Pull(models.Model):
    """One order, or one market load, being got together."""

    id = models.UUIDField(primary_key=True)
    outlet = models.ForeignKey(Outlet, models.PROTECT)
    planned_by = models.ForeignKey("Person", models.PROTECT)
    planned_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-planned_at"]

    def __str__(self):
        return f"{self.outlet} {self.planned_at:%Y-%m-%d}"


class PullLine(models.Model):
    """How much of one crop the buyer wants."""

    pull = models.ForeignKey(Pull, models.CASCADE, related_name="lines")
    crop = models.ForeignKey(Crop, models.PROTECT)
    unit = models.CharField(max_length=5, choices=Unit)
    quantity = QuantityField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="a_line_wants_something"),
            models.UniqueConstraint(
                fields=["pull", "crop", "unit"], name="one_line_per_crop_and_unit"
            ),
        ]


class PullTakeQuerySet(models.QuerySet):
    def open(self) -> Self:
        """Takes that still promise their crate: neither taken, nor missing, nor given up."""
        return self.filter(
            Q(taken__isnull=True) | Q(taken__undone_by__isnull=False),
            missing=False,
            line__pull__closed_at__isnull=True,
        )

    def not_found(self) -> Self:
        """Takes whose crate was looked for in vain and has not been seen since."""
        return self.filter(missing_at__gt=models.F("lot__seen_at"))


class PullTake(models.Model):
    """A crate promised to a line, until it is taken or found missing."""

    line = models.ForeignKey(PullLine, models.CASCADE, related_name="takes")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="takes")
    quantity = QuantityField()
    taken = models.OneToOneField(Action, models.PROTECT, null=True, blank=True, related_name="take")
    missing = models.BooleanField(default=False)
    missing_at = models.DateTimeField(null=True, blank=True)
    stood = models.ForeignKey(
        Position, models.PROTECT, null=True, help_text="where its crate was when it was promised"
    )

    objects = PullTakeQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="a_take_takes_something")
        ]

    @property
    def spot(self) -> Position | None:
        """Where to fetch it, or where it was before it was taken."""
        return self.lot.position or self.stood

    @property
    def is_taken(self) -> bool:
        return self.taken is not None and not hasattr(self.taken, "undone_by")
