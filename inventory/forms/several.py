"""What can be done to several crates at once: they are ticked, and whole ones alone."""

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.forms.crates import ForWhomForm, HoldForm, WhyDiscardForm
from inventory.forms.fields import TickedForm
from inventory.forms.places import place_field
from inventory.models import Position
from inventory.queries.crates import far_past
from inventory.words.crates import far_past_among_words


class MoveSeveralForm(TickedForm):
    position = place_field()

    def clean_position(self) -> Position:
        position = self.cleaned_data["position"]
        if position is None:
            raise forms.ValidationError(_("Tap the place where they stand now."))
        return position


class TakeSeveralForm(TickedForm, ForWhomForm):
    """Asks once more where some are far past their time, and names them."""

    all_the_same = _("Take them out all the same")

    @property
    def doubt(self) -> str:
        ticked = self.cleaned_data["lots"]
        return far_past_among_words(
            far_past(crate for crate in self.crates if crate.code in ticked)
        )


class HoldSeveralForm(TickedForm, HoldForm):
    pass


class DiscardSeveralForm(TickedForm, WhyDiscardForm):
    pass
