"""Closing a market day, by crop or crate by crate, and what a market usually sells."""

from collections.abc import Container, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from django import forms
from django.forms import BoundField
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from inventory.actions.market import CropClosing, Goes
from inventory.actions.market_days import Settling
from inventory.actions.owner import Habit
from inventory.forms.crates import DISCARD_REASONS, OTHER_DESTINATIONS, USUAL_DESTINATIONS
from inventory.forms.fields import ActForm, NumberField, PlainForm, WordsField
from inventory.forms.places import PUT_AWAY_LATER, place_field
from inventory.forms.widgets import Chips, Choose
from inventory.ledger.outings import AtMarket
from inventory.measures import is_count
from inventory.models import Crop, MarketDay, MarketHabit, MarketSale, Outlet, Position
from inventory.queries.market import CropOut, by_crop
from inventory.words.units import unit_name

OUTCOMES = (("back", _("back")), ("given", _("given")), ("lost", _("lost")))
SOLD_OUT = (
    (MarketSale.SoldOut.EARLY, _("early")),
    (MarketSale.SoldOut.END, _("at the end")),
    (MarketSale.SoldOut.NO, _("no")),
)
GOES = (
    (Goes.SECONDS, _("a place, as seconds")),
    (Goes.GIVEN, _("given away")),
    (Goes.DISCARDED, _("thrown out")),
)
_UNSAID = (("", _("choose")),)
# What is asked of each crop.
FIELDS = (
    "back", "sold_out", "given", "lost", "to", "goes", "crates", "reason", "destination",
)  # fmt: skip


class MarketForm(ActForm):
    """What is out at a market, as the page showed it."""

    warm_hours = NumberField(
        label=_("Hours out of the cold (left empty: all the time it was out)"),
        required=False,
        least=0,
        most=72,
    )

    def __init__(self, *args: Any, rows: list[AtMarket], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rows = self._shown(rows) if self.is_bound else rows

    def _shown(self, rows: list[AtMarket]) -> list[AtMarket]:
        """Return the rows the page showed, with the amounts it showed, and no later ones."""
        shown = dict(text.partition("=")[::2] for text in self.data.getlist("shown"))
        return [
            replace(row, amount=Decimal(shown[row.lot.pk]))
            for row in rows
            if is_plain_number(shown.get(row.lot.pk, ""))
        ]


def _amount(label: Promise | str) -> NumberField:
    return NumberField(label=label, required=False, least=0, most=1_000_000)


class GoesField(forms.ChoiceField):
    """Where what came back of a crop goes. The page writes the choices: each crop has its own."""

    empty_label = PUT_AWAY_LATER

    def __init__(self, places: Container[str]) -> None:
        super().__init__(label=_("Where does it go?"), required=False)
        self.places = places

    def valid_value(self, value: str) -> bool:
        return value in self.places or value in dict(GOES)


@dataclass(frozen=True)
class Card:
    """One crop on the page."""

    out: CropOut
    fields: dict[str, BoundField]

    @property
    def folded(self) -> dict[str, bool]:
        """Which of its folds stand open: those in which something is wrong."""
        wrong = {name for name, field in self.fields.items() if field.errors}
        return {"gone": bool(wrong & {"given", "to", "lost"}), "where": bool(wrong & _WHERE)}


_WHERE = {"crates", "goes", "reason", "destination"}


class CloseByCropForm(MarketForm):
    """For each crop how many came back and whether it sold out; nothing unsaid is sold."""

    weather = forms.ChoiceField(
        label=_("How was the day?"), choices=MarketDay.Weather.choices, widget=Chips,
        initial=MarketDay.Weather.USUAL, required=False,
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.crops = by_crop(self.rows)
        places = Position.objects.filter(in_use=True) if self.is_bound and self.crops else ()
        self.places = {place.pk: place for place in places}
        for out in self.crops:
            for name, field in self._fields_of(out).items():
                self.fields[f"{name}-{out.key}"] = field

    def _fields_of(self, out: CropOut) -> dict[str, forms.Field]:
        return {
            "back": _amount(_("Back (%(unit)s)") % {"unit": unit_name(out.unit)}),
            "sold_out": forms.ChoiceField(
                label=_("Sold out?"), choices=SOLD_OUT, widget=Chips, required=False
            ),
            "given": _amount(_("Given away")),
            "lost": _amount(_("Lost")),
            "to": WordsField(label=_("To whom?"), max_length=80, required=False),
            "goes": GoesField(self.places),
            "crates": NumberField(
                label=_("In how many crates (empty: as few as it fills)"),
                required=False, whole=True, least=1, most=999,
            ),
            "reason": forms.ChoiceField(
                label=_("If thrown out: why?"), widget=Choose, required=False,
                choices=[*_UNSAID, *DISCARD_REASONS],
            ),
            "destination": forms.ChoiceField(
                label=_("and where to?"), widget=Choose,
                choices=[*_UNSAID, *USUAL_DESTINATIONS, *OTHER_DESTINATIONS], required=False,
            ),
        }  # fmt: skip

    @property
    def cards(self) -> Iterator[Card]:
        for out in self.crops:
            yield Card(out, {name: self[f"{name}-{out.key}"] for name in FIELDS})

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        for out in self.crops:
            said = self._said(out)
            self._need_said(out, said)
            if said.get("goes") == Goes.DISCARDED and said.get("back"):
                for name in ("reason", "destination"):
                    if not said.get(name):
                        self.add_error(f"{name}-{out.key}", _("This is still missing."))
        return data

    def _said(self, out: CropOut) -> dict[str, Any]:
        return {name: self.cleaned_data.get(f"{name}-{out.key}") for name in FIELDS}

    def _need_said(self, out: CropOut, said: dict[str, Any]) -> None:
        """Ask about a crop nobody said enough of, and about two answers that do not go together."""
        if any(f"{name}-{out.key}" in self.errors for name in ("back", "sold_out")):
            return
        facts = {"crop": out.crop.shown_name}
        if said["back"] is None and not said["sold_out"]:
            told = _("%(crop)s: type how many came back, or tap whether it sold out.")
            self.add_error(f"sold_out-{out.key}", told % facts)
        elif said["sold_out"] == MarketSale.SoldOut.NO and said["back"] is None:
            self.add_error(f"back-{out.key}", _("%(crop)s: how many came back?") % facts)
        elif said["sold_out"] in _ALL_GONE and said["back"]:
            told = _("%(crop)s: it did not sell out if some came back.")
            self.add_error(f"sold_out-{out.key}", told % facts)

    @property
    def content(self) -> dict:
        data = self.cleaned_data
        return {
            "crops": [self._closing(out) for out in self.crops],
            "weather": data["weather"] or MarketDay.Weather.USUAL,
            "warm_hours": data["warm_hours"],
        }

    def _closing(self, out: CropOut) -> CropClosing:
        said = self._said(out)
        back, goes = said["back"] or Decimal(0), said["goes"]
        return CropClosing(
            out={row.lot.pk: row.amount for row in out.crates},
            back=back,
            given=said["given"] or Decimal(0),
            lost=said["lost"] or Decimal(0),
            to=said["to"],
            crates=said["crates"],
            sold_out=said["sold_out"] or (MarketSale.SoldOut.NO if back else ""),
            goes="" if goes in self.places else goes,
            position=self.places.get(goes),
            reason=said["reason"],
            destination=said["destination"],
        )


_ALL_GONE = (MarketSale.SoldOut.EARLY, MarketSale.SoldOut.END)


class CloseMarketForm(MarketForm):
    """For each crate what came back, was given or lost; the rest was sold."""

    position = place_field()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for row in self.rows:
            for outcome, label in OUTCOMES:
                self.fields[f"{outcome}-{row.lot.pk}"] = _amount(label)

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


@dataclass(frozen=True)
class HabitRow:
    """A crop in one unit, with its two fields."""

    crop: Crop
    unit: str
    usually: BoundField
    least: BoundField


class HabitsForm(PlainForm):
    """What a market usually sells of each crop, and the least that lies on the table to the end."""

    def __init__(self, *args: Any, outlet: Outlet, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_before = {(one.crop, one.unit): one for one in outlet.habits.select_related("crop")}
        usual = ((crop, crop.unit) for crop in Crop.objects.filter(grown=True))
        rows = sorted(
            dict.fromkeys([*set_before, *usual]), key=lambda row: row[0].shown_name.lower()
        )
        self.crops = {f"{crop.pk}-{unit}": (crop, unit) for crop, unit in rows}
        for key, row in self.crops.items():
            before = set_before.get(row)
            for name, label, field in (
                ("usually", _("Usually sells"), "usually_sells"),
                ("least", _("Least on the table"), "least_on_table"),
            ):
                self.fields[f"{name}-{key}"] = _habit_field(label, row[1], before, field)

    @property
    def rows(self) -> list[HabitRow]:
        return [
            HabitRow(crop, unit, self[f"usually-{key}"], self[f"least-{key}"])
            for key, (crop, unit) in self.crops.items()
        ]

    @property
    def habits(self) -> list[Habit]:
        data = self.cleaned_data
        return [
            Habit(crop, unit, data[f"usually-{key}"], data[f"least-{key}"])
            for key, (crop, unit) in self.crops.items()
        ]


def _habit_field(label: Promise, unit: str, before: MarketHabit | None, name: str) -> NumberField:
    counted = is_count(unit)
    return NumberField(
        label=label, required=False, whole=counted, most=1_000_000,
        least=1 if counted else Decimal("0.001"), initial=getattr(before, name, None),
    )  # fmt: skip
