from django.db import models
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from inventory.models.codes import Code
from inventory.models.crops import NAME_TAKEN
from inventory.models.rows import ReadByTheHundred


class Room(models.Model):
    """A place with one temperature: the cold room, a warmer corner."""

    name = models.CharField(max_length=60)
    target_c = models.DecimalField(max_digits=5, decimal_places=2)
    band_c = models.DecimalField(
        max_digits=4, decimal_places=2, default=2, help_text="in range up to this far from target"
    )
    alarm_after_h = models.DecimalField(max_digits=4, decimal_places=1, default=2)
    damp = models.BooleanField(default=True, help_text="its air is as moist as greens need it")
    order = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["order", "pk"]
        constraints = [
            models.UniqueConstraint(Lower("name"), name="room_names_are_unique", **NAME_TAKEN)
        ]

    def __str__(self):
        return self.name

    @property
    def low_c(self) -> float:
        return float(self.target_c - self.band_c)

    @property
    def high_c(self) -> float:
        return float(self.target_c + self.band_c)


class RoomTarget(models.Model):
    """What a room was to be kept at from a moment on. The latest is the room's own `target_c`."""

    room = models.ForeignKey(Room, models.PROTECT, related_name="targets")
    since = models.DateTimeField()
    target_c = models.DecimalField(max_digits=5, decimal_places=2)

    class Meta:
        ordering = ["room", "since"]
        constraints = [
            models.UniqueConstraint(fields=["room", "since"], name="one_target_per_room_and_moment")
        ]


class Position(ReadByTheHundred):
    """A labelled place in a room: rack, shelf, and place on the shelf where there are several."""

    code = models.OneToOneField(Code, models.PROTECT, primary_key=True)
    room = models.ForeignKey(Room, models.PROTECT, related_name="positions")
    rack = models.CharField(max_length=8)
    shelf = models.PositiveSmallIntegerField()
    place = models.CharField(max_length=8, blank=True)
    capacity = models.PositiveSmallIntegerField(default=5)
    cold_spot = models.BooleanField(default=False)
    walk = models.PositiveIntegerField(help_text="order in which one walks the shelves")
    in_use = models.BooleanField(default=True)

    class Meta:
        ordering = ["walk"]
        constraints = [
            models.UniqueConstraint(
                fields=["rack", "shelf", "place"],
                name="places_are_told_apart_by_name",
                violation_error_message=_("There is a place of that name already."),
            )
        ]

    def __str__(self):
        return self.name

    @property
    def name(self) -> str:
        return f"{self.rack}{self.shelf}{self.place}"
