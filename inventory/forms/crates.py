"""What can be done to a crate that stands here or is out."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.forms.fields import ActForm, Chips, NumberField, PlainForm, PortionMixin, WordsField
from inventory.forms.places import BESIDE_THE_FIRST, place_field
from inventory.ledger.outings import out_of
from inventory.models import Movement, Outlet, Position
from inventory.queries.crates import Crate, beside_first
from inventory.rotation.order import LONGEST_KEEP_DAYS
from inventory.words.crates import far_past_words, whole_past_words
from inventory.words.ledger import COUNT_REASONS, HOLD_REASONS


class CrateForm(ActForm):
    """A form about one crate."""

    def __init__(self, *args: Any, crate: Crate, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.crate = crate

    # The words of the button that answers a doubt.
    all_the_same = _("All the same")

    @property
    def doubt(self) -> str:
        """What is asked before this is done, where harm is plain; "" where nothing is."""
        return ""


class MoveForm(CrateForm):
    position = place_field()

    def clean_position(self) -> Position:
        position = self.cleaned_data["position"]
        if position is None:
            raise forms.ValidationError(_("Tap the place where it stands now."))
        return position


# What has a place of its own: the market a buyer's row, sending back its form.
_ASKED_ELSEWHERE = (Movement.Purpose.MARKET, Movement.Purpose.SENT_BACK)


class ForWhomForm(ActForm):
    """For whom or for what something goes out."""

    outlet = forms.ModelChoiceField(
        Outlet.objects.filter(in_use=True),
        label=_("Buyer"),
        required=False,
        empty_label=_("no buyer on the list"),
    )
    purpose = forms.ChoiceField(
        label=_("or"),
        choices=[
            choice for choice in Movement.Purpose.choices if choice[0] not in _ASKED_ELSEWHERE
        ],
        widget=Chips,
        required=False,
    )
    to = WordsField(label=_("To whom?"), max_length=80, required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if not data.get("outlet") and not data.get("purpose") and not self.errors:
            self.add_error(
                "outlet", _("Choose a buyer, or say that it is given away or for own use.")
            )
        if data.get("outlet") and data.get("purpose") in ("given", "own use"):
            self.add_error("outlet", _("Either a buyer, or given or own use: not both."))
        return data

    @property
    def what_for(self) -> dict:
        outlet = self.cleaned_data["outlet"]
        return {
            "purpose": outlet.purpose if outlet else self.cleaned_data["purpose"],
            "outlet": outlet,
            "to": self.cleaned_data["to"],
        }


class TakeOutForm(PortionMixin, CrateForm, ForWhomForm):
    all_the_same = _("Take it out all the same")

    @property
    def doubt(self) -> str:
        return far_past_words(self.crate)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.add_portion(self.crate)


class SendBackForm(PortionMixin, CrateForm):
    note = WordsField(label=_("Why, for the supplier"), required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.add_portion(self.crate)


class BringBackForm(CrateForm):
    quantity = NumberField(label=_("How much came back?"), least=0, most=1_000_000)
    warm_hours = NumberField(
        label=_("Hours out of the cold (left empty: all the time it was out)"),
        required=False,
        least=0,
        most=72,
    )
    position = place_field()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.outings = list(out_of(self.crate.lot).items())
        if self.outings:
            self.initial.setdefault("quantity", self.outings[-1][1])
        if len(self.outings) > 1:
            self.fields["outing"] = forms.TypedChoiceField(
                label=_("From where?"),
                choices=[
                    (number, outing.to or Movement.Purpose(outing.purpose).label)
                    for number, (outing, _amount) in enumerate(self.outings)
                ],
                initial=len(self.outings) - 1,
                coerce=int,
                widget=Chips,
            )

    @property
    def content(self) -> dict:
        """What was typed, and the outing it comes back from."""
        data = super().content
        number = data.pop("outing", -1)
        return {**data, "outing": self.outings[number][0] if self.outings else None}


class CountForm(CrateForm):
    quantity = NumberField(label=_("How much is in it?"), least=0, most=1_000_000)
    reason = forms.ChoiceField(label=_("Why the difference?"), choices=COUNT_REASONS, widget=Chips)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("quantity", self.crate.lot.quantity)
        self.initial.setdefault("reason", "miscounted")


class SplitForm(CrateForm):
    quantity = NumberField(label=_("How much goes into the second crate?"), least=0, most=1_000_000)


class SeveralCratesForm(CrateForm):
    """A form about this crate and others of the same crop and unit."""

    def __init__(self, *args: Any, others: list[Crate], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        beside, elsewhere = beside_first(self.crate, others)
        self.fields["others"] = forms.MultipleChoiceField(
            label=_("Together with"),
            choices=[(other.code, other.code) for other in (*beside, *elsewhere)],
            required=False,
            widget=forms.CheckboxSelectMultiple,
        )
        # As the page lists them: of the same harvest or shelf, and folded the rest.
        self.beside, self.elsewhere = beside, elsewhere
        self.others = {other.code: other for other in others}
        self.order_fields(["others"])

    @property
    def chosen(self) -> list[str]:
        """The other crates ticked, right or not."""
        return self["others"].value() or []

    all_the_same = _("Put them together all the same")

    @property
    def doubt(self) -> str:
        picked = [self.crate, *(self.others[code] for code in self.cleaned_data["others"])]
        return whole_past_words(picked)

    @property
    def lots(self) -> list[str]:
        return [self.crate.code, *self.cleaned_data["others"]]


class CombineForm(SeveralCratesForm):
    position = place_field(BESIDE_THE_FIRST)

    def clean_others(self) -> list[str]:
        if not self.cleaned_data["others"]:
            raise forms.ValidationError(_("Tap at least one other crate."))
        return self.cleaned_data["others"]


# The standard's places most farms use, by everyday names. What goes off with the trash is
# landfill: its "refuse" is what lies about in the open (the source named at Destination).
USUAL_DESTINATIONS = [
    (Movement.Destination.COMPOST, _("compost")),
    (Movement.Destination.ANIMALS, _("animals")),
    (Movement.Destination.LANDFILL, _("trash")),
]
OTHER_DESTINATIONS = [
    choice for choice in Movement.Destination.choices if choice[0] not in dict(USUAL_DESTINATIONS)
]


class ResortForm(SeveralCratesForm):
    firsts = NumberField(label=_("Firsts"), required=False, least=0, most=1_000_000)
    seconds = NumberField(label=_("Seconds"), required=False, least=0, most=1_000_000)
    culls = NumberField(
        label=_("Culls: not fit to sell, discarded"), required=False, least=0, most=1_000_000
    )
    lost = NumberField(
        label=_("Weight lost by drying and trimming"), required=False, least=0, most=1_000_000
    )
    destination = forms.ChoiceField(
        label=_("Where the culls go"),
        choices=Movement.Destination.choices,
        initial=Movement.Destination.COMPOST,
        required=False,
    )
    position = place_field(BESIDE_THE_FIRST)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.order_fields(["firsts", "seconds", "culls", "lost", "destination"])

    def amounts(self) -> dict[str, Decimal]:
        names = ("firsts", "seconds", "culls", "lost")
        return {name: self.cleaned_data[name] or Decimal(0) for name in names}


GOOD_ANSWERS = (
    (Movement.Judgement.GOOD, _("yes")),
    (Movement.Judgement.JUST, _("only just")),
    (Movement.Judgement.GONE, _("no")),
)


def still_good_field(
    required: bool = False, answers: Sequence[tuple[str, Any]] = GOOD_ANSWERS
) -> forms.ChoiceField:
    """The one question the farm's own record is built of. No answer is chosen for anyone."""
    return forms.ChoiceField(
        label=_("Still good?"), choices=answers, widget=Chips, required=required
    )


# Of a crate whose case carries a date that passed there is one more.
PAST_DATE = (Movement.Reason.PAST_DATE.value, Movement.Reason.PAST_DATE.label)
DISCARD_REASONS = [
    choice
    for choice in Movement.Reason.choices
    if choice[0] not in (Movement.Reason.CULLED, Movement.Reason.PAST_DATE)
]


class WhyDiscardForm(ActForm):
    """Why something is thrown out, and where to."""

    reason = forms.ChoiceField(label=_("Why?"), choices=DISCARD_REASONS, widget=Chips)
    destination = forms.ChoiceField(
        label=_("Where does it go?"),
        choices=USUAL_DESTINATIONS + OTHER_DESTINATIONS,
        initial=Movement.Destination.COMPOST,
        widget=Chips,
    )
    usual, elsewhere = USUAL_DESTINATIONS, OTHER_DESTINATIONS
    judgement = still_good_field()
    note = WordsField(label=_("Note"), required=False)


class DiscardForm(PortionMixin, CrateForm, WhyDiscardForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.add_portion(self.crate)
        if self.crate.is_past_a_date:
            self.fields["reason"].choices = [PAST_DATE, *DISCARD_REASONS]


class InspectForm(CrateForm):
    days = forms.TypedChoiceField(
        label=_("Keep it for how many days?"),
        choices=[(days, days) for days in range(1, LONGEST_KEEP_DAYS + 1)],
        coerce=int,
        widget=Chips,
    )
    seen = WordsField(label=_("What did you see and smell?"))
    judgement = still_good_field(answers=GOOD_ANSWERS[:2])  # what is gone is not kept


class GoodForm(CrateForm):
    answer = still_good_field(required=True)


class ReasonForm(CrateForm):
    reason = WordsField(label=_("Why?"))


class HoldForm(PlainForm):
    """Two taps: on hold, and why."""

    reason = forms.ChoiceField(label=_("Why?"), choices=HOLD_REASONS, initial="a doubt")
