"""For which day, and for whom, what could be promised."""

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.forms.fields import DayField, PlainForm
from inventory.models import Outlet


class AvailabilityForm(PlainForm):
    """Asked in the address, so that it can be kept and sent on."""

    buyer = forms.ModelChoiceField(
        Outlet.objects.filter(in_use=True),
        label=_("For whom?"), required=False, empty_label=_("anybody"),
    )  # fmt: skip
    day = DayField(label=_("For which day?"), required=False)

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_day(self) -> date | None:
        day = self.cleaned_data["day"]
        if day and day < self.today:
            raise forms.ValidationError(_("That day is over. Choose today or a later one."))
        return day
