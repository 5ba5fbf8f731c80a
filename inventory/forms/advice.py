"""The answer to a suggestion of the week."""

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.forms.fields import NumberField, PlainForm
from inventory.models import Suggestion

MOST = 1000


class AnswerForm(PlainForm):
    """To be done, with the number that is proposed or another, or not now."""

    suggestion = forms.CharField(widget=forms.HiddenInput)
    answer = forms.ChoiceField(choices=Suggestion.Answer, widget=forms.HiddenInput)
    figure = NumberField(label=_("Another number"), required=False, whole=True, least=0, most=MOST)

    @property
    def content(self) -> dict:
        data = self.cleaned_data
        return {
            "key": data["suggestion"],
            "accepted": data["answer"] == Suggestion.Answer.ACCEPTED,
            "figure": data["figure"],
        }
