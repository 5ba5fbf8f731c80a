"""Reading the CSV files of data loggers, whose columns nobody agrees on. Pure.

The columns are guessed, shown to a person and confirmed; then every row is read or said to be
bad with its reason, and the rest is kept.
"""

import csv
import io
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, tzinfo
from itertools import pairwise

from inventory import measures

MOST_BYTES = 20_000_000
MOST_ROWS = 600_000
_SAMPLE_ROWS = 40
_DATES = (
    "%Y-%m-%d", "%Y/%m/%d", "%m/%d/%Y", "%d/%m/%Y", "%d.%m.%Y", "%m/%d/%y", "%d/%m/%y", "%d-%m-%Y",
)  # fmt: skip
_TIMES = ("%H:%M:%S", "%H:%M", "%I:%M:%S %p", "%I:%M %p")
_TEMPERATURE_WORDS = ("temp", "°c", "°f", "celsius", "fahrenheit", "grados")


# Which of day and month comes first can't be told where both are at most 12.
_OTHER_ORDER = {
    "%m/%d/%Y": "%d/%m/%Y", "%d/%m/%Y": "%m/%d/%Y", "%m/%d/%y": "%d/%m/%y", "%d/%m/%y": "%m/%d/%y",
}  # fmt: skip


class NotALog(ValueError):
    """The file is no table with a time and a temperature. `reason`: "empty", "time", "figure",
    "table"."""

    def __init__(self, reason: str):
        super().__init__(reason)
        self.reason = reason


class BadRow(ValueError):
    """One row that can't be read. `reason`: "short", "time", "figure" or "missing-hour"."""

    def __init__(self, reason: str):
        super().__init__(reason)
        self.reason = reason


@dataclass(frozen=True)
class Columns:
    """How to read a file. time_column may equal date_column when both stand in one cell.

    unit: "C" or "F". format: of date and time joined by a space, "" for ISO 8601. unsure: the
    days could as well be the months.
    """

    delimiter: str
    skip: int
    date_column: int
    time_column: int
    figure_column: int
    unit: str
    format: str
    unsure: bool = False

    def as_dict(self) -> dict:
        return asdict(self)


def decode(data: bytes) -> str:
    """Return a file's text: UTF-8 with or without a mark, UTF-16 with one, else Latin-1."""
    for mark, encoding in (
        (b"\xef\xbb\xbf", "utf-8-sig"),
        (b"\xff\xfe", "utf-16"),
        (b"\xfe\xff", "utf-16"),
    ):
        if data.startswith(mark):
            return data.decode(encoding, errors="replace")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def guess_columns(text: str, farm_unit: str) -> Columns:
    """Return how this file seems to be written. farm_unit: taken where no heading names one.

    Raises NotALog when no column holds times or none holds temperatures.
    """
    delimiter = _delimiter(text)
    rows = _head(text, delimiter)
    if not rows:
        raise NotALog("empty")
    for skip in range(len(rows)):
        body = [row for row in rows[skip:] if row]
        found = _time_columns(body)
        if found:
            date_column, time_column, pattern = found
            heading = rows[skip - 1] if skip else []
            figure = _figure_column(body, heading, {date_column, time_column})
            unit = _unit(heading[figure] if figure < len(heading) else "", farm_unit)
            return Columns(delimiter, skip, date_column, time_column, figure, unit, pattern)
    raise NotALog("time")


def settle_day_order(text: str, columns: Columns) -> Columns:
    """Return the columns with the order of day and month that fits the most days of the file."""
    day, space, clock = columns.format.partition(" ")
    if day not in _OTHER_ORDER:
        return columns
    width = columns.date_column
    cells = {row[width].strip() for _, row in body_rows(text, columns) if len(row) > width}
    days = {cell.partition(" ")[0] for cell in cells}
    fits = {order: sum(_fits(cell, order) for cell in days) for order in (day, _OTHER_ORDER[day])}
    best = max(fits, key=fits.__getitem__)
    unsure = len(set(fits.values())) == 1
    return replace(columns, format=f"{best}{space}{clock}", unsure=unsure)


def in_other_order(columns: Columns) -> Columns:
    """Return the columns with day and month the other way round."""
    day, space, clock = columns.format.partition(" ")
    return replace(columns, format=f"{_OTHER_ORDER[day]}{space}{clock}")


def is_day_first(columns: Columns) -> bool | None:
    """Return whether the day comes before the month; None where that is no question."""
    day = columns.format.partition(" ")[0]
    return day.startswith("%d") if day in _OTHER_ORDER else None


def with_columns(text: str, columns: Columns, time: tuple[int, int], figure: int) -> Columns:
    """Return how to read a file whose time and temperature stand in these columns.

    Raises NotALog where no time is in the one or no figure in the other.
    """
    body = [row for _, row in zip(range(_SAMPLE_ROWS), _rows(text, columns), strict=False)]
    body = [row for row in body if len(row) > max(*time, figure)]
    pattern = _pattern([_joined(row, *time) for row in body])
    if pattern is None:
        raise NotALog("time")
    if not _most([_is_figure(row[figure]) for row in body]):
        raise NotALog("figure")
    made = replace(
        columns, date_column=time[0], time_column=time[1], figure_column=figure, format=pattern
    )
    return settle_day_order(text, made)


def column_names(text: str, columns: Columns) -> list[str]:
    """Return each column's heading, or its first cell where it has none."""
    rows = _head(text, columns.delimiter)
    first = next(_rows(text, columns), [])
    heading = rows[columns.skip - 1] if columns.skip else []
    return [
        (heading[number].strip() if number < len(heading) else "") or cell.strip()
        for number, cell in enumerate(first)
    ]


def _rows(text: str, columns: Columns) -> Iterator[list[str]]:
    return (row for _, row in body_rows(text, columns))


def read_row(row: list[str], columns: Columns, zone: tzinfo) -> tuple[datetime, float]:
    """Return (moment in UTC, °C) of a row. Raises BadRow.

    Times without an offset are the farm's; of a repeated hour the earlier is meant.
    """
    needed = max(columns.date_column, columns.time_column, columns.figure_column)
    if len(row) <= needed:
        raise BadRow("short")
    moment = _moment(_stamp(row, columns), columns.format, zone)
    try:
        figure = measures.read_decimal(row[columns.figure_column].strip().rstrip("°CF "))
    except measures.NotANumber as error:
        raise BadRow("figure") from error
    return moment, float(measures.to_celsius(figure, columns.unit))


def body_rows(text: str, columns: Columns) -> Iterator[tuple[int, list[str]]]:
    """Yield (line of the file, row) after the heading, without empty ones. Raises NotALog."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=columns.delimiter)
    try:
        for number, row in enumerate(reader):
            if number >= columns.skip and any(cell.strip() for cell in row):
                yield reader.line_num, row
    except csv.Error as error:  # a quote that never closes
        raise NotALog("table") from error


def _delimiter(text: str) -> str:
    head = "\n".join(text.splitlines()[:_SAMPLE_ROWS])
    return max(",;\t", key=head.count)


def _head(text: str, delimiter: str) -> list[list[str]]:
    head = text[:20_000]
    rows = csv.reader(io.StringIO(head, newline=""), delimiter=delimiter)
    return [row for _, row in zip(range(_SAMPLE_ROWS), rows, strict=False)]


def _time_columns(body: list[list[str]]) -> tuple[int, int, str] | None:
    """Return (date column, time column, format) if the first row and most others fit one."""
    width = min(map(len, body), default=0)
    pairs = [(column, column) for column in range(width)]
    pairs += [(column, column + 1) for column in range(width - 1)]
    for date_column, time_column in pairs:
        stamps = [_joined(row, date_column, time_column) for row in body]
        pattern = _pattern(stamps)
        if pattern is not None:
            return date_column, time_column, pattern
    return None


def _pattern(stamps: list[str]) -> str | None:
    """Return the format that fits the first stamp and the most of all, "" for ISO 8601."""
    if not stamps:
        return None
    patterns = [f"{day} {clock}" for day in _DATES for clock in _TIMES]
    fits = {pattern: [_fits(stamp, pattern) for stamp in stamps] for pattern in patterns}
    fits[""] = [_is_iso(stamp) for stamp in stamps]
    likely = [pattern for pattern, good in fits.items() if good[0] and _most(good)]
    return max(likely, key=lambda pattern: (sum(fits[pattern]), not pattern), default=None)


def _most(good: list[bool]) -> bool:
    return 2 * sum(good) >= len(good)


def _is_iso(stamp: str) -> bool:
    if len(stamp) < 16:
        return False
    try:
        datetime.fromisoformat(stamp)
    except ValueError:
        return False
    return True


def _fits(stamp: str, pattern: str) -> bool:
    try:
        datetime.strptime(stamp, pattern)
    except ValueError:
        return False
    return True


def _figure_column(body: list[list[str]], heading: list[str], taken: set[int]) -> int:
    """Return the column of temperatures: the one so named, else the first with numbers."""
    width = min(map(len, body))
    numeric = [
        column
        for column in range(width)
        if column not in taken and _most([_is_figure(row[column]) for row in body])
    ]
    if not numeric:
        raise NotALog("figure")
    named = [
        column
        for column in numeric
        if column < len(heading)
        and any(word in heading[column].lower() for word in _TEMPERATURE_WORDS)
    ]
    # A row number is the usual first column of figures, and never falls.
    counting = [column for column in numeric if _counts_up(body, column)]
    return (named or [column for column in numeric if column not in counting] or numeric)[0]


def _is_figure(cell: str) -> bool:
    try:
        measures.read_decimal(cell.strip().rstrip("°CF "))
    except measures.NotANumber:
        return False
    return True


def _counts_up(body: list[list[str]], column: int) -> bool:
    cells = [row[column].strip() for row in body]
    return (
        len(cells) > 1
        and all(cell.isdecimal() for cell in cells)
        and all(int(later) == int(cell) + 1 for cell, later in pairwise(cells))
    )


def _unit(heading: str, farm_unit: str) -> str:
    upper = heading.upper()
    for unit, words in (
        ("F", ("°F", "(F)", "FAHRENHEIT", "_F")),
        ("C", ("°C", "(C)", "CELSIUS", "_C")),
    ):
        if any(word in upper for word in words):
            return unit
    return farm_unit


def _stamp(row: list[str], columns: Columns) -> str:
    return _joined(row, columns.date_column, columns.time_column)


def _joined(row: list[str], date_column: int, time_column: int) -> str:
    if date_column == time_column:
        return row[date_column].strip()
    return f"{row[date_column].strip()} {row[time_column].strip()}"


def _moment(stamp: str, pattern: str, zone: tzinfo) -> datetime:
    try:
        found = datetime.strptime(stamp, pattern) if pattern else datetime.fromisoformat(stamp)
    except ValueError as error:
        raise BadRow("time") from error
    aware = found.tzinfo is not None
    try:
        moment = (found if aware else found.replace(tzinfo=zone)).astimezone(UTC)
    except OverflowError as error:
        raise BadRow("time") from error
    if not aware and moment.astimezone(zone).replace(tzinfo=None) != found:
        raise BadRow("missing-hour")
    return moment
