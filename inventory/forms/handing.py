"""Handing an order over, and crates of ours that come back by themselves."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.forms.fields import ActForm, Chips, NumberField, PlainForm, WordsField
from inventory.labels.photos import small_photo
from inventory.labels.read import MOST_BYTES, NoPicture
from inventory.labels.turns import PHOTO_WAITS_S, pictures
from inventory.models import Credit, Outlet
from inventory.words.refusals import picture_sentence

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


class CreditForm(ActForm):
    """What a buyer says of a crate on a slip, and of how much of it."""

    lot = forms.ChoiceField(label=_("Which crate?"), widget=Chips)
    quantity = NumberField(
        label=_("How much of it (empty: all)"), required=False, least=0, most=1_000_000
    )
    photo = forms.FileField(
        label=_("A photo, if you have one"),
        required=False,
        allow_empty_file=True,
        # No "capture": the phone then offers its camera and its pictures.
        widget=forms.FileInput(attrs={"accept": "image/*"}),
    )
    what = forms.ChoiceField(label=_("What do they say?"), choices=Credit.What)

    def __init__(self, *args: Any, lots: dict[str, str], **kwargs: Any) -> None:
        """lots: each crate on the slip in words, by its code."""
        super().__init__(*args, **kwargs)
        self.fields["lot"].choices = list(lots.items())
        if len(lots) == 1:
            self.initial.setdefault("lot", next(iter(lots)))

    def clean_photo(self) -> bytes | None:
        """Return it as it is kept: small, and without what the phone wrote into it."""
        sent = self.cleaned_data["photo"]
        if sent is None:
            return None
        try:
            with pictures.take(PHOTO_WAITS_S):
                return small_photo(sent.read(MOST_BYTES + 1))
        except NoPicture as error:
            raise forms.ValidationError(picture_sentence(error)) from error


class EmptiesForm(PlainForm):
    """Which buyer's empties came back, and how many."""

    outlet = forms.ModelChoiceField(
        Outlet.objects.filter(in_use=True), label=_("From whom?"), empty_label=_("choose")
    )
    number = NumberField(label=_("How many came back?"), whole=True, least=1, most=MOST_CRATES)
