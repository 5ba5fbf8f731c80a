"""Files of data loggers, in the ways they come."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from inventory.logger_files import (
    BadRow,
    NotALog,
    body_rows,
    column_names,
    decode,
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
        "#,Date Time,Temp (°C),RH %\n1,31/07/2026 06:30:00,3.5,91\n2,31/07/2026 06:40:00,3.6,91\n",
        "Logger 7\nSerial 1234\n\nNo;Datum;Zeit;Temp\n1;31.07.2026;06:30;3,5\n",
        "Date\tTime\tTemperature\n07/31/2026\t6:30 AM\t3.5\n",
        '"Time","Celsius(°C)","Humidity(%rh)"\r\n"2026-07-31 06:30:00","3.5","88.0"\r\n',
        "31-07-2026 06:30,3.5 °C\n",
        "time,battery,temp_C\n2026-07-31 06:30,2.9,3.5\n",
        "time,temp (°F)\n2026-07-31 06:30,38.3\n",
        "time,a,temp\n2026-07-31 06:30,n/a,3.5\n",
    ],
)
def test_columns_are_guessed(text):
    moment, celsius = read(text)[0]
    assert moment == SIX_THIRTY
    assert celsius == pytest.approx(3.5)


def test_without_a_heading_the_farms_unit_is_taken():
    assert read("2026-07-31 06:30,38.3\n", unit="F")[0][1] == pytest.approx(3.5)


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
