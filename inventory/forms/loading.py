"""For which market day to load, and what a person says about it."""

import re
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.forms.fields import Chips, DayField, NumberField, PlainForm
from inventory.learning.demand import Weather
from inventory.models import Outlet
from inventory.models.crops import Unit
from inventory.queries.loading import CropUnit, Own, ToLoad
from inventory.rotation.loading import Rather
from inventory.words.loading import RATHER, WEATHERS

_OWN = re.compile(r"(crates|home)-(\d{1,9})-([a-z]+)")
# More crops than any farm sells: nobody makes the page slow by its address.
_MOST_FIELDS = 400


class LoadingForm(PlainForm):
    """Asked in the address, so that it can be kept, printed and sent on."""

    market = forms.ModelChoiceField(Outlet.objects.none(), label=_("Market"), required=False)
    day = DayField(label=_("For which day?"), required=False)
    weather = forms.ChoiceField(
        label=_("What will the day be like?"),
        choices=list(WEATHERS.items()), widget=Chips, required=False,
    )  # fmt: skip
    rather = forms.ChoiceField(
        label=_("Where a price or a worth is missing"),
        choices=list(RATHER.items()), widget=Chips, required=False,
    )  # fmt: skip

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        markets = Outlet.objects.filter(kind=Outlet.Kind.MARKET, in_use=True)
        self.fields["market"].queryset = markets
        self.fields["market"].empty_label = None
        for name in sorted(self.data)[:_MOST_FIELDS]:
            if _OWN.fullmatch(name):
                self._add(name)

    def _add(self, name: str) -> None:
        field = (
            NumberField(label=_("Your own number of crates"), whole=True, least=0, most=999)
            if name.startswith("crates")
            else NumberField(label=_("Kept at home one is worth"), least=0, most=10_000)
        )
        field.required = False
        field.widget.attrs["form"] = "asked"
        self.fields[name] = field

    def fields_of(self, row: ToLoad) -> list[forms.BoundField]:
        """Return what can be said of one crop."""
        names = [f"{what}-{row.key}" for what in ("crates", "home")]
        for name in names:
            if name not in self.fields:
                self._add(name)
        return [self[name] for name in names]

    def clean_day(self) -> date | None:
        day = self.cleaned_data["day"]
        if day and day < self.today:
            raise forms.ValidationError(_("That day is over. Choose today or a later one."))
        return day

    def clean_weather(self) -> Weather:
        return Weather(self.cleaned_data["weather"] or Weather.USUAL)

    def clean_rather(self) -> Rather:
        return Rather(self.cleaned_data["rather"] or Rather.EVEN)

    @property
    def own(self) -> dict[CropUnit, Own]:
        """What was said by crop and unit, as far as it can be understood."""
        found: dict[CropUnit, dict[str, Any]] = {}
        for name, value in self.cleaned_data.items():
            if (match := _OWN.fullmatch(name)) and value is not None and match[3] in Unit.values:
                what = "crates" if match[1] == "crates" else "at_home"
                found.setdefault((int(match[2]), match[3]), {})[what] = value
        return {key: Own(**said) for key, said in found.items()}
