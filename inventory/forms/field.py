"""The walk through the field: about how much of each crop, and from which day on."""

from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal
from itertools import groupby
from typing import Any

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from inventory import measures
from inventory.forms.fields import NumberField, PlainForm, leave_checking_to_us
from inventory.forms.orders import MOST
from inventory.models import Crop, Source
from inventory.models.crops import Unit
from inventory.models.field import ESTIMATE_DAYS
from inventory.queries.field import Seen, WalkRow
from inventory.words.days import weekday_words


class WalkForm(PlainForm):
    """A box and a day beside each crop of each block, and one more for what has no row yet."""

    other_crop = forms.ModelChoiceField(
        Crop.objects.filter(grown=True), label=_("Crop"), required=False, empty_label="–"
    )
    other_block = forms.ModelChoiceField(
        Source.objects.filter(kind=Source.Kind.BLOCK, in_use=True),
        label=_("Block"), required=False, empty_label="–",
    )  # fmt: skip
    other_quantity = NumberField(label=_("About how much"), required=False, least=0, most=MOST)
    other_unit = forms.ChoiceField(label=_("Unit"), choices=Unit, required=False)

    def __init__(self, *args: Any, rows: list[WalkRow], today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rows, self.today = rows, today
        for row in rows:
            name = f"{row.crop.shown_name}, {row.block.name}"
            self.fields[f"much_{row.key}"] = NumberField(
                label=name, required=False, least=0, most=MOST,
                initial=measures.plain(row.start) if row.start else None,
            )  # fmt: skip
            self.fields[f"from_{row.key}"] = self._day_field(row, name)
        leave_checking_to_us(self)

    def _day_field(self, row: WalkRow, name: str) -> forms.ChoiceField:
        days = [self.today + timedelta(days=number) for number in range(ESTIMATE_DAYS)]
        names = [gettext("today"), *map(weekday_words, days[1:])]
        label = gettext("%(name)s, from which day") % {"name": name}
        return forms.TypedChoiceField(
            label=label,
            choices=list(zip(map(date.isoformat, days), names, strict=True)),
            coerce=date.fromisoformat,
            empty_value=self.today,
            required=False,
            initial=max(row.from_day or self.today, self.today).isoformat(),
        )

    @property
    def blocks(self) -> Iterator[tuple[Source, list[tuple[WalkRow, BoundField, BoundField]]]]:
        """The rows by block, with their two boxes."""
        for block, rows in groupby(self.rows, key=lambda row: row.block):
            yield block, [(row, self[f"much_{row.key}"], self[f"from_{row.key}"]) for row in rows]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("other_quantity") and not data.get("other_crop"):
            self.add_error("other_crop", _("This is still missing."))
        if data.get("other_quantity") and not data.get("other_block"):
            self.add_error("other_block", _("This is still missing."))
        return data

    @property
    def seen(self) -> list[Seen]:
        """What was said; a box that was emptied says that there is nothing any more."""
        data = self.cleaned_data
        found = []
        for row in self.rows:
            much, day = data[f"much_{row.key}"], data[f"from_{row.key}"]
            if much is None and row.start:
                much = Decimal(0)
            if much is not None:
                found.append(Seen(row.crop, row.block, row.unit, much, day))
        if data.get("other_quantity"):
            crop, unit = data["other_crop"], data["other_unit"]
            found.append(
                Seen(
                    crop, data["other_block"], unit or crop.unit, data["other_quantity"], self.today
                )
            )
        return found
