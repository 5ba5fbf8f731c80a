from django.db import models

from inventory.models.codes import Code
from inventory.models.ledger import Action
from inventory.models.lots import Lot
from inventory.models.people import Person


class LabelAddress(models.Model):
    """An address labels were printed under. Earlier ones stay ours for as long as labels last."""

    address = models.CharField(max_length=80, unique=True)
    since = models.DateTimeField()

    class Meta:
        ordering = ["-since"]

    def __str__(self):
        return self.address


class LabelPrint(models.Model):
    """That a crate's label was printed, and until when it said the crate keeps.

    address: what it was printed under; empty of the bare code, and where nobody wrote it down.
    """

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="label_prints")
    at = models.DateTimeField()
    until = models.DateField()
    address = models.CharField(max_length=80, blank=True, default="")


class Tag(models.Model):
    """A permanent tag on a reusable crate, with a code of its own."""

    code = models.OneToOneField(Code, models.PROTECT, primary_key=True)
    made_at = models.DateTimeField()
    made_in = models.ForeignKey(
        Action, models.PROTECT, null=True, blank=True, help_text="empty of the oldest"
    )

    def __str__(self):
        return self.code_id

    def current_lot(self) -> Lot | None:
        """Return the crate filling this tag is on now; None once that is empty or undone."""
        binding = self.bindings.filter(taken_off_at=None).select_related("lot").first()
        if binding is None or binding.lot.state in (Lot.State.EMPTY, Lot.State.VOID):
            return None
        return binding.lot


class TagBinding(models.Model):
    """That a tag was put on a crate filling. One at a time is not taken off again."""

    tag = models.ForeignKey(Tag, models.PROTECT, related_name="bindings")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="tag_bindings")
    at = models.DateTimeField()
    taken_off_at = models.DateTimeField(null=True, blank=True)
    person = models.ForeignKey(Person, models.PROTECT)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["tag"],
                condition=models.Q(taken_off_at__isnull=True),
                name="a_tag_is_on_one_crate",
            )
        ]
