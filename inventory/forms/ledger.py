"""The search of what happened."""

from django import forms
from django.db import models
from django.db.models import Exists, OuterRef
from django.utils.translation import gettext_lazy as _

from inventory.forms.fields import DayField, PlainForm, WordsField
from inventory.models import Crop, Lot, Movement, Person
from inventory.models.crops import Unit
from inventory.queries.ledger import LedgerSearch
from inventory.words.week import FIGURES


def _hidden(choices: type[models.TextChoices]) -> forms.ChoiceField:
    """Return what only a link from the week fills in."""
    return forms.ChoiceField(
        choices=[("", ""), *choices.choices], required=False, widget=forms.HiddenInput
    )


class LedgerForm(PlainForm):
    what = forms.ChoiceField(
        label=_("What?"),
        choices=[("", _("what was done to crates")), ("set", _("what the owner set"))],
        required=False,
    )
    crop = forms.ModelChoiceField(
        Crop.objects.filter(Exists(Lot.objects.filter(crop=OuterRef("pk")))),
        label=_("Crop"),
        required=False,
        empty_label=_("any"),
    )
    code = WordsField(label=_("Code of a crate or tag"), max_length=12, required=False)
    person = forms.ModelChoiceField(
        Person.objects.all(), label=_("Who"), required=False, empty_label=_("anybody")
    )
    from_day = DayField(label=_("From day"), required=False)
    to_day = DayField(label=_("To day"), required=False)
    figure = forms.ChoiceField(
        label=_("Which figure of the week?"),
        choices=[("", _("any")), *FIGURES.items()],
        required=False,
    )
    reason = _hidden(Movement.Reason)
    destination = _hidden(Movement.Destination)
    unit = _hidden(Unit)

    @property
    def search(self) -> LedgerSearch:
        if not self.is_valid():
            return LedgerSearch()
        data = {name: value for name, value in self.cleaned_data.items() if name != "what"}
        return LedgerSearch(**data)

    @property
    def of_week(self) -> LedgerSearch | None:
        """What is looked for where a figure of the week led here."""
        return self.search if self.search.figure and self.search.from_day else None

    @property
    def wants_changes(self) -> bool:
        """Whether what the owner set is asked for, not what was done to crates."""
        return self.is_valid() and self.cleaned_data["what"] == "set"
