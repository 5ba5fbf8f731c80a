from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db import models
from django.utils.translation import gettext_lazy as _


class Farm(models.Model):
    """The one farm this installation belongs to."""

    class WeightUnit(models.TextChoices):
        KG = "kg", _("kilograms (kg)")
        LB = "lb", _("pounds (lb)")

    class TemperatureUnit(models.TextChoices):
        CELSIUS = "C", "°C"
        FAHRENHEIT = "F", "°F"

    class Region(models.TextChoices):
        US = "us", _("United States: 2:05 PM, Nov 25")
        ELSEWHERE = "elsewhere", _("elsewhere: 14:05, 25 Nov")

    name = models.CharField(max_length=80)
    region = models.CharField(max_length=9, choices=Region, default=Region.ELSEWHERE)
    weight_unit = models.CharField(max_length=2, choices=WeightUnit, default=WeightUnit.KG)
    temperature_unit = models.CharField(
        max_length=1, choices=TemperatureUnit, default=TemperatureUnit.CELSIUS
    )
    time_zone = models.CharField(max_length=60)
    week_start = models.PositiveSmallIntegerField(default=0, help_text="0 is Monday")
    postal_address = models.CharField(max_length=120, blank=True)
    telephone = models.CharField(max_length=30, blank=True)
    label_address = models.CharField(max_length=80, blank=True)
    label_stock = models.CharField(max_length=20, default="a4-2x7")
    label_w_mm = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    label_h_mm = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    nudge_x_mm = models.DecimalField(max_digits=3, decimal_places=1, default=0)
    nudge_y_mm = models.DecimalField(max_digits=3, decimal_places=1, default=0)
    unplaced_room = models.ForeignKey(
        "Room",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="where crates that are not put away count as standing; empty is the first room",
    )
    pin_required = models.BooleanField(default=False)
    harvest_days = models.CharField(
        max_length=7, blank=True, help_text="weekdays as digits, 0 is Monday; empty is every day"
    )
    most_crates_a_day = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="that can be cut on one day"
    )
    waste_aim_percent = models.DecimalField(
        max_digits=4,
        decimal_places=1,
        null=True,
        blank=True,
        help_text="of what leaves, at most so much is to be wasted",
    )
    week_mail_day = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="0 is Monday; on this day the week's figures are mailed"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(pk=1), name="only_one_farm"),
            models.CheckConstraint(
                condition=models.Q(week_start__lte=6), name="week_starts_on_a_weekday"
            ),
            models.CheckConstraint(
                condition=models.Q(week_mail_day__isnull=True) | models.Q(week_mail_day__lte=6),
                name="week_is_mailed_on_a_weekday",
            ),
            models.CheckConstraint(
                condition=models.Q(waste_aim_percent__isnull=True)
                | models.Q(waste_aim_percent__range=(0, 100)),
                name="waste_aim_is_a_share",
            ),
        ]

    def __str__(self):
        return self.name

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)

    def day_start(self, day: date) -> datetime:
        """Return the moment a farm day begins. Days are 23 or 25 hours on clock-change nights."""
        return datetime.combine(day, time(0), self.zone)

    def week_start_of(self, day: date) -> date:
        """Return the first day of the farm's week that holds this day."""
        return day - timedelta(days=(day.weekday() - self.week_start) % 7)

    def week_of(self, moment: datetime) -> date:
        """Return the first day of the farm's week that holds this moment."""
        return self.week_start_of(moment.astimezone(self.zone).date())
