"""Headings and cells of loggers: what they name, and in which unit."""

from decimal import Decimal

import pytest

from inventory import measures
from inventory.logger_columns import Kind, choose, figures_of, kind_of, read_figure, unit_in

UNITS = {
    "C": [
        "°C", "Temp °C", "Temp(°C)", "Celsius(°C)", "Celsius", "TEMP_C", "temp_c", "TempC", "degC",
        "Temperatura (ºC)", "Température °C", "Grados Centígrados", "grados C", "degrés C",
        "Lufttemperatur °C", "Temp℃", "TempÂ°C", "T (C)", "T2 C", "Temp [C]", "temp_fridge_°C",
    ],
    "F": [
        "°F", "deg F", "Temp F", "Temp(F)", "T1 °F", "Temperature_F", "Fahrenheit", "temp_f",
        "Temp. 2 (F)", "Temperature, F", "Temperature - °F", "TEMPF °F", "Room TempF",
    ],
    "": [
        "", "temp_fridge", "temp_front", "temp_coldroom", "temp_floor", "Temp", "Temperatura",
        "Température", "Temperatur", "Temp °C/°F", "Temp (C/F)", "Temp C/F", "Temp F C", "C", "F",
        "Celsius or Fahrenheit",
        "Zone C temp", "Probe F", "cold", "front",
    ],
}  # fmt: skip
KINDS = {
    Kind.TEMPERATURE: [
        "temp", "temp_fridge", "Temperature", "Temperatura", "Température", "Temperatur",
        "Raumtemperatur", "T1 °F", "Celsius", "Temp no. 2", "deg F", "Temp(F)", "TempF",
    ],
    Kind.OTHER: [
        "Dew point °C", "DewPoint(C)", "Punto de rocío °C", "Point de rosée", "Taupunkt °C",
        "Taupunkttemperatur", "Humidity", "RH %", "Humedad", "Humidité", "Luftfeuchte", "Battery",
        "Batería", "Batterie", "Temp alarm", "Temperaturalarm", "Alarma temp", "High limit °C",
        "Grenzwert °C", "Setpoint °C", "Max temp", "#", "No.", "Record", "Contador", "Wet bulb °F",
    ],
    Kind.UNKNOWN: ["", "fridge", "probe", "air", "C", "Temps", "normal"],
}  # fmt: skip


@pytest.mark.parametrize(
    ("unit", "heading"), [(unit, name) for unit in UNITS for name in UNITS[unit]]
)
def test_whole_words_of_a_heading_name_the_unit(unit, heading):
    assert unit_in(heading) == unit


@pytest.mark.parametrize(
    ("kind", "heading"), [(kind, name) for kind in KINDS for name in KINDS[kind]]
)
def test_words_of_a_heading_name_what_is_measured(kind, heading):
    assert kind_of(heading) == kind


@pytest.mark.parametrize(
    ("cell", "figure", "unit"),
    [
        ("3.5", "3.5", ""), ("3,5", "3.5", ""), ("−3.5", "-3.5", ""), ("38.3 °F", "38.3", "F"),
        ("38.3F", "38.3", "F"), ("3.5 ºC", "3.5", "C"), ("3,5℃", "3.5", "C"), ("3.5°", "3.5", ""),
        ("3.5 deg C", "3.5", "C"), ("3.5 c", "3.5", "C"), ("3.5Â°C", "3.5", "C"),
    ],
)  # fmt: skip
def test_a_cell_is_a_figure_with_or_without_its_unit(cell, figure, unit):
    assert read_figure(cell) == (Decimal(figure), unit)


@pytest.mark.parametrize("cell", ["", "°C", "88 %", "2.9 V", "n/a", "1,500", "3.5 K", "1" * 41])
def test_other_cells_are_no_figure(cell):
    with pytest.raises(measures.NotANumber):
        read_figure(cell)


def chosen(*columns: tuple[str, str]):
    """Choose among columns given as (heading, cells)."""
    made = [figures_of(number, name, cells.split()) for number, (name, cells) in enumerate(columns)]
    return choose([each for each in made if each is not None], "F")


ROOM = "3.5 3.6 3.5 3.7"
DEW = ("Dew point °C", "1.5 1.6 1.5 1.7")
ALARM = ("Temp alarm", "0 0 1 0")
HUMIDITY = ("Humidity", "38 39 38 40")
COUNTER = ("", "1 2 3 4")
BATTERY = ("Battery", "2.9 2.9 2.9 2.8")


@pytest.mark.parametrize(
    "other", [DEW, ALARM, HUMIDITY, COUNTER, BATTERY], ids=lambda each: each[0]
)
@pytest.mark.parametrize("name", ["Temp °C", "temp_fridge", "fridge", ""])
def test_neighbours_are_never_taken_for_the_room(other, name):
    for columns in ([other, (name, ROOM)], [(name, ROOM), other]):
        found = chosen(*columns)
        assert (columns[found.column][0], found.figure_unsure) == (name, False)


@pytest.mark.parametrize(
    "columns",
    [
        [("T1 °C", ROOM), ("T2 °C", ROOM)],
        [("probe", ROOM), ("air", ROOM)],
        [DEW, HUMIDITY],
        [("Temp °C", "1 2 3 4")],
        [("Temp °C", "0 1 1 0")],
        [("Temp °C", "-99 -99 -99 -99")],
        [("Temp °C", "80.1 80.3 80.2 80.1")],
        [("T1 °C", "0 1 1 0"), ("T2 °C", ROOM)],
        [("T1 °C", ROOM), ("T2 °F", "41.0 41.2 41.1 41.0")],
        [("count", ROOM)],
        [("Temp °C", ROOM), ("fridge", ROOM)],
        [("", "1 2 3 4")],
        [("", "9 8 7 6")],
        [("", "0 0 0 0")],
    ],
)
def test_a_doubtful_column_is_asked_about(columns):
    assert chosen(*columns).figure_unsure


@pytest.mark.parametrize("cells", ["38.3 38.5 38.3 38.7", "38 38 38 39"])
def test_one_temperature_in_both_units_is_no_doubt(cells):
    in_c, in_f = ("Temp °C", ROOM), ("Temp °F", cells)
    for columns, unit in (([in_c, in_f], "C"), ([in_f, in_c], "F")):
        found = chosen(*columns)
        assert (found.column, found.unit, found.figure_unsure, found.unit_unsure) == (
            0, unit, False, False,
        )  # fmt: skip


def test_a_unit_is_known_only_from_words_or_marks():
    assert not chosen(("Temp °C", ROOM)).unit_unsure
    assert not chosen(("", "3.5C 3.6C")).unit_unsure
    assert chosen(("Temp", ROOM)).unit_unsure
    assert chosen(("Temp °C", "38.3F 38.5F")).unit_unsure
    both = chosen(("T1 °C", ROOM), ("T2 °C", ROOM))
    assert (both.unit, both.figure_unsure, both.unit_unsure) == ("C", True, False)
    assert chosen(("T1 °C", ROOM), ("T2", ROOM)).unit_unsure
