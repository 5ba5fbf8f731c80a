from datetime import datetime, timedelta

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from inventory.models.ledger import Action
from inventory.models.lots import Intake
from inventory.models.people import Person
from inventory.models.places import Room
from inventory.models.rows import ReadByTheHundred


class Sensor(models.Model):
    """A thermometer that posts readings by itself, with a token only it knows."""

    name = models.CharField(max_length=60)
    room = models.ForeignKey(Room, models.PROTECT)
    token_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    posts = models.JSONField(
        default=list, help_text="when it posted the last few times, in seconds since 1970"
    )

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                Lower("name"),
                condition=models.Q(revoked_at__isnull=True),
                name="sensors_at_work_are_told_apart_by_name",
            )
        ]

    def __str__(self):
        return self.name


class TakenBack(models.Model):
    """What may be taken back: the row stays, says by whom and when, and counts no more."""

    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_by = models.ForeignKey(
        Person, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        abstract = True


class PaperLog(TakenBack):
    """A paper log typed in bulk, under the id of its form: readings that came by one doing."""

    id = models.UUIDField(primary_key=True)
    room = models.ForeignKey(Room, models.PROTECT)
    person = models.ForeignKey(Person, models.PROTECT)
    at = models.DateTimeField(help_text="when it was typed in")
    added = models.PositiveIntegerField(default=0)
    already_there = models.PositiveIntegerField(default=0)
    set_aside = models.PositiveIntegerField(default=0)

    def __str__(self):
        return str(self.room)


class Reading(ReadByTheHundred, TakenBack):
    """One temperature of a room's air at a moment. Set aside when no room is like that."""

    class Kind(models.TextChoices):
        TYPED = "typed", _("typed")
        PAPER = "paper", _("from paper")
        FILE = "file", _("from a file")
        SENSOR = "sensor", _("from a sensor")

    class Aside(models.TextChoices):
        IMPLAUSIBLE = "implausible", _("outside −30 to 50 °C")
        WRONG = "wrong", _("called wrong by the owner")

    room = models.ForeignKey(Room, models.PROTECT, related_name="readings")
    sensor = models.CharField(max_length=60, blank=True)
    at = models.DateTimeField()
    temperature_c = models.FloatField()
    kind = models.CharField(max_length=6, choices=Kind)
    person = models.ForeignKey(Person, models.PROTECT, null=True, blank=True)
    file = models.ForeignKey("TemperatureFile", models.PROTECT, null=True, blank=True)
    paper = models.ForeignKey(PaperLog, models.PROTECT, null=True, blank=True)
    set_aside = models.CharField(max_length=11, choices=Aside, blank=True)
    entry_id = models.UUIDField(
        null=True, blank=True, unique=True, help_text="id of the form, where one was typed"
    )

    class Meta:
        ordering = ["room", "at"]
        constraints = [
            models.UniqueConstraint(
                fields=["room", "sensor", "at"],
                condition=~Q(set_aside="wrong"),
                name="one_reading_per_sensor_and_moment",
            )
        ]
        indexes = [models.Index(fields=["room", "at"], name="reading_by_room_and_time")]


LATE_FROM = timedelta(hours=6)


class LogChanges(models.Manager["LogChange"]):
    def note(self, room: Room, since: datetime, at: datetime) -> "LogChange":
        """Write that at one moment a room's history changed from another on."""
        late = since < at - LATE_FROM
        return self.create(room=room, since=since, recorded_at=at, late=late)


class LogChange(models.Model):
    """That a room's history changed from a moment on. Its number is the history's version.

    late: it reached so far back that days left, and what goes first, may have changed with it.
    """

    room = models.ForeignKey(Room, models.PROTECT, related_name="log_changes")
    since = models.DateTimeField()
    recorded_at = models.DateTimeField()
    late = models.BooleanField(default=False)

    objects = LogChanges()

    class Meta:
        indexes = [
            models.Index(fields=["room", "id"], name="log_change_by_room"),
            models.Index(fields=["recorded_at"], condition=Q(late=True), name="late_log_change"),
        ]


class AlarmClosing(models.Model):
    """What was done about a spell out of range: the record auditors ask for."""

    room = models.ForeignKey(Room, models.PROTECT, related_name="alarm_closings")
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField()
    side = models.CharField(max_length=4)
    peak_c = models.FloatField()
    closed_at = models.DateTimeField()
    person = models.ForeignKey(Person, models.PROTECT)
    done = models.CharField(max_length=200)

    class Meta:
        ordering = ["-closed_at"]

    def __str__(self):
        return str(self.room)


class AlarmMail(models.Model):
    """That somebody was mailed about a spell out of range, so that it is done once."""

    room = models.ForeignKey(Room, models.PROTECT)
    started_at = models.DateTimeField()
    side = models.CharField(max_length=4)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["room", "started_at", "side"], name="one_mail_per_spell"
            )
        ]


class ProbeReading(TakenBack):
    """The temperature inside the produce of an intake, by probe, after it came in."""

    intake = models.ForeignKey(Intake, models.PROTECT, related_name="probes")
    at = models.DateTimeField()
    temperature_c = models.DecimalField(max_digits=5, decimal_places=2)
    person = models.ForeignKey(Person, models.PROTECT)
    entry_id = models.UUIDField(unique=True, help_text="id of the form it was typed in")

    class Meta:
        ordering = ["at"]
        constraints = [
            models.UniqueConstraint(
                fields=["intake", "at"],
                condition=models.Q(taken_back_at__isnull=True),
                name="one_probe_per_moment",
            )
        ]


class RoomCheckQuerySet(models.QuerySet):
    def standing(self) -> "RoomCheckQuerySet":
        """What counts: neither taken back nor replaced by a later look of the day."""
        return self.filter(taken_back_at__isnull=True, replaced_by__isnull=True)


class RoomCheck(TakenBack):
    """The daily look at a room. The weekly questions stay empty on other days."""

    room = models.ForeignKey(Room, models.PROTECT, related_name="checks")
    day = models.DateField()
    at = models.DateTimeField()
    person = models.ForeignKey(Person, models.PROTECT)
    temperature_c = models.FloatField(null=True, blank=True)
    door_shut = models.BooleanField()
    odd = models.CharField(max_length=200, blank=True)
    drip_tray_clean = models.BooleanField(null=True, blank=True)
    thermometer_right = models.BooleanField(null=True, blank=True)
    opens_from_inside = models.BooleanField(null=True, blank=True)
    entry_id = models.UUIDField(
        null=True, blank=True, unique=True, help_text="id of the form, which its reading has too"
    )
    judged = models.ForeignKey(
        Action, models.PROTECT, null=True, blank=True, related_name="+",
        help_text="what was answered of the one crate asked about",
    )  # fmt: skip
    replaced_by = models.ForeignKey(
        "self", models.PROTECT, null=True, blank=True, related_name="replaces"
    )

    WEEKLY = ("drip_tray_clean", "thermometer_right", "opens_from_inside")

    objects = RoomCheckQuerySet.as_manager()

    class Meta:
        ordering = ["room", "day", "pk"]
        indexes = [
            models.Index(fields=["replaced_by", "day"], name="check_by_day"),
            models.Index(fields=["room", "day"], name="check_by_room"),
            models.Index(
                fields=["replaced_by", "taken_back_at"],
                condition=models.Q(opens_from_inside=False),
                name="check_of_a_shut_door",
            ),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["room", "day"],
                condition=models.Q(taken_back_at__isnull=True, replaced_by__isnull=True),
                name="one_check_per_room_and_day",
            )
        ]


class TemperatureFile(models.Model):
    """A logger's file on its way in: kept in the data folder, taken up in pieces."""

    id = models.UUIDField(primary_key=True)
    room = models.ForeignKey(Room, models.PROTECT, related_name="files")
    sensor = models.CharField(max_length=60)
    digest = models.CharField(max_length=64, help_text="SHA-256 of the file as it came")
    person = models.ForeignKey(Person, models.PROTECT)
    uploaded_at = models.DateTimeField()
    columns = models.JSONField(default=dict)
    rows = models.PositiveIntegerField(default=0)
    next_row = models.PositiveIntegerField(default=0)
    next_byte = models.PositiveIntegerField(default=0, help_text="where that row begins")
    added = models.PositiveIntegerField(default=0)
    already_there = models.PositiveIntegerField(default=0)
    set_aside = models.PositiveIntegerField(default=0)
    bad_rows = models.JSONField(default=list)

    @property
    def is_done(self) -> bool:
        return self.rows > 0 and self.next_row >= self.rows
