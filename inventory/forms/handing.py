"""Handing an order over, and crates of ours that come back by themselves."""

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.forms.fields import ActForm, NumberField, PlainForm, WordsField
from inventory.models import Outlet

MOST_CRATES = 500


class HandOverForm(ActForm):
    """Who took it, and how many of our crates went and came back."""

    to_whom = WordsField(label=_("Who took it?"), max_length=80)
    crates_back = NumberField(
        label=_("Empties back"), required=False, whole=True, least=0, most=MOST_CRATES
    )
    crates_out = NumberField(
        label=_("Our crates left there"), required=False, whole=True, least=0, most=MOST_CRATES
    )

    def clean_crates_back(self) -> int:
        return self.cleaned_data["crates_back"] or 0


class EmptiesForm(PlainForm):
    """Which buyer's empties came back, and how many."""

    outlet = forms.ModelChoiceField(
        Outlet.objects.filter(in_use=True), label=_("From whom?"), empty_label=_("choose")
    )
    number = NumberField(label=_("How many came back?"), whole=True, least=1, most=MOST_CRATES)
