"""What a buyer wants, by when: typed, pasted, or as the last time."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.forms import BoundField
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from inventory import measures
from inventory.actions.orders import Wanted
from inventory.forms.fields import DayField, NumberField, PlainForm, WordsField
from inventory.forms.market import is_plain_number
from inventory.models import Crop, OrderLine, Outlet
from inventory.models.crops import Unit
from inventory.order_text import MOST_LETTERS
from inventory.queries.order_text import ReadWanted, read_wanted
from inventory.queries.orders import Offer

MOST = 1_000_000


@dataclass(frozen=True)
class Row:
    """One crop of the form. free: what nobody is promised; asked: how it was said, if not so."""

    crop: Crop
    unit: str
    free: Decimal = Decimal(0)
    quantity: Decimal | None = None
    asked: str = ""

    @property
    def key(self) -> str:
        return f"{self.crop.pk}_{self.unit}"

    @property
    def name(self) -> str:
        return f"want_{self.key}"

    @property
    def asked_name(self) -> str:
        return f"asked_{self.key}"

    @property
    def asked_value(self) -> str:
        """How it was said, with the quantity that this is: it counts as long as that stands."""
        return f"{self.asked}={measures.plain(self.quantity or 0)}" if self.asked else ""


class LinesForm(PlainForm):
    """An amount beside each crop that is here or was asked for, a pasted text, and the day."""

    due = DayField(label=_("For which day?"), required=False)
    text = forms.CharField(
        label=_("Or paste their message"),
        max_length=MOST_LETTERS,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    other_crop = forms.ModelChoiceField(
        Crop.objects.filter(grown=True),
        label=_("Something that is not here"),
        required=False,
        empty_label=_("nothing else"),
    )
    other_quantity = NumberField(label=_("How much"), required=False, least=0, most=MOST)
    other_unit = forms.ChoiceField(label=_("Unit"), choices=Unit, required=False)

    def __init__(
        self, *args: Any, offers: list[Offer], start: list[OrderLine] | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.rows = self._rows(offers, start or [])
        for row in self.rows:
            self.fields[row.name] = NumberField(
                label=row.crop.shown_name,
                required=False,
                least=0,
                most=MOST,
                initial=measures.plain(row.quantity) if row.quantity else None,
            )

    def _rows(self, offers: list[Offer], start: list[OrderLine]) -> list[Row]:
        """Return what was asked for, then what else is here; of a sent form what it showed too."""
        free = {(offer.crop.pk, offer.unit): offer for offer in offers}
        rows = {}
        for line in start:
            key = line.crop_id, line.unit
            here = free[key].free if key in free else Decimal(0)
            rows[key] = Row(line.crop, line.unit, here, line.quantity, line.asked)
        for key, offer in free.items():
            rows.setdefault(key, Row(offer.crop, offer.unit, offer.free))
        for crop, unit in self._sent():
            rows.setdefault((crop.pk, unit), Row(crop, unit))
        return [self._as_sent(row) for row in rows.values()]

    def _sent(self) -> list[tuple[Crop, str]]:
        """Return the crops amounts were sent for, also of what is gone since or was pasted."""
        found = []
        for name in self.data:
            prefix, crop_pk, unit = ([*name.split("_"), "", ""])[:3]
            if prefix == "want" and unit in Unit.values and crop_pk.isdecimal():
                crop = Crop.objects.filter(pk=crop_pk[:9]).first()
                found += [(crop, unit)] if crop else []
        return found

    def _as_sent(self, row: Row) -> Row:
        """Return a row with how it was said, where a sent form says so."""
        asked, _equals, quantity = self.data.get(row.asked_name, "").rpartition("=")
        if not self.is_bound or not asked or not is_plain_number(quantity):
            return Row(row.crop, row.unit, row.free) if self.is_bound else row
        return Row(row.crop, row.unit, row.free, Decimal(quantity), asked[:40])

    @property
    def offer_rows(self) -> list[tuple[Row, BoundField]]:
        return [(row, self[row.name]) for row in self.rows]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if not self.errors and not self.lines:
            self.add_error(None, _("Type how much of at least one crop."))
        return data

    @property
    def lines(self) -> list[Wanted]:
        data = self.cleaned_data
        wanted = {
            (row.crop.pk, row.unit): self._wanted(row, data[row.name])
            for row in self.rows
            if data.get(row.name)
        }
        crop, quantity = data.get("other_crop"), data.get("other_quantity")
        if crop and quantity:
            unit = data.get("other_unit") or crop.unit
            wanted.setdefault((crop.pk, unit), Wanted(crop, unit, quantity))
        return list(wanted.values())

    @staticmethod
    def _wanted(row: Row, quantity: Decimal) -> Wanted:
        return Wanted(row.crop, row.unit, quantity, row.asked if quantity == row.quantity else "")


class OrderForm(LinesForm):
    """A new order: a buyer besides, picked or typed.

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
    repeats = forms.BooleanField(label=_("Every week from then on"), required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if not data.get("outlet") and not data.get("new_outlet"):
            self.add_error("outlet", _("Choose a buyer, or type a new one's name."))
        return data


def with_text_read(data: QueryDict) -> tuple[QueryDict, list[ReadWanted]]:
    """Return what was sent with the pasted text read into its amounts, and each line as read.

    What is doubtful stays in the text.
    """
    read = read_wanted(data.get("text", ""))
    filled = data.copy()
    sums: dict[str, tuple[Decimal, list[str]]] = {}
    for line in read:
        if line.wanted is None:
            continue
        key = f"{line.wanted.crop.pk}_{line.wanted.unit}"
        total, asked = sums.get(key, (Decimal(0), []))
        sums[key] = total + line.wanted.quantity, [*asked, line.wanted.asked]
    for key, (total, asked) in sums.items():
        filled[f"want_{key}"] = measures.plain(total)
        said = " + ".join(asked) if all(asked) else ""
        filled[f"asked_{key}"] = f"{said[:40]}={measures.plain(total)}" if said else ""
    filled["text"] = "\n".join(line.text for line in read if line.wanted is None and line.matters)
    return filled, read
