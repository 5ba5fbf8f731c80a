from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from decimal import Decimal
from functools import cache, cached_property
from typing import Any

from django.apps import apps
from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Exists, OuterRef, Q
from django.db.models.functions import Lower
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from inventory import measures
from inventory.keeping import Reference, load_reference
from inventory.models.rows import ReadByTheHundred

# What a form says beside the name when it is taken.
NAME_TAKEN: dict[str, Any] = {
    "violation_error_code": "name-taken",
    "violation_error_message": _("There is one of that name already."),
}


# Which crops in use share a short name, while that is kept: nothing yet, or the one answer.
_SHARED: ContextVar[list[dict[str, set[int]]] | None] = ContextVar("shared names", default=None)


@contextmanager
def names_read_once() -> Iterator[None]:
    """Ask the database at most once, within this, which crops share a short name.

    For what shows many names: a request. What it changes itself is seen by the next.
    """
    token = _SHARED.set([])
    try:
        yield
    finally:
        _SHARED.reset(token)


class Unit(models.TextChoices):
    KG = "kg", _("kg")
    LB = "lb", _("lb")
    BUNCH = "bunch", _("bunches")
    HEAD = "head", _("heads")
    PIECE = "piece", _("pieces")


class Crop(ReadByTheHundred):
    """What is sold. Storage figures come from the reference row it keeps like."""

    reference_key = models.CharField(max_length=40)
    name = models.CharField(
        max_length=80, blank=True, help_text="the farm's own name; empty shows the reference's"
    )
    grown = models.BooleanField(default=False)
    unit = models.CharField(max_length=5, choices=Unit, default=Unit.KG)
    keeping_days = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    sell_first_days = models.PositiveSmallIntegerField(default=2)
    piece_weight_kg = models.DecimalField(max_digits=8, decimal_places=3, null=True, blank=True)
    price = models.DecimalField(
        max_digits=10, decimal_places=2, null=True, blank=True, help_text="of one of its unit"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["reference_key"],
                condition=Q(name=""),
                name="one_unnamed_crop_per_reference",
            ),
            models.UniqueConstraint(
                Lower("name"), condition=~Q(name=""), name="crop_names_are_unique", **NAME_TAKEN
            ),
            models.CheckConstraint(
                condition=Q(keeping_days__isnull=True) | Q(keeping_days__gt=0),
                name="keeping_days_are_positive",
            ),
        ]

    def kg_of_one(self, unit: str) -> Decimal | None:
        """Return what one of a unit weighs; None where nobody said so. [kg]"""
        if measures.is_weight(unit):
            return measures.convert_weight(Decimal(1), unit, "kg")
        return self.piece_weight_kg or None

    def __str__(self):
        return self.shown_name

    @property
    def shown_name(self) -> str:
        """The farm's own name, else the everyday one in the reader's language.

        Its variant stands beside it where the farm has another crop in use of that short name.
        """
        if self._has_a_namesake():
            return self.full_name
        return self.name or gettext(load_reference()[self.reference_key].short_name)

    @property
    def full_name(self) -> str:
        """The name among all crops there are, used or not: with its variant always."""
        reference = load_reference()[self.reference_key]
        if self.name or not reference.variant:
            return self.name or gettext(reference.short_name)
        return f"{gettext(reference.short_name)} ({gettext(reference.variant)})"

    def _has_a_namesake(self) -> bool:
        reference = load_reference()[self.reference_key]
        if self.name or not reference.variant or self.pk is None:
            return False
        return bool(shared_names().get(reference.short_name, set()) - {self.pk})

    @property
    def reference(self) -> Reference:
        """The published figures, with the farm's own keeping life where it set one."""
        reference = load_reference()[self.reference_key]
        return reference.with_life(float(self.keeping_days)) if self.keeping_days else reference


@cache
def _in_use_unnamed() -> models.QuerySet[Crop, tuple[int, str]]:
    """Return the question, put together once, which crops in use go by their short name.

    In use: grown, or brought in at some time; crates and papers of it may still be about.
    """
    intakes = apps.get_model("inventory", "Intake").objects
    used = Q(grown=True) | Q(Exists(intakes.filter(crop=OuterRef("pk"))))
    return Crop.objects.filter(used, name="").values_list("pk", "reference_key")


def shared_names() -> dict[str, set[int]]:
    """Return the crops in use by the short name they go by."""
    kept = _SHARED.get()
    if kept:
        return kept[0]
    reference = load_reference()
    found: dict[str, set[int]] = defaultdict(set)
    for pk, key in _in_use_unnamed().all():
        found[reference[key].short_name].add(pk)
    if kept is not None:
        kept.append(found)
    return found


class Source(ReadByTheHundred):
    """Where a crop came from: a block of the farm, or a supplier."""

    class Kind(models.TextChoices):
        BLOCK = "block", _("block of the farm")
        SUPPLIER = "supplier", _("supplier")

    kind = models.CharField(max_length=8, choices=Kind)
    name = models.CharField(max_length=80)
    organic = models.BooleanField(default=False)
    not_before = models.DateField(null=True, blank=True)
    not_before_reason = models.CharField(max_length=120, blank=True)
    lead_days = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="from the order to the delivery, of a supplier"
    )
    in_use = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                Lower("name"), "kind", name="source_names_are_unique", **NAME_TAKEN
            ),
        ]

    def __str__(self):
        return self.name

    @cached_property
    def tags(self) -> frozenset[str]:
        """What an outlet may refuse about all that comes from here."""
        bought = ["bought-in"] if self.kind == self.Kind.SUPPLIER else []
        return frozenset(bought if self.organic else [*bought, "not-organic"])


class Container(ReadByTheHundred):
    """What a crate is: its empty weight and how much usually goes in."""

    name = models.CharField(max_length=60)
    tare_kg = models.DecimalField(max_digits=6, decimal_places=3, default=0)
    half_cooling_h = models.DecimalField(
        max_digits=5, decimal_places=2, null=True, blank=True, help_text="empty: the default"
    )
    in_use = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(Lower("name"), name="container_names_are_unique", **NAME_TAKEN),
            models.CheckConstraint(condition=Q(tare_kg__gte=0), name="tare_is_not_negative"),
            models.CheckConstraint(
                condition=Q(half_cooling_h__isnull=True) | Q(half_cooling_h__gt=0),
                name="half_cooling_is_positive",
            ),
        ]

    def __str__(self):
        return self.name


class CaseKind(models.Model):
    """What a trade item number was last time: its crop, supplier and kind of crate."""

    gtin = models.CharField(max_length=14, primary_key=True)
    crop = models.ForeignKey(Crop, models.PROTECT)
    source = models.ForeignKey(Source, models.PROTECT)
    container = models.ForeignKey(Container, models.PROTECT, null=True, blank=True)
    unit = models.CharField(max_length=5, choices=Unit)

    def __str__(self):
        return self.gtin


class QuantityField(models.DecimalField):
    """A quantity in a lot's own unit, three decimals."""

    def __init__(self, *args, **kwargs):
        kwargs.setdefault("max_digits", 12)
        kwargs.setdefault("decimal_places", -measures.PLACES.as_tuple().exponent)
        super().__init__(*args, **kwargs)


class Total(models.Sum):  # noqa: TID251
    """A sum of quantities, to their three decimals: SQLite adds in floating point."""

    def get_db_converters(self, connection: BaseDatabaseWrapper) -> list[Callable[..., Any]]:
        return [*super().get_db_converters(connection), _to_places]


def _to_places(
    value: Decimal | None, expression: models.Expression, connection: BaseDatabaseWrapper
) -> Decimal | None:
    return None if value is None else value.quantize(measures.PLACES)
