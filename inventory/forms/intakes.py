"""Bringing in a harvest or bought cases, and putting an intake right."""

import re
from copy import deepcopy
from datetime import timedelta
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory import measures
from inventory.actions.intakes import MOST_CRATES, MOST_IN_A_CRATE
from inventory.forms.fields import (
    ActForm,
    Chips,
    DayField,
    LocalMomentField,
    NumberField,
    PlainForm,
    TemperatureField,
    TickedForm,
    WordsField,
    leave_checking_to_us,
)
from inventory.forms.places import place_field
from inventory.models import Container, Crop, Intake, Position, Source
from inventory.models.crops import Unit

CUT_UNKNOWN = "unknown"
CUT_CHOICES = (
    ("0.5", _("half an hour ago")),
    ("1", _("1 h ago")),
    ("2", _("2 h ago")),
    (CUT_UNKNOWN, _("not known")),
)
# How many crates may go to one place of several.
_SHARES = frozenset(str(number) for number in range(1, MOST_CRATES + 1))


def cut_ago_field() -> forms.ChoiceField:
    """When the first was cut, in one tap. No answer is chosen for anyone."""
    return forms.ChoiceField(
        label=_("When was the first one cut?"), choices=CUT_CHOICES, widget=Chips, required=False
    )


def cut_ago_of(answer: str) -> timedelta | None:
    return timedelta(hours=float(answer)) if answer not in ("", CUT_UNKNOWN) else None


class BringInForm(ActForm):
    """What a harvest and a delivery have in common."""

    crates = NumberField(label=_("How many crates?"), whole=True, least=1, most=MOST_CRATES)
    quantity = NumberField(label=_("In each crate"), least=0, most=MOST_IN_A_CRATE)
    others = WordsField(
        label=_("Crates that hold another amount: type each one's, like 6 6 4.5"),
        max_length=2000,
        required=False,
    )
    unit = forms.ChoiceField(label=_("Unit"), choices=Unit)
    source = forms.ModelChoiceField(
        Source.objects.none(), label=_("From"), empty_label=None, required=False
    )
    new_source = WordsField(label=_("From somewhere not listed"), max_length=80, required=False)
    container = forms.ModelChoiceField(
        Container.objects.filter(in_use=True),
        label=_("Kind of crate"),
        required=False,
        empty_label=_("not said"),
    )
    with_crate = forms.BooleanField(
        label=_("Weighed with the crate: take its empty weight off"), required=False
    )
    position = place_field()
    variety = WordsField(label=_("Variety"), max_length=40, required=False)
    pulp_c = TemperatureField(label=_("Inside temperature, if measured"), required=False)

    def __init__(self, *args: Any, sources: list[Source], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["source"].queryset = Source.objects.filter(
            pk__in=[source.pk for source in sources]
        )
        self.fields["source"].choices = [(source.pk, source) for source in sources]
        if not sources:
            self.fields["new_source"].label = self.fields["source"].label
        self.fields["pulp_c"].use_unit(self.farm.temperature_unit)

    def clean_others(self) -> list[Decimal]:
        """Return what the crates hold that hold another amount, as typed one after the other."""
        each = NumberField(least=0, most=MOST_IN_A_CRATE)
        # A comma before a space lists; one inside a figure is a decimal one.
        listed = re.split(r"[,;]?\s+", self.cleaned_data["others"].strip(" ,;"))
        return [each.clean(typed) for typed in listed if typed]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        crates, others = data.get("crates") or 0, data.get("others") or []
        if len(others) > crates and not self.errors:
            self.add_error("others", _("There are only %(crates)s crates.") % data)
        usual = data.get("quantity")
        if usual is not None:
            data["quantities"] = [usual] * max(crates - len(others), 0) + others
        if data.get("with_crate") and not self.errors:
            data["quantities"] = self._without_crates(data)
        self._take_new_source(data)
        return data

    def _without_crates(self, data: dict) -> list[Decimal]:
        """Return what the crates hold, their own weight taken off what was weighed."""
        container, unit = data.get("container"), data["unit"]
        if not (container and container.tare_kg and measures.is_weight(unit)):
            self.add_error(
                "with_crate",
                _("Only for weights, and with a kind of crate whose empty weight is known."),
            )
            return data["quantities"]
        tare = measures.convert_weight(container.tare_kg, "kg", unit).quantize(measures.PLACES)
        net = [quantity - tare for quantity in data["quantities"]]
        if min(net) <= 0:
            self.add_error("quantity", _("That is no more than the empty crate weighs."))
        return net

    def _take_new_source(self, data: dict) -> None:
        if data.get("new_source"):
            data["source"] = Source(kind=self.source_kind, name=data["new_source"])
        elif data.get("source") is None and "source" not in self.errors:
            field = "source" if self.fields["source"].choices else "new_source"
            self.add_error(field, _("This is still missing."))


class HarvestForm(BringInForm):
    source_kind = Source.Kind.BLOCK

    cut_ago = cut_ago_field()
    cut_at = LocalMomentField(label=_("or cut at"), required=False)
    overrule = WordsField(label=_("Harvest all the same, because"), max_length=200, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["cut_at"].zone = self.farm.zone

    @property
    def content(self) -> dict:
        data = self.cleaned_data
        return {
            **common_content(data),
            "cut_at": data["cut_at"],
            "cut_ago": None if data["cut_at"] else cut_ago_of(data["cut_ago"]),
            "overrule": data["overrule"],
        }


class CasesForm(BringInForm):
    source_kind = Source.Kind.SUPPLIER

    packed_on = DayField(label=_("Packed on"), required=False)
    best_before = DayField(label=_("The packer's date"), required=False)
    best_before_kind = forms.ChoiceField(
        label=_("That date is"),
        choices=[choice for choice in Intake.DateKind.choices if choice[0]],
        widget=Chips,
        required=False,
    )
    supplier_reference = WordsField(
        label=_("Supplier's lot or invoice number"), max_length=60, required=False
    )
    origin = WordsField(label=_("Country or state of origin"), max_length=60, required=False)
    case_cost = NumberField(label=_("Cost of a case"), required=False, least=0, most=100_000)
    gtin = forms.RegexField(r"^\d{14}$", required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["crates"].label = _("How many cases?")
        self.fields["quantity"].label = _("In each case")
        listed = "source" if self.fields["source"].choices else "new_source"
        self.fields[listed].label = _("Supplier")

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("best_before") and not data.get("best_before_kind"):
            self.add_error("best_before_kind", _("Say which date it is, as the case has it."))
        return data

    @property
    def content(self) -> dict:
        data = self.cleaned_data
        names = (
            "packed_on", "best_before", "best_before_kind", "supplier_reference", "origin",
            "case_cost", "gtin",
        )  # fmt: skip
        return {**common_content(data), **{name: data[name] for name in names}}


def common_content(data: dict) -> dict:
    names = ("source", "quantities", "unit", "container", "position", "pulp_c", "variety")
    return {name: data[name] for name in names}


class CorrectForm(PlainForm):
    """What was entered wrongly of an intake."""

    crop = forms.ModelChoiceField(Crop.objects.none(), label=_("Crop"), empty_label=None)
    source = forms.ModelChoiceField(Source.objects.none(), label=_("From"), empty_label=None)
    reason = WordsField(label=_("What was wrong?"))

    def __init__(self, *args: Any, intake: Intake, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.intake = intake
        crops = Crop.objects.filter(grown=True) | Crop.objects.filter(pk=intake.crop_id)
        self.fields["crop"].queryset = crops
        self.fields["crop"].choices = sorted(
            ((crop.pk, crop.shown_name) for crop in crops), key=lambda choice: choice[1].lower()
        )
        self.fields["variety"] = deepcopy(BringInForm.base_fields["variety"])
        self.fields["source"].queryset = Source.objects.filter(kind=intake.source.kind)
        self.initial |= {"crop": intake.crop_id, "source": intake.source_id}
        if intake.is_bought:
            for name in (
                "packed_on", "best_before", "best_before_kind", "supplier_reference", "origin",
                "case_cost",
            ):  # fmt: skip
                self.fields[name] = deepcopy(CasesForm.base_fields[name])
        else:
            field = LocalMomentField(label=_("First cut at"), required=False)
            field.zone = self.farm.zone
            self.fields["cut_at"] = field
        leave_checking_to_us(self)
        known = self.fields.keys() - {"crop", "source", "reason"}
        self.initial |= {name: getattr(intake, name) for name in known}
        if intake.cut_at:
            self.initial["cut_at"] = intake.cut_at.replace(second=0, microsecond=0)
        self.fields["reason"] = self.fields.pop("reason")  # asked last
        self.order_fields(["crop", "variety", "source"])

    @property
    def content(self) -> dict:
        """What was typed; of a time that was left as it stood, the seconds too."""
        data = {"intake": self.intake, **self.cleaned_data}
        if "cut_at" in data and "cut_at" not in self.changed_data:
            data["cut_at"] = self.intake.cut_at
        return data


class PutAwayForm(TickedForm):
    """Crates ticked on a list, all to one place or over several as proposed; and the cut, where
    nobody has told it yet.

    over: how many to which place, as "CODE=8 CODE=4".
    """

    position = place_field()
    over = forms.CharField(required=False, max_length=100)

    def __init__(self, *args: Any, ask_cut: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if ask_cut:
            self.fields["cut_ago"] = cut_ago_field()

    def clean_over(self) -> list[tuple[Position, int]]:
        shares = [share.partition("=") for share in self.cleaned_data["over"].split()]
        known = self.fields["position"].queryset.in_bulk([code for code, _eq, _n in shares])
        if not all(code in known and number in _SHARES for code, _eq, number in shares):
            raise forms.ValidationError(_("Choose one of these."))
        return [(known[code], int(number)) for code, _eq, number in shares]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        tapped = data.get("position") or data.get("over")
        if not tapped and not {"position", "over"} & self.errors.keys():
            self.add_error("position", _("Tap the place where they stand now."))
        return data

    @property
    def told_cut(self) -> timedelta | None:
        return cut_ago_of(self.cleaned_data.get("cut_ago", ""))

    @property
    def shelves(self) -> list[tuple[Position, list[str]]]:
        """The ticked crates by the place they go to, in order; what is too many stays."""
        left, shelves = self.cleaned_data["lots"], []
        for position, number in self.cleaned_data["over"]:
            shelves.append((position, left[:number]))
            left = left[number:]
        return [(position, lots) for position, lots in shelves if lots]
