"""The search of what happened."""

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.forms.fields import DayField, PlainForm, WordsField
from inventory.models import Crop, Person
from inventory.queries.ledger import LedgerSearch


class LedgerForm(PlainForm):
    crop = forms.ModelChoiceField(
        Crop.objects.filter(lots__isnull=False).distinct(),
        label=_("Crop"),
        required=False,
        empty_label=_("any"),
    )
    code = WordsField(label=_("Crate code"), max_length=12, required=False)
    person = forms.ModelChoiceField(
        Person.objects.all(), label=_("Who"), required=False, empty_label=_("anybody")
    )
    from_day = DayField(label=_("From day"), required=False)
    to_day = DayField(label=_("To day"), required=False)

    @property
    def search(self) -> LedgerSearch:
        return LedgerSearch(**self.cleaned_data) if self.is_valid() else LedgerSearch()
