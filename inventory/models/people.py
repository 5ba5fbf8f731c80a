import unicodedata

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.hashers import check_password, make_password
from django.db import models
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from inventory.models.crops import NAME_TAKEN


def name_key(name: str) -> str:
    """Return a name as it is compared: the same for every way to type it, on every database.

    PostgreSQL holds a dotless i for an i, SQLite does not.
    """
    folded = unicodedata.normalize("NFKC", name).casefold()
    return folded.replace("ı", "i").replace("\u0307", "").strip()[:60]


class PersonManager(BaseUserManager["Person"]):
    def get_by_natural_key(self, name: str | None) -> "Person":
        typed = name or ""
        found = [person for person in self.all() if name_key(person.name) == name_key(typed)]
        exact = [person for person in found if person.name.casefold() == typed.strip().casefold()]
        for person in exact or found:
            return person
        raise self.model.DoesNotExist


class Person(AbstractBaseUser):
    """A crew member or owner. Crew without a password are chosen by a tap on a paired phone."""

    class Role(models.TextChoices):
        CREW = "crew", _("crew")
        OWNER = "owner", _("owner")

    class Language(models.TextChoices):
        ENGLISH = "en", "English"
        SPANISH = "es", "Español"

    name = models.CharField(
        max_length=60,
        unique=True,
        error_messages={"unique": NAME_TAKEN["violation_error_message"]},
    )
    role = models.CharField(max_length=5, choices=Role, default=Role.CREW)
    language = models.CharField(max_length=2, choices=Language, default=Language.ENGLISH)
    pin = models.CharField(max_length=128, blank=True)
    is_active = models.BooleanField(default=True)

    USERNAME_FIELD = "name"
    REQUIRED_FIELDS = []

    objects = PersonManager()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                Lower("name"), name="people_are_told_apart_by_name", **NAME_TAKEN
            )
        ]

    def __str__(self):
        return self.name

    @property
    def is_owner(self) -> bool:
        return self.role == self.Role.OWNER

    def set_pin(self, pin: str) -> None:
        self.pin = make_password(pin) if pin else ""

    def check_pin(self, pin: str) -> bool:
        return check_password(pin, self.pin)


class Phone(models.Model):
    """A phone or tablet paired by somebody's password. Unpairing ends its sign-ins at once."""

    name = models.CharField(max_length=60)
    paired_by = models.ForeignKey(Person, models.PROTECT)
    paired_at = models.DateTimeField()
    shared = models.BooleanField(default=False, help_text="more than one person has used it")
    unpaired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-paired_at"]

    def __str__(self):
        return self.name


class Guess(models.Model):
    """Wrong passwords and PINs in a row of a person, from one place; see actions/people.py.

    device: a phone that the person is known on, an address, or "*" for all of them. person_name:
    as name_key gives it; empty of a name nobody has.
    """

    device = models.CharField(max_length=64)
    person_name = models.CharField(max_length=60)
    count = models.PositiveIntegerField(default=0)
    last_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["device", "person_name"], name="one_guess_count_per_device_and_person"
            )
        ]
