from django.db import models

from inventory.models.lots import Lot
from inventory.models.people import Person
from inventory.models.places import Position


class CountRound(models.Model):
    """One walk along the shelves, scanning everything; settled or given up at its end."""

    person = models.ForeignKey(Person, models.PROTECT)
    places = models.ManyToManyField(Position, help_text="what was walked to, crates or none")
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)


class CountSeen(models.Model):
    """That a crate was seen at a place in a round. The last sight of it counts."""

    round = models.ForeignKey(CountRound, models.PROTECT, related_name="seen")
    lot = models.ForeignKey(Lot, models.PROTECT)
    position = models.ForeignKey(Position, models.PROTECT)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["round", "lot"], name="a_crate_is_seen_once_a_round")
        ]
