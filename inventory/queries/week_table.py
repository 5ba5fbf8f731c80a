"""The week as a table, and the few characters by which a printed one is known again."""

import hashlib
from collections.abc import Iterable, Iterator
from datetime import date
from decimal import Decimal

from inventory import measures
from inventory.codes import ALPHABET, check_character, normalise
from inventory.queries.ages import Ages
from inventory.queries.kept_order import KeptOrder
from inventory.queries.ledger import safe_cell
from inventory.queries.lost import Lost
from inventory.queries.week import Week, WeekRow

CSV_COLUMNS = (
    "week", "table", "crop", "unit", "figure", "reason", "destination", "amount", "kg", "percent",
    "about",
)  # fmt: skip
# Characters: one that tells the week (of 32), four of its figures (1 in a million share them), one
# to check the others.
_FIGURES, _BODY = 4, 5
_BALANCE = ("opening", "came_in", "sold", "given", "own_use", "thrown", "missing", "closing")


def csv_rows(
    week: Week,
    lost: Lost,
    kept: KeptOrder,
    sold: Iterable[tuple[date, Decimal | None]],
    ages: Iterable[Ages] = (),
) -> Iterator[list[str]]:
    """Yield everything the page of a week shows, one figure a row.

    table: crop, all (crops together, in kg), waste (by where it went and why), weeks (before),
    lost (keeping life by crop and step, in crate-days), order (first in, first out: takes, and the
    share that kept it), market (sold, of what was taken there, week by week), ages (crates in the
    house now, by days since they were cut or packed).
    amount is in the crop's unit; kg is empty where nobody said what one weighs.
    """
    yield list(CSV_COLUMNS)
    day = week.first.isoformat()
    for crop_row in week.rows:
        yield from ([day, "crop", *cells] for cells in _crop_rows(crop_row))
    about = _yes(week.is_about)
    for name in _BALANCE:
        figure = _number(getattr(week.flow, name))
        yield [day, "all", "", "", name, "", "", "", figure, "", about]
    yield [day, "all", "", "", "wasted, of what left", "", "", "", _number(week.flow.wasted),
           _percent(week.flow.waste_of_left), about]  # fmt: skip
    yield [day, "all", "", "", "wasted, of what came in", "", "", "", _number(week.flow.wasted),
           _percent(week.flow.waste_of_came_in), about]  # fmt: skip
    for one in week.discarded:
        yield [day, "waste", "", "", "thrown away", one.reason, one.destination, "",
               _number(one.kg), "", _yes(one.is_about)]  # fmt: skip
    for first, flow in week.trend.items():
        yield [first.isoformat(), "weeks", "", "", "wasted, of what left", "", "", "",
               _number(flow.wasted), _percent(flow.waste_of_left), ""]  # fmt: skip
    for of in lost.crops:
        for row in of.rows:
            yield [day, "lost", safe_cell(of.crop.shown_name), "crate-days", row.step, "", "",
                   _number(row.crate_days), "", "", "about"]  # fmt: skip
    yield [day, "order", "", "takes", "first in, first out kept", "", "", str(kept.takes), "",
           "" if kept.percent is None else str(kept.percent), ""]  # fmt: skip
    for first, share in sold:
        yield [first.isoformat(), "market", "", "", "sold, of what was taken", "", "", "", "",
               _percent(share), ""]  # fmt: skip
    for aged in ages:
        span = (
            f"{aged.since} days and more"
            if aged.until is None
            else f"{aged.since}-{aged.until} days"
        )
        yield [day, "ages", "", "crates", span, "", "", str(aged.crates), "", "", ""]


def _crop_rows(row: WeekRow) -> Iterator[list[str]]:
    head, about = [safe_cell(row.crop.shown_name), row.unit], _yes(row.is_about)
    figures = [
        ("opening", "", "", row.opening),
        *((line.figure, line.reason, line.destination, line.amount) for line in row.lines),
        ("returned", "", "", row.returned),
        ("closing", "", "", row.closing),
        ("does not add up", "", "", row.difference),
    ]
    for figure, reason, destination, amount in figures:
        if amount or figure in ("opening", "closing"):
            kg = "" if row.kg_of_one is None else _number(amount * row.kg_of_one)
            yield [*head, figure, reason, destination, _number(amount), kg, "", about]
    kg = "" if row.kg_of_one is None else _number(row.flow_kg.wasted)
    rate = _percent(row.waste_percent)
    yield [*head, "wasted, of what left", "", "", _number(row.wasted), kg, rate, about]


def _number(amount: Decimal) -> str:
    return measures.plain(measures.half_up(amount, 3))


def _percent(rate: Decimal | None) -> str:
    return "" if rate is None else _number(rate)


def _yes(about: bool) -> str:
    return "about" if about else ""


def fingerprint(week: Week) -> str:
    """Return six characters that change when any figure of this week does, whoever reads it.

    Names do not count, weights of one do. The last checks the others.
    """
    rows = sorted(
        (row.crop.pk, row.unit, _plain(row.kg_of_one), _plain(row.opening), _plain(row.closing),
         _plain(row.returned),
         *sorted((one.figure, one.reason, one.destination, _plain(one.amount))
                 for one in row.lines))
        for row in week.rows
    )  # fmt: skip
    number = int.from_bytes(hashlib.sha256(repr((week.first, rows)).encode()).digest()[:8])
    figures = "".join(ALPHABET[(number >> 5 * place) % 32] for place in range(_FIGURES))
    body = _letter_of(week) + figures
    return body + check_character(body)


def _letter_of(week: Week) -> str:
    return ALPHABET[week.first.toordinal() // 7 % 32]


def is_of(typed: str, week: Week) -> bool:
    """Return whether a fingerprint can be this week's; one of 31 other weeks is not."""
    return normalise(typed)[0] == _letter_of(week)


def _plain(amount: Decimal | None) -> str:
    return "" if amount is None else measures.plain(amount)


def is_fingerprint(typed: str) -> bool:
    """Return whether this can stand on a printed week."""
    code = normalise(typed)
    letters = len(code) == _BODY + 1 and all(letter in ALPHABET for letter in code)
    return letters and check_character(code[:-1]) == code[-1]
