"""Temperatures as people bring them in: typed, from paper, from a file; the daily check."""

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory import measures
from inventory.forms.fields import (
    Chips,
    LocalMomentField,
    PlainForm,
    TemperatureField,
    WordsField,
)
from inventory.models import Room

MOST_PAPER_LINES = 2000


class ReadingForm(PlainForm):
    temperature = TemperatureField(label=_("The thermometer shows"))
    moment = LocalMomentField(label=_("When, if not now"), required=False)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["temperature"].use_unit(self.farm.temperature_unit)
        self.fields["moment"].zone = self.farm.zone


class PaperForm(PlainForm):
    """A paper log, a line a reading: day, time, temperature."""

    lines = forms.CharField(
        label=_("One reading a line, like: 2026-07-31 06:30 3.5"),
        max_length=100_000,
        widget=forms.Textarea(attrs={"rows": 12, "spellcheck": "false"}),
    )

    def clean_lines(self):
        field = LocalMomentField()
        field.zone = self.farm.zone
        rows = []
        lines = [line for line in self.cleaned_data["lines"].splitlines() if line.strip()]
        if len(lines) > MOST_PAPER_LINES:
            raise forms.ValidationError(_("At most 2000 lines at a time."))
        for number, line in enumerate(lines, start=1):
            try:
                rows.append(self._row(field, line))
            except (ValueError, forms.ValidationError) as error:
                raise forms.ValidationError(
                    _("Line %(number)s can't be read: “%(line)s”"),
                    params={"number": number, "line": line[:60]},
                ) from error
        return rows

    def _row(self, field, line: str):
        day, clock, figure = line.split()
        celsius = measures.to_celsius(measures.read_decimal(figure), self.farm.temperature_unit)
        return field.clean(f"{day}T{clock}"), float(celsius)


class FileForm(PlainForm):
    file = forms.FileField(
        label=_("The logger's CSV file"),
        allow_empty_file=True,
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,text/csv,text/plain"}),
    )
    sensor = WordsField(label=_("Name of the logger"), max_length=60, required=False)


class ColumnsForm(PlainForm):
    """What was guessed about a file, to be confirmed or changed."""

    unit = forms.ChoiceField(
        label=_("Its temperatures are in"), choices=[("C", "°C"), ("F", "°F")], widget=Chips
    )
    day_first = forms.ChoiceField(
        label=_("Its dates are written"),
        choices=[("", _("as guessed")), ("month", _("month first")), ("day", _("day first"))],
        required=False,
    )


class CheckForm(PlainForm):
    """The daily look: at most three taps, and a box for what is odd."""

    temperature = TemperatureField(label=_("The thermometer shows"), required=False)
    door_shut = forms.ChoiceField(
        label=_("Is the door shut?"), choices=[("yes", _("yes")), ("no", _("no"))], widget=Chips
    )
    odd = WordsField(label=_("Anything odd?"), required=False)
    drip_tray_clean = forms.ChoiceField(label=_("Drip tray clean?"), required=False)
    thermometer_right = forms.ChoiceField(
        label=_("Thermometer right in ice water?"), required=False
    )
    opens_from_inside = forms.ChoiceField(label=_("Door opens from inside?"), required=False)

    WEEKLY = ("drip_tray_clean", "thermometer_right", "opens_from_inside")

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["temperature"].use_unit(self.farm.temperature_unit)
        for name in self.WEEKLY:
            self.fields[name].choices = [
                ("", _("not looked at")), ("yes", _("yes")), ("no", _("no"))
            ]  # fmt: skip

    @property
    def content(self) -> dict:
        data = self.cleaned_data
        weekly = {name: {"yes": True, "no": False}.get(data[name]) for name in self.WEEKLY}
        celsius = data["temperature"]
        return {
            "celsius": None if celsius is None else float(celsius),
            "door_shut": data["door_shut"] == "yes",
            "odd": data["odd"],
            **weekly,
        }


class CloseAlarmForm(PlainForm):
    done = WordsField(label=_("What was wrong, and what was done?"))


class SensorForm(PlainForm):
    name = WordsField(label=_("Name of the sensor"), max_length=60)
    room = forms.ModelChoiceField(Room.objects.all(), label=_("Room"), empty_label=None)


class ProbeForm(PlainForm):
    pulp_c = TemperatureField(label=_("Inside temperature now"))

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["pulp_c"].use_unit(self.farm.temperature_unit)
