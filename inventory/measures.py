"""Units and figures as people type and read them. Pure: no Django, no clock."""

import math
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation
from fractions import Fraction

KG_PER_LB = Decimal("0.45359237")
F_PER_C = Decimal("1.8")
WEIGHTS = ("kg", "lb")
COUNTS = ("bunch", "head", "piece")
PLACES = Decimal("0.001")

SHARES = {"quarter": Decimal("0.25"), "half": Decimal("0.5"), "three-quarters": Decimal("0.75")}


class NotANumber(ValueError):
    """What was typed is no plain number. `reason`: "number" or "ambiguous"."""

    def __init__(self, typed: str, reason: str):
        super().__init__(f"{typed!r}: {reason}")
        self.typed = typed
        self.reason = reason


class NeedsFigure(ValueError):
    """A quantity can't be told in another unit while a figure of the crop is missing."""


class NeedsWeight(NeedsFigure):
    """The weight of one bunch, head or piece is missing."""


class NeedsCase(NeedsFigure):
    """How much one case holds is missing."""


class NeedsCount(NeedsFigure):
    """How many of one counted unit are in another (pieces in a bunch) is written nowhere."""


def read_decimal(typed: str) -> Decimal:
    """Return a number typed with a point or a comma, as phone keypads offer either.

    A comma before exactly three digits ("1,500") may mean thousands or decimals and is
    refused as ambiguous, unless the whole part is 0. Raises NotANumber.
    """
    text = typed.strip().replace("\u2212", "-")
    whole, comma, decimals = text.partition(",")
    if comma:
        if len(decimals) == 3 and decimals.isdigit() and whole.strip("-") not in {"", "0"}:
            raise NotANumber(typed, "ambiguous")
        text = f"{whole}.{decimals}"
    if not text.isascii() or not text.lstrip("-").replace(".", "", 1).isdigit():
        raise NotANumber(typed, "number")
    try:
        return Decimal(text)
    except InvalidOperation as error:
        raise NotANumber(typed, "number") from error


def plain(number: Decimal | float | int) -> str:
    """Return a number without needless zeros or exponent: 12.500 → "12.5"."""
    text = f"{number + 0:f}"  # a negative zero is zero
    return text.rstrip("0").rstrip(".") if "." in text else text


def is_count(unit: str) -> bool:
    return unit in COUNTS


def is_weight(unit: str) -> bool:
    return unit in WEIGHTS


def convert_weight(quantity: Decimal, unit: str, to_unit: str) -> Decimal:
    """Return a weight in the other unit. 1 lb = 0.45359237 kg exactly (NIST SP 811, app. B)."""
    if unit == to_unit:
        return quantity
    return quantity * KG_PER_LB if to_unit == "kg" else quantity / KG_PER_LB


def own_unit(
    quantity: Decimal,
    unit: str,
    own: str,
    piece_weight_kg: Decimal | None,
    case_holds: Decimal | None,
) -> Decimal:
    """Return what an order in any unit comes to in the crates' own unit, rounded up.

    Counts are whole, weights have three decimals. piece_weight_kg: of one bunch, head or piece.
    case_holds: how much of the own unit is in a case. Raises NeedsWeight, NeedsCase, NeedsCount.
    Example: 6 kg at 0.25 kg a bunch → 24 bunches.
    """
    if unit == "case":
        if not case_holds:
            raise NeedsCase
        exact = Fraction(quantity) * Fraction(case_holds)
    else:
        exact = Fraction(quantity) * _of_the_other(unit, own, piece_weight_kg)
    if is_count(own):
        return Decimal(math.ceil(exact))
    return math.ceil(exact / Fraction(PLACES)) * PLACES


def _of_the_other(unit: str, own: str, piece_weight_kg: Decimal | None) -> Fraction:
    """Return how much of the own unit one of the unit is, exactly."""
    if unit == own:
        return Fraction(1)
    if is_count(unit) and is_count(own):
        raise NeedsCount
    return _weight_kg(unit, piece_weight_kg) / _weight_kg(own, piece_weight_kg)


def _weight_kg(unit: str, piece_weight_kg: Decimal | None) -> Fraction:
    if is_weight(unit):
        return Fraction(convert_weight(Decimal(1), unit, "kg"))
    if not piece_weight_kg:
        raise NeedsWeight
    return Fraction(piece_weight_kg)


def packs(free: Decimal, size: Decimal) -> tuple[int, Decimal]:
    """Return the full cases in what is free, and what is loose: never rounded up.

    free ≥ 0 and size > 0, in one unit. Example: 37 bunches in cases of 12 → 3 cases, 1 loose.
    """
    full = int(free // size)
    return full, free - full * size


def share_of(quantity: Decimal, share: str, unit: str) -> Decimal:
    """Return a quarter, half, three quarters or all of a quantity; counts rounded to whole."""
    if share == "all":
        return quantity
    part = quantity * SHARES[share]
    step = Decimal(1) if is_count(unit) else PLACES
    return min(quantity, max(step, part.quantize(step, rounding=ROUND_HALF_UP)))


def half_up(number: Decimal, decimals: int) -> Decimal:
    """Return a number rounded as people do it, a half away from zero: 2.25 → 2.3."""
    return number.quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_UP)


def temperature_words(celsius: Decimal | float, unit: str, decimals: int = 1) -> str:
    """Return a temperature as it is shown: 3.4 °C, or 38.1 °F."""
    shown = from_celsius(Decimal(str(celsius)), unit)
    return f"{plain(half_up(shown, decimals))} °{unit}"


def to_celsius(degrees: Decimal, unit: str) -> Decimal:
    """Return a temperature typed in "C" or "F" in °C. °F = 1.8 °C + 32, exactly."""
    return degrees if unit == "C" else (degrees - 32) / F_PER_C


def from_celsius(celsius: Decimal, unit: str) -> Decimal:
    return celsius if unit == "C" else celsius * F_PER_C + 32
