"""Signing in, switching, and the first set-up."""

from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.utils.translation import gettext_lazy as _

from inventory.actions.setup import MOST_RACKS, MOST_SHELVES, Shelving
from inventory.forms.fields import Chips, NumberField, PlainForm, RoomTemperatureField, WordsField
from inventory.models import Farm, Person


class SignInForm(PlainForm):
    name = WordsField(
        label=_("Your name"),
        max_length=60,
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "words"}),
    )
    password = forms.CharField(
        label=_("Password"),
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


class PinForm(PlainForm):
    pin = forms.CharField(
        label=_("PIN"),
        max_length=12,
        widget=forms.PasswordInput(
            attrs={"inputmode": "numeric", "autocomplete": "off", "autofocus": True}
        ),
    )


class OwnerPasswordForm(PlainForm):
    password = forms.CharField(
        label=_("Owner's password"),
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


def time_zones() -> list[tuple[str, str]]:
    names = [name for name in sorted(available_timezones()) if "/" in name or name == "UTC"]
    return [("", _("choose one")), *((name, name.replace("_", " ")) for name in names)]


class SetUpForm(PlainForm):
    """The farm, its cold room with shelves, and its first owner, on one page."""

    code = forms.CharField(
        label=_("Set-up code shown where the program was started"), max_length=12
    )
    name = WordsField(label=_("Name of the farm"), max_length=80)
    region = forms.ChoiceField(
        label=_("Where is the farm?"),
        choices=Farm.Region,
        initial=Farm.Region.ELSEWHERE,
        widget=Chips,
    )
    weight_unit = forms.ChoiceField(label=_("Weights in"), choices=Farm.WeightUnit)
    temperature_unit = forms.ChoiceField(label=_("Temperatures in"), choices=Farm.TemperatureUnit)
    time_zone = forms.ChoiceField(label=_("Time zone"), choices=time_zones)
    room = WordsField(label=_("Name of the cold room"), max_length=60, initial=_("Cold room"))
    target = RoomTemperatureField(label=_("It is kept at (greens: about 2 °C, which is 36 °F)"))
    racks = NumberField(label=_("Racks"), whole=True, least=1, most=MOST_RACKS, initial=4)
    shelves = NumberField(
        label=_("Shelves in each rack"), whole=True, least=1, most=MOST_SHELVES, initial=4
    )
    capacity = NumberField(label=_("Crates on a shelf"), whole=True, least=1, most=99, initial=5)
    owner = WordsField(
        label=_("Your name"),
        max_length=60,
        widget=forms.TextInput(attrs={"autocomplete": "username"}),
    )
    password = forms.CharField(
        label=_("A password for you, at least 10 characters"),
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}, render_value=True),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        unit = self.data.get("temperature_unit", "C")
        self.fields["target"].unit = unit if unit in Farm.TemperatureUnit.values else "C"

    def clean_password(self) -> str:
        password = self.cleaned_data["password"]
        validate_password(password, Person(name=self.cleaned_data.get("owner", "")))
        return password

    @property
    def shelving(self) -> Shelving:
        data = self.cleaned_data
        return Shelving(
            name=data["room"],
            target_c=data["target"],
            racks=data["racks"],
            shelves=data["shelves"],
            capacity=data["capacity"],
        )
