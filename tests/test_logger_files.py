"""Files of data loggers, in the ways they come."""

from contextlib import suppress
from dataclasses import asdict
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from inventory import logger_files
from inventory.logger_files import (
    MOST_COLUMNS,
    BadRow,
    Columns,
    NotALog,
    body_rows,
    column_names,
    decode,
    figure_names,
    guess_columns,
    read_row,
    settle_day_order,
    with_columns,
)

NEW_YORK = ZoneInfo("America/New_York")


def read(text: str, unit: str = "C", zone=UTC):
    columns = guess_columns(text, unit)
    return [read_row(row, columns, zone) for _line, row in body_rows(text, columns)]


SIX_THIRTY = datetime(2026, 7, 31, 6, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    "text",
    [
        "time,temperature\n2026-07-31 06:30,3.5\n",
        "time,temperature\n2026-07-31T06:30:00+00:00,3.5\n",
        "no,stamp,air (°C),damp %\n1,31/07/2026 06:30:00,3.5,91\n2,31/07/2026 06:40:00,3.6,91\n",
        "Logger 7\nSerial 1234\n\nNo;Datum;Zeit;Temp\n1;31.07.2026;06:30;3,5\n",
        "Date\tTime\tTemperature\n07/31/2026\t6:30 AM\t3.5\n",
        '"When","Air in °C","Damp in %"\r\n"2026-07-31 06:30:00","3.5","88.0"\r\n',
        "31-07-2026 06:30,3.5 °C\n",
        "31.07.2026 06:30;3,5\n31.07.2026 06:40;3,6\n",
        "time,battery,temp_C\n2026-07-31 06:30,2.9,3.5\n",
        "time,temp (°F)\n2026-07-31 06:30,38.3\n",
        "time,a,temp\n2026-07-31 06:30,n/a,3.5\n",
    ],
)
def test_columns_are_guessed(text):
    moment, celsius = read(text)[0]
    assert moment == SIX_THIRTY
    assert celsius == pytest.approx(3.5)


@pytest.mark.parametrize("unit", ["C", "F"])
@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("2026-07-31 06:30,38.3\n", ""),
        ("time,temp_fridge\n2026-07-31 06:30,38.3\n", ""),
        ("time,temp_front\n2026-07-31 06:30,38.3\n", ""),
        ("time,temp_coldroom\n2026-07-31 06:30,38.3\n", ""),
        ("time,deg F\n2026-07-31 06:30,38.3\n", "F"),
        ("time,Temp F\n2026-07-31 06:30,38.3\n", "F"),
        ("time,Temp\n2026-07-31 06:30,38.3 °F\n", "F"),
        ("2026-07-31 06:30,3.5 °C\n", "C"),
        ("time,Temp\n,°C\n2026-07-31 06:30,3.5\n", "C"),
        ("time,Temp °C\n\n2026-07-31 06:30,3.5\n", "C"),
        ("time,Temp (°C/°F)\n2026-07-31 06:30,3.5\n", ""),
        ("time,Dew point °F,Temp °C\n2026-07-31 06:30,34.9,3.5\n", "C"),
        ("time,Temp °C,Temp °F\n2026-07-31 06:30,3.5,38.3\n", "C"),
        ("time,Temp °F,Temp °C\n2026-07-31 06:30,38.3,3.5\n", "F"),
    ],
)
def test_a_unit_is_told_by_the_file_or_asked_for(text, told, unit):
    columns = guess_columns(text, unit)
    assert (columns.unit, columns.unit_unsure) == (told or unit, not told)
    assert not columns.figure_unsure
    if told:
        assert read(text, unit) == [(SIX_THIRTY, pytest.approx(3.5))]


def test_a_unit_beside_the_figure_goes_before_the_columns():
    text = "time,temp\n2026-07-31 06:30,38.3 °F\n2026-07-31 06:30,3.5 °C\n2026-07-31 06:30,3.5\n"
    columns = guess_columns(text, "C")
    assert (columns.unit, columns.unit_unsure) == ("C", True)
    assert [celsius for _, celsius in read(text)] == pytest.approx([3.5, 3.5, 3.5])


def test_columns_stored_before_there_was_a_doubt_still_load():
    """As they stand in tests/stored/0001_first_tables.sql."""
    stored = {
        "date_column": 0, "delimiter": ",", "figure_column": 1, "format": "", "skip": 1,
        "time_column": 0, "unit": "C", "unsure": False,
    }  # fmt: skip
    columns = Columns(**stored)
    assert stored.items() <= asdict(columns).items()
    assert not columns.figure_unsure
    assert not columns.unit_unsure


def test_times_are_the_farms_and_clock_changes_are_minded():
    """New York 2026: 8 March 02:30 is skipped, 1 November 01:30 comes twice (IANA)."""
    text = "time,temp\n2026-11-01 01:30,3\n2026-03-08 02:30,3\n"
    columns = guess_columns(text, "C")
    (_, first), (_, second) = body_rows(text, columns)
    assert read_row(first, columns, NEW_YORK)[0] == datetime(2026, 11, 1, 5, 30, tzinfo=UTC)
    with pytest.raises(BadRow, match="missing-hour"):
        read_row(second, columns, NEW_YORK)


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        (["2026-07-31 06:30"], "short"),
        (["soon", "3"], "time"),
        (["2026-07-31 06:30", "n/a"], "figure"),
    ],
)
def test_a_bad_row_says_why(row, reason):
    columns = guess_columns("2026-07-31 06:30,3.5\n", "C")
    with pytest.raises(BadRow, match=reason):
        read_row(row, columns, UTC)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "empty"),
        ("hello\nworld\n", "time"),
        ("2026-07-31 06:30,cold\n", "figure"),
        ("\0\0", "time"),
    ],
)
def test_what_is_no_log_is_refused(text, reason):
    with pytest.raises(NotALog, match=reason):
        guess_columns(text, "C")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
def test_encodings(encoding):
    assert "°C" in decode("Temp °C".encode(encoding))


def test_the_whole_file_says_whether_day_or_month_comes_first():
    days = [f"{day:02d}/11/2026 06:30,3.5\n" for day in range(4, 26) for _ in range(10)]
    text = "time,temp\n" + "".join(days)
    assert guess_columns(text, "C").format.startswith("%m/%d")  # of its first rows alone
    columns = settle_day_order(text, guess_columns(text, "C"))
    assert columns.format.startswith("%d/%m")
    assert not columns.unsure
    few = "time,temp\n" + "".join(days[:80])
    assert settle_day_order(few, guess_columns(few, "C")).unsure


def test_another_column_can_be_chosen():
    text = "probe,air,time\n9.5,3.5,2026-07-31 06:30\n"
    guessed = guess_columns(text, "C")
    assert column_names(text, guessed) == ["probe", "air", "time"]
    columns = with_columns(text, guessed, (2, 2), 1)
    assert read_row(["9.5", "3.5", "2026-07-31 06:30"], columns, UTC) == (SIX_THIRTY, 3.5)
    for time, figure, reason in (((0, 0), 1, "time"), ((2, 2), 2, "figure")):
        with pytest.raises(NotALog, match=reason):
            with_columns(text, guessed, time, figure)
    with_unit = "time,T1 °C,T2 °F,T3\n2026-07-31 06:30,3.5,38.3,3.5\n"
    guessed = guess_columns(with_unit, "C")
    assert (guessed.figure_unsure, guessed.unit_unsure) == (True, True)
    for figure, told in ((1, ("C", False)), (2, ("F", False)), (3, ("C", True))):
        columns = with_columns(with_unit, guessed, (0, 0), figure)
        assert (columns.unit, columns.unit_unsure) == told
        assert not columns.figure_unsure


def test_columns_have_names_that_tell_them_apart():
    text = "time,Temp,note,Temp,\n2026-07-31 06:30,3.5,good,3.6,\n"
    guessed = guess_columns(text, "C")
    assert column_names(text, guessed) == ["time", "Temp (2)", "note", "Temp (4)", "(5)"]
    assert figure_names(text, guessed) == {1: "Temp (2)", 3: "Temp (4)"}


START = datetime(2026, 3, 20, 6, 30, tzinfo=UTC)
TOLD = {
    "C": ["Temp °C", "Air in °C", "temp_c", "Temperatura (ºC)", "Lufttemperatur °C"],
    "F": ["Temp F", "Temp(F)", "deg F", "T1 °F", "Temperature_F"],
}
UNTOLD = ["temp_fridge", "Temp", "fridge", "", "front", "Temps"]
# What else loggers write down: a heading, and the cell of a row for a room's °C and the row number.
OTHERS = {
    "Dew point °C": lambda celsius, row: f"{celsius - 2:.1f}",
    "Taupunkt °F": lambda celsius, row: f"{celsius * 1.8 + 28:.1f}",
    "RH %": lambda celsius, row: f"{88 + row % 3}",
    "Humedad": lambda celsius, row: f"{40 + row % 3}",
    "Battery V": lambda celsius, row: "2.9",
    "Temp alarm": lambda celsius, row: f"{row % 2}",
    "Setpoint °C": lambda celsius, row: "3.0",
    "No.": lambda celsius, row: f"{row + 1}",
    "": lambda celsius, row: f"{row}",
    "event": lambda celsius, row: "" if row else "start",
}
DOUBTFUL = {
    "Temp 2 °C": lambda celsius, row: f"{celsius + 9:.1f}",
    "Temp °F": lambda celsius, row: f"{celsius * 1.8 + 32:.1f}",
    "probe": lambda celsius, row: f"{20 - celsius:.1f}",
}


@st.composite
def made_files(draw):
    """Return (text, °C of each row, whether the file tells all)."""
    unit, delimiter = draw(st.sampled_from("CF")), draw(st.sampled_from(",;\t"))
    told = draw(st.booleans())
    name = draw(st.sampled_from(TOLD[unit] if told else UNTOLD))
    room = draw(st.lists(st.integers(-50, 150), min_size=2, max_size=12))
    others = draw(st.lists(st.sampled_from(sorted(OTHERS)), unique=True, max_size=5))
    doubtful = draw(st.lists(st.sampled_from(sorted(DOUBTFUL)), unique=True, max_size=1))
    order = draw(st.permutations(["time", "room", *others, *doubtful]))
    celsius = [tenths / 10 + 0.05 for tenths in room]

    def cell(column: str, number: int) -> str:
        if column == "time":
            return f"{START + timedelta(minutes=10 * number):%Y-%m-%d %H:%M}"
        if column != "room":
            return (OTHERS | DOUBTFUL)[column](celsius[number], number)
        return f"{celsius[number] if unit == 'C' else celsius[number] * 1.8 + 32:.2f}"

    heading = [name if column == "room" else column for column in order]
    rows = [[cell(column, number) for column in order] for number in range(len(room))]
    text = "".join(delimiter.join(row) + "\n" for row in [heading, *rows])
    return text, celsius, told and not doubtful


@settings(max_examples=300, deadline=None)
@given(made_files(), st.sampled_from("CF"))
@example(("time,Temp\n2026-03-20 06:30,3.5 °C\n", [3.5], True), "F")
def test_a_made_file_is_read_as_it_was_made_or_asked_about(made, farm_unit):
    text, celsius, tells_all = made
    columns = guess_columns(text, farm_unit)
    asked = columns.figure_unsure or columns.unit_unsure
    assert not (asked and tells_all)
    if not asked:
        expected = [(START + timedelta(minutes=10 * n), each) for n, each in enumerate(celsius)]
        assert read(text, farm_unit) == [
            (at, pytest.approx(each, abs=0.1)) for at, each in expected
        ]


CELLS_AT_MOST = logger_files._SAMPLE_ROWS * (2 * MOST_COLUMNS - 1)  # each alone, and with its next
HARD = {
    "250 columns": (",".join(["1"] * 250) + "\n") * 40,
    "one row of years": "2026," * 8000,
    "rows of years": ("2026," * 39 + "2026\n") * 200,
    "days that are no log": ("a,b,c,25 Nov 2026 10:00,1,2,3,4,5\n") * 900,
    "days and clocks apart": ("1/1/26,1:00," * 19 + "1/1/26,x\n") * 90,
    "days that fit the first row alone": "".join(
        ",".join([f"{day}/{31 - day}/2026 01:0{day % 10}"] * 20) + "\n" for day in range(1, 31)
    ),
    "spaces": (" " * 3000 + "x,") * 6 + "\n",
}


@pytest.mark.parametrize("name", HARD)
@pytest.mark.parametrize("times", [1, 30])
def test_a_hard_file_is_looked_at_only_so_far(name, times, monkeypatch):
    """Counted, not timed: a bigger file of the kind takes no more looking."""
    looked_at = []
    monkeypatch.setattr(
        logger_files,
        "_formats",
        lambda stamp, real=logger_files._formats: looked_at.append(stamp) or real(stamp),
    )
    with suppress(NotALog):
        guess_columns(HARD[name] * times, "C")
    assert len(looked_at) <= CELLS_AT_MOST


def test_a_file_may_have_forty_columns_and_no_more():
    row = "2026-07-31 06:30,3.5 °C" + ",x" * (MOST_COLUMNS - 2)
    assert read(row) == [(SIX_THIRTY, 3.5)]
    with pytest.raises(NotALog, match="wide"):
        guess_columns(row + ",x", "C")


def test_a_stamp_of_any_length_is_tried_against_few_formats(monkeypatch):
    tried = []
    real = logger_files._fits
    monkeypatch.setattr(
        logger_files, "_fits", lambda stamp, pattern: tried.append(stamp) or real(stamp, pattern)
    )
    for stamp in ("2026", "1" * 5000, "2026 2026", "25 Nov 2026 10:00", "2026-07-31 06:30"):
        logger_files._formats(stamp)
    assert len(tried) <= 2 * len(logger_files._DATES) + len(logger_files._TIMES)
