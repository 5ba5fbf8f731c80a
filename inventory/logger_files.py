"""Reading the CSV files of data loggers, whose columns nobody agrees on. Pure.

The columns are guessed, shown to a person and confirmed; then every row is read or said to be
bad with its reason, and the rest is kept.
"""

import csv
import io
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, tzinfo
from functools import cache
from typing import BinaryIO

from inventory import logger_columns, measures

MOST_BYTES = 20_000_000
MOST_ROWS = 600_000
MOST_COLUMNS = 40
_SAMPLE_ROWS = 40
_SAMPLE_LETTERS = 20_000
_MOST_DAYS = 5_000  # a log of the years that count has fewer
_SHORTEST_STAMP, _LONGEST_STAMP = 10, 40
_DATES = (
    "%Y-%m-%d", "%Y/%m/%d", "%m/%d/%Y", "%d/%m/%Y", "%d.%m.%Y", "%m/%d/%y", "%d/%m/%y", "%d-%m-%Y",
)  # fmt: skip
_TIMES = ("%H:%M:%S", "%H:%M", "%I:%M:%S %p", "%I:%M %p")


# Which of day and month comes first can't be told where both are at most 12.
_OTHER_ORDER = {
    "%m/%d/%Y": "%d/%m/%Y", "%d/%m/%Y": "%m/%d/%Y", "%m/%d/%y": "%d/%m/%y", "%d/%m/%y": "%m/%d/%y",
}  # fmt: skip


class NotALog(ValueError):
    """The file is no table with a time and a temperature. `reason`: "empty", "wide", "time",
    "figure", "table"."""

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
    days could as well be the months. figure_unsure, unit_unsure: nothing in the file tells which
    column is the room's temperature, or its unit; a person must say. Stored with each file:
    a new field needs a default.
    """

    delimiter: str
    skip: int
    date_column: int
    time_column: int
    figure_column: int
    unit: str
    format: str
    unsure: bool = False
    figure_unsure: bool = False
    unit_unsure: bool = False

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
    """Return how this file seems to be written. farm_unit: guessed where nothing names one.

    Raises NotALog when no column holds times or none holds temperatures, or there are too many.
    """
    delimiter = _delimiter(text)
    rows = _head(text, delimiter)
    if not rows:
        raise NotALog("empty")
    if max(map(len, rows)) > MOST_COLUMNS:
        raise NotALog("wide")

    @cache
    def formats(row: int, date_column: int, time_column: int) -> tuple[str, ...]:
        return _formats(_joined(rows[row], date_column, time_column))

    for skip in range(len(rows)):
        lines, width = _body_lines(rows, skip)
        found = _time_columns(lines, width, formats)
        if found:
            date_column, time_column, pattern = found
            columns = Columns(
                delimiter, skip, date_column, time_column, date_column, farm_unit, pattern
            )
            return _with_guessed_figure([rows[line] for line in lines], rows, columns)
    raise NotALog("time")


def settle_day_order(text: str, columns: Columns) -> Columns:
    """Return the columns with the order of day and month that fits the most days of the file."""
    day, space, clock = columns.format.partition(" ")
    if day not in _OTHER_ORDER:
        return columns
    width = columns.date_column
    days: set[str] = set()
    for _, row in body_rows(text, columns):
        if len(row) > width and len(days) < _MOST_DAYS:
            days.add(row[width].strip()[:_LONGEST_STAMP].partition(" ")[0])
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

    Its unit is what this column says, else as before and unsure. Raises NotALog where no time is
    in the one or no figure in the other.
    """
    body = [row for row in _sample(text, columns) if len(row) > max(*time, figure)]
    pattern = _best([_formats(_joined(row, *time)) for row in body])
    if pattern is None:
        raise NotALog("time")
    found = _figures(body, _heading(_head(text, columns.delimiter), columns), figure)
    if found is None:
        raise NotALog("figure")
    made = replace(
        columns, date_column=time[0], time_column=time[1], figure_column=figure, format=pattern,
        unit=found.unit or columns.unit, unit_unsure=not found.unit, figure_unsure=False,
    )  # fmt: skip
    return settle_day_order(text, made)


def column_names(text: str, columns: Columns) -> list[str]:
    """Return each column's heading, or its first cell where it has none; no two the same."""
    heading = _heading(_head(text, columns.delimiter), columns)
    names = [
        (heading[number].strip() if number < len(heading) else "") or cell.strip()
        for number, cell in enumerate(next(_rows(text, columns), []))
    ]
    often = Counter(names)
    return [
        name if name and often[name] == 1 else f"{name} ({number})".strip()
        for number, name in enumerate(names, start=1)
    ]


def figure_names(text: str, columns: Columns) -> dict[int, str]:
    """Return the names of the columns that hold numbers, by column."""
    body, names = list(_sample(text, columns)), column_names(text, columns)
    cells = [[row[number] for row in body if number < len(row)] for number in range(len(names))]
    return {
        number: name
        for number, name in enumerate(names)
        if logger_columns.figures_of(number, name, cells[number])
    }


def _sample(text: str, columns: Columns) -> Iterator[list[str]]:
    return (row for _, row in zip(range(_SAMPLE_ROWS), _rows(text, columns), strict=False))


def _heading(rows: list[list[str]], columns: Columns) -> list[str]:
    """Return the last row before the body that is not empty."""
    return next((row for row in reversed(rows[: columns.skip]) if row), [])


def _rows(text: str, columns: Columns) -> Iterator[list[str]]:
    return (row for _, row in body_rows(text, columns))


def read_row(row: list[str], columns: Columns, zone: tzinfo) -> tuple[datetime, float]:
    """Return (moment in UTC, °C) of a row. Raises BadRow.

    Times without an offset are the farm's; of a repeated hour the earlier is meant. A unit beside
    the figure itself goes before the column's.
    """
    needed = max(columns.date_column, columns.time_column, columns.figure_column)
    if len(row) <= needed:
        raise BadRow("short")
    moment = _moment(_stamp(row, columns), columns.format, zone)
    try:
        figure, unit = logger_columns.read_figure(row[columns.figure_column].strip())
    except measures.NotANumber as error:
        raise BadRow("figure") from error
    return moment, float(measures.to_celsius(figure, unit or columns.unit))


def body_rows(text: str, columns: Columns) -> Iterator[tuple[int, list[str]]]:
    """Yield (line of the file, row) after the heading, without empty ones. Raises NotALog."""
    return _table(io.StringIO(text, newline=""), columns, columns.skip)


class KeptLines:
    """The lines of a kept text (UTF-8) from a byte on, and how many bytes of it were taken.

    A reader of tables takes no line before it needs it: after a row, `at` is where the next begins.
    """

    def __init__(self, kept: BinaryIO, at: int):
        kept.seek(at)
        self._kept = kept
        self.at = at

    def __iter__(self) -> Iterator[str]:
        for line in self._kept:
            # Some loggers end a line by a carriage return alone.
            for part in io.StringIO(line.decode(), newline=""):
                self.at += len(part.encode())
                yield part


def rows_from(lines: KeptLines, columns: Columns) -> Iterator[tuple[int, list[str]]]:
    """Yield (line counted from there, row) of a kept text, without the heading at its beginning.

    Raises NotALog.
    """
    return _table(iter(lines), columns, columns.skip if lines.at == 0 else 0)


def _table(lines: Iterable[str], columns: Columns, skip: int) -> Iterator[tuple[int, list[str]]]:
    reader = csv.reader(lines, delimiter=columns.delimiter)
    try:
        for number, row in enumerate(reader):
            if number >= skip and any(cell.strip() for cell in row):
                yield reader.line_num, row
    except csv.Error as error:  # a quote that never closes
        raise NotALog("table") from error


def _delimiter(text: str) -> str:
    # On a draw it is no comma: those may be the decimals of "06:30;3,5".
    head = "\n".join(text[:_SAMPLE_LETTERS].splitlines()[:_SAMPLE_ROWS])
    return max(";\t,", key=head.count)


def _head(text: str, delimiter: str) -> list[list[str]]:
    head = io.StringIO(text[:_SAMPLE_LETTERS], newline="")
    found = zip(range(_SAMPLE_ROWS), csv.reader(head, delimiter=delimiter), strict=False)
    rows = [row if any(cell.strip() for cell in row) else [] for _, row in found]
    cut_off = len(text) > _SAMPLE_LETTERS and 1 < len(rows) < _SAMPLE_ROWS
    return rows[:-1] if cut_off else rows


def _body_lines(rows: list[list[str]], skip: int) -> tuple[list[int], int]:
    """Return the rows from here on that are wide enough, and how wide most are."""
    lines = [line for line in range(skip, len(rows)) if rows[line]]
    if not rows[skip]:
        return [], 0
    usual, _ = Counter(len(rows[line]) for line in lines).most_common(1)[0]
    width = min(usual, len(rows[skip]))
    return [line for line in lines if len(rows[line]) >= width], width


def _time_columns(
    lines: list[int], width: int, formats: Callable[[int, int, int], tuple[str, ...]]
) -> tuple[int, int, str] | None:
    """Return (date column, time column, format) if the first row and most others fit one."""
    pairs = [(column, column) for column in range(width)]
    pairs += [(column, column + 1) for column in range(width - 1)]
    for pair in pairs:
        pattern = _best([formats(line, *pair) for line in lines])
        if pattern is not None:
            return *pair, pattern
    return None


def _formats(stamp: str) -> tuple[str, ...]:
    """Return every format that a date and time fits, "" for ISO 8601."""
    if not _SHORTEST_STAMP <= len(stamp) <= _LONGEST_STAMP:
        return ()
    day, _, clock = stamp.partition(" ")
    days = [pattern for pattern in _DATES if _fits(day, pattern)]
    clocks = [pattern for pattern in _TIMES if days and _fits(clock.strip(), pattern)]
    found = [f"{day} {clock}" for day in days for clock in clocks]
    return (*found, "") if _is_iso(stamp) else tuple(found)


def _best(formats: list[tuple[str, ...]]) -> str | None:
    """Return the format that fits the first stamp and the most of all."""
    if not formats:
        return None
    often = Counter(pattern for each in formats for pattern in each)
    likely = [pattern for pattern in formats[0] if 2 * often[pattern] >= len(formats)]
    return max(likely, key=lambda pattern: (often[pattern], not pattern), default=None)


def _with_guessed_figure(body: list[list[str]], rows: list[list[str]], columns: Columns) -> Columns:
    heading = _heading(rows, columns)
    taken = {columns.date_column, columns.time_column}
    found = [
        _figures(body, heading, column)
        for column in range(min(map(len, body)))
        if column not in taken
    ]
    numeric = [figures for figures in found if figures is not None]
    if not numeric:
        raise NotALog("figure")
    choice = logger_columns.choose(numeric, columns.unit)
    return replace(
        columns, figure_column=choice.column, unit=choice.unit,
        figure_unsure=choice.figure_unsure, unit_unsure=choice.unit_unsure,
    )  # fmt: skip


def _figures(
    body: list[list[str]], heading: list[str], column: int
) -> logger_columns.Figures | None:
    name = heading[column] if column < len(heading) else ""
    return logger_columns.figures_of(column, name, [row[column] for row in body])


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
