"""Temperatures as people bring them in: typed, from paper, from a file; the daily check."""

from dataclasses import replace
from datetime import datetime
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory import logger_files, measures
from inventory.forms.crates import still_good_field
from inventory.forms.fields import (
    Chips,
    LocalMomentField,
    PlainForm,
    TemperatureField,
    WordsField,
)
from inventory.models import Farm, Room, RoomCheck
from inventory.queries.crates import Crate

MOST_PAPER_LINES = 2000


class ReadingForm(PlainForm):
    temperature = TemperatureField(label=_("The thermometer shows"))
    moment = LocalMomentField(label=_("When, if not now"), required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
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

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.farm.region == Farm.Region.US:
            self.fields["lines"].label = _("One reading a line, like: 2026-07-31 6:30 AM 38.5")

    def clean_lines(self) -> list[tuple[datetime, float]]:
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

    def _row(self, field: LocalMomentField, line: str) -> tuple[datetime, float]:
        day, *clock, figure = line.split()
        celsius = measures.to_celsius(measures.read_decimal(figure), self.farm.temperature_unit)
        return field.clean(f"{day}T{self._time(''.join(clock))}"), float(celsius)

    def _time(self, said: str) -> str:
        """Return a time of day in 24 hours: 6:30 PM, 6:30pm and 6:30 p.m. are 18:30."""
        said = said.lower().replace(".", "")
        half = self.farm.region == Farm.Region.US and said.endswith(("am", "pm"))
        return f"{datetime.strptime(said, '%I:%M%p'):%H:%M}" if half else said


class FileForm(PlainForm):
    file = forms.FileField(
        label=_("The logger's CSV file"),
        allow_empty_file=True,
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,text/csv,text/plain"}),
    )
    sensor = WordsField(label=_("Name of the logger"), max_length=60)


class ColumnsForm(PlainForm):
    """What was guessed about a file, to be confirmed or changed."""

    time = forms.ChoiceField(label=_("Date and time are in"))
    figure = forms.ChoiceField(label=_("The temperature is in"), widget=Chips)
    unit = forms.ChoiceField(
        label=_("Its temperatures are in"),
        choices=[("C", "°C"), ("F", "°F")],
        widget=Chips,
        required=False,
    )
    first = forms.ChoiceField(
        label=_("In its dates, what comes first?"),
        choices=[("day", _("the day")), ("month", _("the month"))],
        widget=Chips,
        required=False,
    )

    def __init__(self, *args: Any, text: str, columns: logger_files.Columns, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.text, self.columns = text, columns
        names = logger_files.column_names(text, columns)
        guessed = (columns.date_column, columns.time_column)
        times = {(number, number): name for number, name in enumerate(names)}
        times.setdefault(guessed, " + ".join(names[number] for number in guessed))
        self.fields["time"].choices = [(_pair(pair), name) for pair, name in times.items()]
        self.fields["figure"].choices = list(logger_files.figure_names(text, columns).items())
        # What nothing in the file tells is chosen for nobody.
        self.initial = {"time": _pair(guessed)}
        if not columns.figure_unsure:
            self.initial["figure"] = columns.figure_column
        if not columns.unit_unsure:
            self.initial["unit"] = columns.unit
        day_first = logger_files.is_day_first(columns)
        if day_first is None:
            del self.fields["first"]
        elif not columns.unsure:
            self.initial["first"] = "day" if day_first else "month"

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if self.errors:
            return data
        date_column, time_column = (int(number) for number in data["time"].split("+"))
        try:
            found = logger_files.with_columns(
                self.text, self.columns, (date_column, time_column), int(data["figure"])
            )
        except logger_files.NotALog as error:
            field = "figure" if error.reason == "figure" else "time"
            self.add_error(field, _("That is not in this column."))
            return data
        self.changed = self._in_order(self._in_unit(found, data["unit"]), data.get("first"))
        return data

    def _in_unit(self, columns: logger_files.Columns, unit: str) -> logger_files.Columns:
        """Return the columns in the unit the person says, or that of the column they chose."""
        if not unit and columns.unit_unsure:
            self.add_error("unit", _("Say which: nothing in the file tells."))
        told = not columns.unit_unsure and columns.figure_column != self.columns.figure_column
        if unit and told and unit != columns.unit:
            self.add_error("unit", _("This column says °%(unit)s.") % {"unit": columns.unit})
        return replace(columns, unit=unit or columns.unit, unit_unsure=False)

    def _in_order(self, columns: logger_files.Columns, first: str | None) -> logger_files.Columns:
        """Return the columns with the day where the person says it is."""
        day_first = logger_files.is_day_first(columns)
        if day_first is None:
            return columns
        if not first and columns.unsure:
            field = "first" if "first" in self.fields else None
            self.add_error(field, _("Say what comes first: both can be read."))
        turned = first and (first == "day") != day_first
        columns = replace(columns, unsure=columns.unsure and not first)
        return logger_files.in_other_order(columns) if turned else columns


def _pair(columns: tuple[int, int]) -> str:
    return "+".join(str(number) for number in columns)


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

    WEEKLY = RoomCheck.WEEKLY

    def __init__(self, *args: Any, asked: Crate | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.asked = asked
        if asked is not None:
            self.fields["good"] = still_good_field()
        self.fields["temperature"].use_unit(self.farm.temperature_unit)
        for name in self.WEEKLY:
            self.fields[name].choices = [
                ("", _("not looked at")), ("yes", _("yes")), ("no", _("no"))
            ]  # fmt: skip

    @property
    def answer(self) -> str:
        """What was answered of the crate that was asked about, if it was."""
        return self.cleaned_data.get("good", "")

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

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["pulp_c"].use_unit(self.farm.temperature_unit)
