from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from inventory.models.codes import Code
from inventory.models.crops import Container, Crop, QuantityField, Source, Unit
from inventory.models.places import Position
from inventory.models.rows import ReadByTheHundred


class Intake(ReadByTheHundred):
    """One harvest, or one bought-in delivery, of one crop from one source."""

    class DateKind(models.TextChoices):
        """What the date on a case says: GS1 application identifiers 15, 16 and 17."""

        UNKNOWN = "", _("not known which kind")
        BEST_BEFORE = "best before", _("best before")
        SELL_BY = "sell by", _("sell by")
        USE_BY = "use by", _("use by")

    action = models.OneToOneField("Action", models.PROTECT)
    crop = models.ForeignKey(Crop, models.PROTECT)
    source = models.ForeignKey(Source, models.PROTECT)
    lot_code = models.CharField(max_length=40, help_text="traceability lot code its crates share")
    cut_at = models.DateTimeField(null=True, blank=True, help_text="first cut, when given")
    packed_on = models.DateField(null=True, blank=True)
    best_before = models.DateField(
        null=True, blank=True, help_text="the packer's date, of the kind beside it"
    )
    best_before_kind = models.CharField(
        max_length=11, choices=DateKind, blank=True, default=DateKind.UNKNOWN
    )
    variety = models.CharField(max_length=40, blank=True)
    arrived_at = models.DateTimeField()
    pulp_c = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    supplier_reference = models.CharField(max_length=60, blank=True)
    origin = models.CharField(max_length=60, blank=True)
    case_cost = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        indexes = [
            models.Index(fields=["arrived_at"], name="intake_by_arrival"),
            models.Index(fields=["crop", "arrived_at"], name="intake_by_crop"),
            models.Index(fields=["crop", "source", "arrived_at"], name="intake_by_source"),
            models.Index(fields=["best_before_kind", "best_before"], name="intake_by_date"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(cut_at__isnull=True) | Q(packed_on__isnull=True),
                name="an_intake_is_cut_or_packed_not_both",
            ),
            models.CheckConstraint(
                condition=Q(best_before__isnull=False) | Q(best_before_kind=""),
                name="only_a_date_has_a_kind",
            ),
        ]

    def __str__(self):
        return self.lot_code

    @property
    def is_bought(self) -> bool:
        return self.source.kind == Source.Kind.SUPPLIER

    @property
    def came_cold(self) -> bool:
        """Whether no field heat is reckoned with: bought cases that nobody measured."""
        return self.is_bought and self.pulp_c is None


NO_STAMP = 0  # of a crate of which memory keeps nothing


class Lot(ReadByTheHundred):
    """One crate or case. Quantity, state, position, hold, keep and whether some of it is at a
    market are the ledger's, kept here for speed and written only by inventory.ledger.book."""

    class State(models.TextChoices):
        TO_PUT_AWAY = "to put away", _("to put away")
        IN_PLACE = "in place", _("in place")
        OUT = "out", _("out")
        EMPTY = "empty", _("empty")
        VOID = "void", _("undone")

    class Grade(models.TextChoices):
        UNSORTED = "", _("not sorted")
        FIRSTS = "firsts", _("firsts")
        SECONDS = "seconds", _("seconds")

    code = models.OneToOneField(Code, models.PROTECT, primary_key=True)
    crop = models.ForeignKey(Crop, models.PROTECT, related_name="lots")
    intake = models.ForeignKey(
        Intake,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="lots",
        help_text="empty for a crate filled from more than one intake",
    )
    container = models.ForeignKey(Container, models.PROTECT, null=True, blank=True)
    unit = models.CharField(max_length=5, choices=Unit)
    grade = models.CharField(max_length=7, choices=Grade, blank=True, default=Grade.UNSORTED)
    born_with = QuantityField(help_text="what the crate held when it was made")
    parents = models.ManyToManyField(
        "self", through="Parentage", symmetrical=False, related_name="children"
    )
    quantity = QuantityField(default=0)
    state = models.CharField(max_length=11, choices=State, default=State.VOID)
    position = models.ForeignKey(
        Position, models.PROTECT, null=True, blank=True, related_name="lots"
    )
    held = models.BooleanField(default=False)
    kept_until = models.DateField(null=True, blank=True)
    seen_at = models.DateTimeField(null=True, blank=True)
    at_market = models.BooleanField(default=False)
    stamp = models.BigIntegerField(
        default=NO_STAMP,
        editable=False,
        help_text="another number at each entry, by which memory knows it; 0: not at all",
    )

    class Meta:
        indexes = [
            models.Index(fields=["state", "crop"], name="lot_by_state_and_crop"),
            models.Index(fields=["code"], condition=Q(at_market=True), name="lot_at_market"),
        ]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gte=0), name="quantity_is_not_negative"),
            models.CheckConstraint(
                condition=Q(state="in place", position__isnull=False)
                | (~Q(state="in place") & Q(position__isnull=True)),
                name="position_is_set_only_in_place",
            ),
            models.CheckConstraint(
                condition=Q(quantity=0) | Q(state__in=["to put away", "in place"]),
                name="only_crates_in_the_house_hold_anything",
            ),
        ]

    def __str__(self):
        return self.code_id

    @property
    def shown_name(self) -> str:
        """Crop and variety."""
        variety = self.intake.variety if self.intake else ""
        return f"{self.crop.shown_name}, {variety}" if variety else self.crop.shown_name

    @property
    def is_here(self) -> bool:
        return self.state in (self.State.TO_PUT_AWAY, self.State.IN_PLACE)

    @property
    def is_part(self) -> bool:
        return self.quantity < self.born_with

    @property
    def origins(self) -> list[Source]:
        """The sources of everything that was ever filled into this crate."""
        if self.intake:
            return [self.intake.source]
        found: dict[int, Source] = {}
        for parent in self.parents.select_related("intake__source"):
            found |= {source.pk: source for source in parent.origins}
        return list(found.values())

    @property
    def supplier(self) -> Source | None:
        """Whom it can go back to: where all of it came from, if that is one supplier."""
        sources = self.origins
        bought = len(sources) == 1 and sources[0].kind == Source.Kind.SUPPLIER
        return sources[0] if bought else None

    @property
    def tags(self) -> frozenset[str]:
        """What an outlet may refuse about this crate; of a mixed crate the more restricted."""
        intake = self.intake
        if intake:
            return intake.source.tags
        return frozenset().union(*(source.tags for source in self.origins))


class Parentage(models.Model):
    """That a crate was filled from another, how much went over, and when it left the parent."""

    child = models.ForeignKey(Lot, models.PROTECT, related_name="parent_links")
    parent = models.ForeignKey(Lot, models.PROTECT, related_name="child_links")
    quantity = QuantityField()
    at = models.DateTimeField(help_text="the parent's life is counted up to here")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["child", "parent"], name="one_link_per_parent"),
            models.CheckConstraint(
                condition=~Q(child=models.F("parent")), name="no_crate_is_its_own_parent"
            ),
        ]
