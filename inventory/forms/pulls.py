"""What a buyer wants, and the search of the ledger."""

from decimal import Decimal
from typing import Any

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext_lazy as _

from inventory.actions.pulls import Wanted
from inventory.forms.fields import NumberField, PlainForm, WordsField
from inventory.models import Crop, Outlet
from inventory.models.crops import Unit
from inventory.queries.pulls import Offer


class PullForm(PlainForm):
    """A buyer, picked or typed, and an amount beside each crop that is here.

    doubt: what is asked before it is begun, for a form that was reached by Back.
    """

    all_the_same = _("This is another")
    doubt = ""

    outlet = forms.ModelChoiceField(
        Outlet.objects.filter(in_use=True),
        label=_("Buyer"),
        required=False,
        empty_label=_("a new buyer"),
    )
    new_outlet = WordsField(label=_("Name, if new"), max_length=80, required=False)
    other_crop = forms.ModelChoiceField(
        Crop.objects.filter(grown=True),
        label=_("Something that is not here"),
        required=False,
        empty_label=_("nothing else"),
    )
    other_quantity = NumberField(label=_("How much"), required=False, least=0, most=1_000_000)
    other_unit = forms.ChoiceField(label=_("Unit"), choices=Unit, required=False)

    def __init__(self, *args: Any, offers: list[Offer], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offers = offers = [*offers, *self._gone_since(offers)]
        for offer in offers:
            self.fields[self.name_of(offer)] = NumberField(
                label=offer.crop.shown_name, required=False, least=0, most=1_000_000
            )

    def _gone_since(self, offers: list[Offer]) -> list[Offer]:
        """Return crops typed for that were here when the page was opened and are gone now."""
        known = {self.name_of(offer) for offer in offers}
        gone = []
        for name in self.data:
            prefix, crop_pk, unit = ([*name.split("_"), "", ""])[:3]
            if prefix == "want" and name not in known and unit in Unit.values:
                crop = Crop.objects.filter(pk=crop_pk).first() if crop_pk.isdecimal() else None
                gone += [Offer(crop, unit, Decimal(0))] if crop else []
        return gone

    @staticmethod
    def name_of(offer: Offer) -> str:
        return f"want_{offer.crop.pk}_{offer.unit}"

    @property
    def offer_rows(self) -> list[tuple[Offer, BoundField]]:
        return [(offer, self[self.name_of(offer)]) for offer in self.offers]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if not data.get("outlet") and not data.get("new_outlet"):
            self.add_error("outlet", _("Choose a buyer, or type a new one's name."))
        if not self.errors and not self.lines:
            self.add_error(None, _("Type how much of at least one crop."))
        return data

    @property
    def lines(self) -> list[Wanted]:
        data = self.cleaned_data
        wanted = {
            (offer.crop.pk, offer.unit): Wanted(offer.crop, offer.unit, data[self.name_of(offer)])
            for offer in self.offers
            if data.get(self.name_of(offer))
        }
        crop, quantity = data.get("other_crop"), data.get("other_quantity")
        if crop and quantity:
            unit = data.get("other_unit") or crop.unit
            wanted.setdefault((crop.pk, unit), Wanted(crop, unit, quantity))
        return list(wanted.values())
