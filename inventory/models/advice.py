from typing import Self

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from inventory.learning.advice import Rule
from inventory.models.buyers import Outlet
from inventory.models.crops import Crop, QuantityField, Unit
from inventory.models.ledger import Action


class SuggestionQuerySet(models.QuerySet):
    def standing(self) -> Self:
        """Those that were not taken back."""
        return self.filter(action__undone_by__isnull=True)


class Suggestion(models.Model):
    """What the owner answered to a suggestion of a week; suggestions themselves are not kept.

    about: the weekday, shelf or place it is about besides the crop; outlet: the market.
    before, proposed: the figure it names, as it was and as the rule would have it; figure: as the
    owner said. outcome: what was too much, old or lost that week. sums: what it came from, as
    pairs of part and whole.
    """

    class Answer(models.TextChoices):
        ACCEPTED = "accepted", _("to be done")
        WAVED = "waved", _("not now")

    action = models.OneToOneField(Action, models.PROTECT, related_name="suggestion")
    week = models.DateField(help_text="the first day of the week it is drawn from")
    rule = models.CharField(max_length=11, choices=[(rule.value, rule.value) for rule in Rule])
    crop = models.ForeignKey(Crop, models.PROTECT, related_name="+")
    unit = models.CharField(max_length=5, choices=Unit)
    about = models.CharField(max_length=20, blank=True)
    outlet = models.ForeignKey(Outlet, models.PROTECT, null=True, blank=True, related_name="+")
    answer = models.CharField(max_length=8, choices=Answer)
    before = QuantityField()
    proposed = QuantityField()
    figure = QuantityField()
    outcome = QuantityField()
    sums = models.JSONField(default=list)

    objects = SuggestionQuerySet.as_manager()

    class Meta:
        ordering = ["week", "pk"]
        indexes = [models.Index(fields=["week"], name="suggestion_by_week")]
        constraints = [
            models.CheckConstraint(
                condition=Q(figure__gte=0), name="what_is_to_be_done_is_no_less_than_0"
            )
        ]

    def __str__(self):
        return f"{self.week} {self.rule} {self.answer}"
