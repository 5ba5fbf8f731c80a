from typing import Self

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from inventory.models.crops import QuantityField
from inventory.models.lots import Lot
from inventory.models.people import Person, Phone
from inventory.models.places import Position
from inventory.models.rows import ReadByTheHundred


class Action(ReadByTheHundred):
    """One thing a person did, once. Its id was made by the client or for the form."""

    class Kind(models.TextChoices):
        BRING_IN = "bring in", _("brought in")
        MOVE = "move", _("moved")
        TAKE_OUT = "take out", _("taken out")
        BRING_BACK = "bring back", _("brought back")
        SETTLE = "settle", _("market closed")
        COUNT = "count", _("counted")
        SPLIT = "split", _("split in two")
        COMBINE = "combine", _("combined")
        RESORT = "re-sort", _("re-sorted")
        DISCARD = "discard", _("discarded")
        INSPECT = "inspect", _("looked at")
        HOLD = "hold", _("put on hold")
        RELEASE = "release", _("released")
        CORRECT = "correct", _("corrected")
        UNDO = "undo", _("undone")
        TAG = "tag", _("tagged")
        CHANGE = "change", _("set by the owner")
        ORDER = "order", _("order")
        WALK = "walk", _("walk through the field")
        HANDOVER = "hand over", _("handed over")
        EMPTIES = "empties", _("empty crates")
        CREDIT = "credit", _("credit")
        ADVICE = "advice", _("answered to a suggestion")

    id = models.UUIDField(primary_key=True)
    kind = models.CharField(max_length=10, choices=Kind)
    person = models.ForeignKey(Person, models.PROTECT)
    phone = models.ForeignKey(Phone, models.PROTECT, null=True, blank=True)
    proven = models.BooleanField(default=False, help_text="a password or PIN said who it was")
    fingerprint = models.CharField(max_length=64)
    posted = models.CharField(max_length=64, blank=True, help_text="hash of the form as sent")
    recorded_at = models.DateTimeField()
    occurred_at = models.DateTimeField()
    undoes = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="undone_by"
    )

    class Meta:
        ordering = ["-recorded_at"]
        indexes = [models.Index(fields=["person", "recorded_at"], name="action_by_person")]

    def __str__(self):
        return f"{self.kind} {self.id}"


class FinalAction(models.Model):
    """That a discard round was ended with this in it: crew can't undo it any more."""

    action = models.OneToOneField(Action, models.PROTECT, related_name="final")
    person = models.ForeignKey(Person, models.PROTECT)
    at = models.DateTimeField()


class MovementQuerySet(models.QuerySet):
    def with_who(self) -> Self:
        """Add `who` did it, by name, and whether that was `proven`: two columns for two rows."""
        return self.annotate(
            who=models.F("action__person__name"), proven=models.F("action__proven")
        )


class Movement(ReadByTheHundred):
    """One entry of the ledger. Never edited, never deleted.

    `change` is signed and adds up to the crate's quantity. `amount` is how much the entry is
    about where that is not the change (a sale settled later). A set `state` says where the
    crate stands from then on; empty leaves it. `figure` is what a count saw.
    """

    class Kind(models.TextChoices):
        BROUGHT_IN = "brought in", _("brought in")
        CORRECTED = "corrected", _("corrected")
        MOVED = "moved", _("moved")
        OUT = "out", _("out")
        BACK = "back", _("back")
        SETTLED = "settled", _("market closed")
        COUNTED = "counted", _("counted")
        SPLIT = "split", _("split")
        COMBINED = "combined", _("combined")
        RESORTED = "re-sorted", _("re-sorted")
        WEIGHT_LOST = "weight lost", _("weight lost")
        DISCARDED = "discarded", _("discarded")
        INSPECTED = "inspected", _("looked at")
        HELD = "held", _("on hold")
        RELEASED = "released", _("released")
        UNDONE = "undone", _("undone")
        TAG_ON = "tag on", _("tag put on")
        TAG_OFF = "tag off", _("tag taken off")

    class Purpose(models.TextChoices):
        ORDER = "order", _("an order")
        MARKET = "market", _("the market")
        GIVEN = "given", _("given away")
        OWN_USE = "own use", _("own use")
        SENT_BACK = "sent back", _("sent back to the supplier")

    class Outcome(models.TextChoices):
        SOLD = "sold", _("sold")
        GIVEN = "given", _("given away")
        LOST = "lost", _("lost")

    class Destination(models.TextChoices):
        """Where discarded food goes: Food Loss and Waste Standard 1.0 (2016)."""

        ANIMALS = "animal feed", _("animal feed")
        COMPOST = "compost", _("compost")
        LAND = "land", _("spread on land")
        DIGESTION = "digestion", _("anaerobic digestion")
        BIOMATERIAL = "biomaterial", _("made into other materials")
        BURNT = "burnt", _("burnt under control")
        LANDFILL = "landfill", _("landfill")
        REFUSE = "refuse", _("dumped in the open (refuse, litter)")
        SEWER = "sewer", _("sewer")
        NOT_HARVESTED = "not harvested", _("left in the field, ploughed in")

    class Reason(models.TextChoices):
        SPOILED = "spoiled", _("rotten or slimy")
        WILTED = "wilted", _("wilted")
        YELLOWED = "yellowed", _("yellowed or overripe")
        FROZE = "froze", _("froze")
        CHILLED = "chilled", _("hurt by cold")
        DAMAGED = "damaged", _("bruised or broken")
        PESTS = "pests", _("pests")
        UNSAFE = "unsafe", _("dirty or doubtful")
        UNSOLD = "unsold", _("good, but not sold")
        CULLED = "culled", _("culled at sorting")
        LISTED = "list said", _("the list said so")
        PAST_DATE = "past date", _("past its date")
        OTHER = "other", _("other")

    class Judgement(models.TextChoices):
        """What a person answered to "Still good?"."""

        GOOD = "fine", _("still good")
        JUST = "just", _("only just good")
        GONE = "early", _("no longer good")

    action = models.ForeignKey(Action, models.PROTECT, related_name="movements")
    number = models.PositiveSmallIntegerField()
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="movements")
    kind = models.CharField(max_length=11, choices=Kind)
    occurred_at = models.DateTimeField(db_index=True)
    change = QuantityField(default=0)
    amount = QuantityField(default=0)
    figure = QuantityField(null=True, blank=True)
    state = models.CharField(max_length=11, choices=Lot.State, blank=True)
    position = models.ForeignKey(Position, models.PROTECT, null=True, blank=True)
    purpose = models.CharField(max_length=9, choices=Purpose, blank=True)
    outcome = models.CharField(max_length=5, choices=Outcome, blank=True)
    reason = models.CharField(max_length=9, choices=Reason, blank=True)
    destination = models.CharField(max_length=13, choices=Destination, blank=True)
    outlet = models.ForeignKey(
        "Outlet", models.PROTECT, null=True, blank=True, help_text="the buyer, where it is one"
    )
    other_party = models.CharField(
        max_length=80, blank=True, help_text="to whom, as it was printed then"
    )
    note = models.CharField(max_length=200, blank=True)
    warm_hours = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    kept_until = models.DateField(null=True, blank=True)
    judgement = models.CharField(max_length=5, choices=Judgement, blank=True)
    detail = models.JSONField(default=dict, blank=True)
    aged_days = models.FloatField(
        null=True, blank=True, help_text="at the best temperature, as known when it was written"
    )
    undoes = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="undone_by"
    )

    objects = MovementQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        indexes = [
            models.Index(
                fields=["occurred_at"],
                condition=Q(kind="back", purpose="order"),
                name="back_from_kitchens",
            )
        ]
        constraints = [
            models.UniqueConstraint(fields=["action", "number"], name="entries_are_numbered"),
            models.CheckConstraint(condition=Q(amount__gte=0), name="amount_is_not_negative"),
            models.CheckConstraint(
                condition=Q(kind="undone", undoes__isnull=False)
                | (~Q(kind="undone") & Q(undoes__isnull=True)),
                name="only_an_undo_undoes",
            ),
            models.CheckConstraint(
                condition=~Q(purpose="sent back") | (Q(outlet=None) & ~Q(other_party="")),
                name="what_is_sent_back_names_its_supplier",
            ),
        ]

    def __str__(self):
        return f"{self.lot_id} {self.kind} {self.change}"

    @property
    def told(self) -> "Movement":
        """The entry it is about: the one it undoes, else itself."""
        return self.undoes or self

    @property
    def is_undone(self) -> bool:
        return hasattr(self, "undone_by")


def breaks_the_order(
    first: str | None,
    why_not: str,
    reachable: bool,
    days_apart: int,
    harvest: int | None,
    of_first: int | None,
) -> bool:
    """Whether a take broke the order, by what it told; of plain values, as reports read them.

    harvest: of the crate taken; of_first: of the one that should have gone.
    """
    if first is None or why_not or not reachable:
        return False
    # Of one harvest, and with as many days left, none is older than the other.
    return bool(days_apart) or harvest is None or harvest != of_first


class FirstInLine(models.Model):
    """Which crate should have gone first when another was taken out, as the rule saw it then.

    first: empty where the crate taken was itself the first. days_apart: whole days left of the
    crate taken less those of the first. why_not: why the first would not have done for this
    buyer; empty where it would have. reachable: no only where a person said so.
    """

    class WhyNot(models.TextChoices):
        REFUSED = "refused", _("the buyer does not take its kind")
        TOO_OLD = "too old", _("it would not keep long enough there")
        PROMISED = "promised", _("it is planned for another order")

    movement = models.OneToOneField(Movement, models.PROTECT, related_name="first_in_line")
    first = models.ForeignKey(Lot, models.PROTECT, null=True, blank=True, related_name="passed")
    days_apart = models.PositiveSmallIntegerField(default=0)
    why_not = models.CharField(max_length=8, choices=WhyNot, blank=True)
    reachable = models.BooleanField(default=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(first__isnull=False) | Q(days_apart=0, why_not="", reachable=True),
                name="the_first_itself_passes_nobody",
            )
        ]


class Change(models.Model):
    """One thing an owner set: what of which row, before and after. Secrets are only "set"."""

    action = models.ForeignKey(Action, models.PROTECT, related_name="changes")
    subject = models.CharField(max_length=20, help_text="the kind of row, as the code calls it")
    key = models.CharField(max_length=40)
    name = models.CharField(max_length=100, help_text="what it was called then")
    field = models.CharField(max_length=40)
    before = models.CharField(max_length=200, blank=True)
    after = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["action", "subject", "key", "field"], name="a_field_is_set_once_an_action"
            )
        ]

    def __str__(self):
        return f"{self.name} {self.field}"
