"""Closing a market day, crate by crate."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

from django.forms import BoundField
from django.utils.translation import gettext_lazy as _

from inventory.actions.movements import Settling
from inventory.forms.fields import ActForm, NumberField
from inventory.forms.places import place_field
from inventory.ledger.outings import AtMarket

OUTCOMES = (("back", _("back")), ("given", _("given")), ("lost", _("lost")))


class CloseMarketForm(ActForm):
    """For each crate what came back, was given or lost; the rest was sold."""

    warm_hours = NumberField(
        label=_("Hours out of the cold (left empty: all the time it was out)"),
        required=False,
        least=0,
        most=72,
    )
    position = place_field()

    def __init__(self, *args: Any, rows: list[AtMarket], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rows = self._shown(rows) if self.is_bound else rows
        rows = self.rows
        for row in rows:
            for outcome, label in OUTCOMES:
                self.fields[f"{outcome}-{row.lot.pk}"] = NumberField(
                    label=label, required=False, least=0, most=1_000_000
                )

    def _shown(self, rows: list[AtMarket]) -> list[AtMarket]:
        """Return the rows the page showed, with the amounts it showed, and no later ones."""
        shown = dict(text.partition("=")[::2] for text in self.data.getlist("shown"))
        return [
            replace(row, amount=Decimal(shown[row.lot.pk]))
            for row in rows
            if is_plain_number(shown.get(row.lot.pk, ""))
        ]

    @property
    def crate_rows(self) -> list[tuple[AtMarket, list[BoundField]]]:
        return [
            (row, [self[f"{outcome}-{row.lot.pk}"] for outcome, _label in OUTCOMES])
            for row in self.rows
        ]

    @property
    def content(self) -> dict:
        data = self.cleaned_data
        return {
            "rows": [
                Settling(
                    lot=row.lot.pk,
                    out=row.amount,
                    **{name: data[f"{name}-{row.lot.pk}"] or Decimal(0) for name, _ in OUTCOMES},
                )
                for row in self.rows
            ],
            "warm_hours": data["warm_hours"],
            "position": data["position"],
        }


def is_plain_number(text: str) -> bool:
    return text.replace(".", "", 1).isdecimal() and text.isascii()
