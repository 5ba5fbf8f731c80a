"""What can be done to several crates at once: they are ticked, and whole ones alone."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.forms.crates import ForWhomForm, HoldForm, WhyDiscardForm
from inventory.forms.fields import TickedForm
from inventory.forms.places import place_field
from inventory.models import Position

LONG_PAST = 1.5  # of its life used: taking it out asks first


class MoveSeveralForm(TickedForm):
    position = place_field()

    def clean_position(self) -> Position:
        position = self.cleaned_data["position"]
        if position is None:
            raise forms.ValidationError(_("Tap the place where they stand now."))
        return position


class TakeSeveralForm(TickedForm, ForWhomForm):
    """Asks once more where some are long past their time, and names them."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.past = [crate.code for crate in self.crates if crate.life.used >= LONG_PAST]
        if self.past:
            self.fields["sure"] = forms.BooleanField(
                label=_("Take what is long past its time, too: %s") % ", ".join(self.past),
                required=False,
            )

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        past = [code for code in self.past if code in data.get("lots", ())]
        if past and not data.get("sure"):
            named = {"codes": ", ".join(past)}
            self.add_error(
                "sure",
                _("Long past their time: %(codes)s. Look first; then untick them, or tick this.")
                % named,
            )
        return data


class HoldSeveralForm(TickedForm, HoldForm):
    pass


class DiscardSeveralForm(TickedForm, WhyDiscardForm):
    pass
