"""Fields for wet hands: numbers with a point or a comma, degrees, local times, shares."""

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.core.validators import MaxLengthValidator
from django.utils.translation import gettext_lazy as _

from inventory import measures
from inventory.forms.widgets import Chips, Line
from inventory.models import Farm
from inventory.queries.crates import Crate


class PlainForm(forms.Form):
    """A form that knows the farm, if there is one yet. Colons are left to the template."""

    def __init__(self, *args: Any, farm: Farm | None = None, **kwargs: Any) -> None:
        super().__init__(*args, label_suffix="", **kwargs)
        self.farm = farm
        leave_checking_to_us(self)


def leave_checking_to_us(form: forms.BaseForm) -> None:
    """Keep the browser from checking, so that nothing typed is lost to it; say it our way."""
    form.use_required_attribute = False
    for field in form.fields.values():
        field.error_messages["required"] = _("This is still missing.")
        field.error_messages["invalid_choice"] = _("Choose one of these.")


class NumberField(forms.CharField):
    """A number as a Decimal; says in a sentence what is wrong with it."""

    widget = Line
    default_error_messages = {
        "number": _("“%(typed)s” is not a number. Type it like 12 or 12.5."),
        "ambiguous": _(
            "“%(typed)s” can be read in two ways. Type it with a point, or without the comma."
        ),
        "least": _("This must be at least %(least)s."),
        "most": _("This can't be more than %(most)s."),
        "whole": _("This must be a whole number."),
    }

    def __init__(
        self,
        *,
        least: Decimal | int | None = None,
        most: Decimal | int | None = None,
        whole: bool = False,
        **kwargs: Any,
    ) -> None:
        kwargs.setdefault("max_length", 20)
        super().__init__(**kwargs)
        self.least, self.most, self.whole = least, most, whole
        self.widget.attrs |= {
            "inputmode": "numeric" if whole else "decimal",
            "autocomplete": "off",
        }

    def prepare_value(self, value: Any) -> Any:
        return measures.plain(value) if isinstance(value, Decimal | int | float) else value

    def to_python(self, value: Any) -> Decimal | int | None:
        text = super().to_python(value)
        if text in self.empty_values:
            return None
        try:
            number = measures.read_decimal(text)
        except measures.NotANumber as error:
            raise self._wrong(error.reason, typed=error.typed) from error
        if self.whole and number != number.to_integral_value():
            raise self._wrong("whole")
        if self.least is not None and number < self.least:
            raise self._wrong("least", least=measures.plain(self.least))
        if self.most is not None and number > self.most:
            raise self._wrong("most", most=measures.plain(self.most))
        return int(number) if self.whole else number

    def _wrong(self, code: str, **params: object) -> forms.ValidationError:
        return forms.ValidationError(self.error_messages[code], code=code, params=params)

    def run_validators(self, value: Any) -> None:
        """The text checks of a CharField do not apply to a number."""


class UnitField(NumberField):
    """A number in one of the farm's units, which its label names."""

    unit = ""
    sign = ""

    def use_unit(self, unit: str) -> None:
        self.unit = unit
        self.label = f"{self.label} ({self.sign}{unit})"

    def has_changed(self, initial: Any, data: str | None) -> bool:
        """Compare with what was shown, which may be rounded."""
        return str(self.prepare_value(initial) or "") != (data or "").strip()


class TemperatureField(UnitField):
    """Degrees in the farm's unit, kept in °C to two decimals: whole °F come back whole."""

    COLDEST_C, WARMEST_C = Decimal(-30), Decimal(60)

    default_error_messages = {"degrees": _("%(typed)s is outside −30 to 60 °C (−22 to 140 °F).")}

    unit = "C"
    sign = "°"

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, Decimal):
            value = measures.from_celsius(value, self.unit).quantize(Decimal("0.1"))
        return super().prepare_value(value)

    def to_python(self, value: Any) -> Decimal | None:
        number = super().to_python(value)
        if number is None:
            return None
        celsius = measures.to_celsius(number, self.unit)
        if not self.COLDEST_C <= celsius <= self.WARMEST_C:
            raise self._wrong("degrees", typed=measures.plain(number))
        return celsius.quantize(Decimal("0.01"))


class RoomTemperatureField(TemperatureField):
    """What a room is kept at. A store for produce is not kept frozen; a unit mixed up would be."""

    COLDEST_C, WARMEST_C = Decimal(-2), Decimal(30)

    default_error_messages = {
        "degrees": _("%(typed)s is outside −2 to 30 °C (28.4 to 86 °F). Is the unit right?")
    }


class DegreesApartField(UnitField):
    """How far from a temperature, in the farm's unit, kept in °C to two decimals."""

    unit = "C"
    sign = "°"

    def use_unit(self, unit: str) -> None:
        super().use_unit(unit)
        if unit == "F":
            self.least, self.most = self.least * measures.F_PER_C, self.most * measures.F_PER_C

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, Decimal) and self.unit == "F":
            value = round(value * measures.F_PER_C, 1)
        return super().prepare_value(value)

    def to_python(self, value: Any) -> Decimal | None:
        number = super().to_python(value)
        if number is None or self.unit == "C":
            return number
        return (number / measures.F_PER_C).quantize(Decimal("0.01"))


class WeightField(UnitField):
    """A weight in the farm's unit, kept in kg to three decimals."""

    unit = "kg"

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, Decimal):
            value = round(
                measures.convert_weight(value, "kg", self.unit), 2 if self.unit == "lb" else 3
            )
        return super().prepare_value(value)

    def to_python(self, value: Any) -> Decimal | None:
        number = super().to_python(value)
        if number is None:
            return None
        return measures.convert_weight(number, self.unit, "kg").quantize(measures.PLACES)


class LocalMomentField(forms.DateTimeField):
    """A date and time on the farm's clock, as an aware moment in UTC.

    Of an hour that comes twice the earlier is meant; an hour that is skipped is refused. A phone
    says a moment with its offset, which then counts.
    """

    default_error_messages = {
        "missing-hour": _("The clocks skipped that hour that night. Type the time after it."),
        "invalid": _("Type a date and a time like 2026-07-31 06:30."),
    }
    widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")

    zone = UTC

    def to_python(self, value: Any) -> datetime | None:
        if not value or isinstance(value, datetime):
            return value or None
        try:
            said = datetime.fromisoformat(value.strip())
            moment = (said if said.tzinfo else said.replace(tzinfo=self.zone)).astimezone(UTC)
        except (ValueError, OverflowError) as error:
            raise self._wrong("invalid") from error
        if said.year < 1900:
            raise self._wrong("invalid")
        if not said.tzinfo and moment.astimezone(self.zone).replace(tzinfo=None) != said:
            raise self._wrong("missing-hour")
        return moment

    def _wrong(self, code: str) -> forms.ValidationError:
        return forms.ValidationError(self.error_messages[code], code=code)

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, datetime):
            return value.astimezone(self.zone).replace(tzinfo=None)
        return value


class ActForm(PlainForm):
    """A form for something that happened: now, or at the time that is said."""

    happened_at = LocalMomentField(label=_("When, if not now"), required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["happened_at"].zone = self.farm.zone

    @property
    def content(self) -> dict:
        """What was typed, but for the time, which the act carries."""
        return {name: value for name, value in self.cleaned_data.items() if name != "happened_at"}


class TickedForm(ActForm):
    """A form about crates ticked on a list. They keep the order of the list."""

    lots = forms.MultipleChoiceField(
        label=_("Crates"), widget=forms.CheckboxSelectMultiple, required=False
    )

    def __init__(self, *args: Any, crates: list[Crate], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.crates = crates
        self.fields["lots"].choices = [(crate.code, crate.code) for crate in crates]
        self.initial.setdefault("lots", [crate.code for crate in crates])

    def clean_lots(self) -> list[str]:
        ticked = set(self.cleaned_data["lots"])
        if not ticked:
            raise forms.ValidationError(_("Tap at least one crate."))
        return [crate.code for crate in self.crates if crate.code in ticked]


class DayField(forms.DateField):
    """A plain day."""

    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    default_error_messages = {"invalid": _("Type a date like 2026-07-31.")}

    def to_python(self, value: Any) -> date | None:
        day = super().to_python(value)
        if day is not None and not 1900 <= day.year <= 2200:
            raise forms.ValidationError(self.error_messages["invalid"], code="invalid")
        return day


def no_control_characters(text: str) -> None:
    if any(character < " " for character in text):
        raise forms.ValidationError(_("This may be one line of plain text only."))


class WordsField(forms.CharField):
    """One line of text a person typed."""

    widget = Line

    def __init__(self, *, max_length: int = 200, **kwargs: Any) -> None:
        super().__init__(max_length=max_length, **kwargs)
        for validator in self.validators:
            if isinstance(validator, MaxLengthValidator):
                validator.message = _("At most %(limit_value)s characters.")
        self.validators.append(no_control_characters)


SHARES = (
    ("all", _("all of it")),
    ("three-quarters", _("three quarters")),
    ("half", _("half")),
    ("quarter", _("a quarter")),
)


class PortionMixin:
    """How much of a crate: a share by tap, or an amount typed, which then counts."""

    def add_portion(self, crate: Crate) -> None:
        lot = crate.lot
        self.fields["share"] = forms.ChoiceField(
            label=_("How much?"),
            choices=[
                (
                    share,
                    f"{words} ({measures.plain(measures.share_of(lot.quantity, share, lot.unit))})",
                )
                for share, words in SHARES
            ],
            initial="all",
            required=False,
            widget=Chips,
        )
        self.fields["quantity"] = NumberField(
            label=_("or another amount"), required=False, least=0, most=1_000_000
        )
        self.order_fields(["share", "quantity"])

    @property
    def portion(self) -> Decimal | str:
        typed = self.cleaned_data.get("quantity")
        return typed if typed is not None else self.cleaned_data.get("share") or "all"
