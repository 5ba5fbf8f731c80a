"""Stock, margins and the address on labels."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.codes import LENGTH
from inventory.forms.fields import NumberField, PlainForm, WordsField
from inventory.forms.owner import OwnerForm
from inventory.labels import STOCKS, LabelText, fits
from inventory.labels.stock import LARGEST_MM, SMALLEST_MM, Stock
from inventory.models import Farm

STOCK_NAMES = (
    ("a4-3x8", _("A4 sheet, 3 × 8 labels of 70 × 37 mm")),
    ("a4-2x7", _("A4 sheet, 2 × 7 labels of 99 × 38 mm")),
    ("a4-3x7", _("A4 sheet, 3 × 7 labels of 64 × 38 mm")),
    ("letter-2x5", _("Letter sheet, 2 × 5 labels of 4 × 2 in")),
    ("letter-3x10", _("Letter sheet, 3 × 10 labels of 2⅝ × 1 in")),
    ("roll-102x152", _("Roll, 102 × 152 mm (4 × 6 in)")),
    ("roll-62x100", _("Roll of 62 mm, cut at 100 mm")),
    ("roll-57x32", _("Roll, 57 × 32 mm")),
    ("custom", _("Another size")),
)


class PrintForm(PlainForm):
    """Which label of a half-used sheet is the first free one, and for what printer."""

    start = NumberField(
        label=_("First free label of the sheet"), whole=True, least=1, most=100, initial=1
    )
    form = forms.ChoiceField(
        label=_("For"),
        choices=[
            ("pdf", _("a printer (PDF)")),
            ("203", _("a label printer, 203 dpi (PNG)")),
            ("300", _("a label printer, 300 dpi (PNG)")),
        ],
    )

    def __init__(self, *args: Any, stock: Stock, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["start"].most = stock.per_page
        self.fields["start"].error_messages["most"] = _("A sheet has %(most)s labels.")
        if stock.per_page == 1:
            self.fields["start"].widget = forms.HiddenInput()


class LabelFarmForm(OwnerForm):
    """The farm's label stock, the address its labels lead to, and what they say of the farm.

    proposed: an address shown where none is set, to be kept with the rest or typed over.
    """

    label_address = WordsField(
        label=_("Address on labels, like https://farm.local:8443"), max_length=80, required=False
    )
    postal_address = WordsField(
        label=_("The farm's postal address, for labels with room for it"),
        max_length=120,
        required=False,
    )
    telephone = WordsField(
        label=_("The farm's telephone, for labels with room for it"), max_length=30, required=False
    )
    label_stock = forms.ChoiceField(label=_("Labels"), choices=STOCK_NAMES)
    label_w_mm = NumberField(
        label=_("Width of another size in mm"), required=False, least=SMALLEST_MM, most=LARGEST_MM
    )
    label_h_mm = NumberField(
        label=_("Height of another size in mm"), required=False, least=SMALLEST_MM, most=LARGEST_MM
    )
    nudge_x_mm = NumberField(label=_("Move everything right by mm"), least=-9, most=9)
    nudge_y_mm = NumberField(label=_("Move everything down by mm"), least=-9, most=9)

    class Meta:
        model = Farm
        fields = [
            "label_address", "postal_address", "telephone",
            "label_stock", "label_w_mm", "label_h_mm", "nudge_x_mm", "nudge_y_mm",
        ]  # fmt: skip

    def __init__(self, *args: Any, proposed: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.is_bound and not self.instance.label_address:
            self.initial["label_address"] = proposed

    def clean_label_address(self) -> str:
        address = self.cleaned_data["label_address"].strip().rstrip("/").lower()
        scheme, mark, host = address.partition("://")
        if address and (scheme not in ("http", "https") or not mark or not host or "/" in host):
            raise forms.ValidationError(
                _("Type it like https://farm.local:8443, without anything after it.")
            )
        return address

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        custom = data.get("label_stock") not in STOCKS
        if custom and not (data.get("label_w_mm") and data.get("label_h_mm")):
            self.add_error("label_w_mm", _("Type the width and the height of your labels."))
        elif custom and not self.errors and not self._has_room(data):
            self.add_error("label_w_mm", _("That is too small for the code and the words."))
        return data

    def _has_room(self, data: dict) -> bool:
        """Return whether a usual label fits a stock of this size."""
        code = "0" * LENGTH
        link = f"{data['label_address'].upper()}/L/{code}" if data["label_address"] else code
        lines = (("cut Wed 25 Nov", 0.75), ("keeps until about Sat 5 Dec at 2 °C", 0.5))
        label = LabelText("Carrot, bunched", code, lines, link)
        return fits(label, float(data["label_w_mm"]), float(data["label_h_mm"]))
