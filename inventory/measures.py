"""Units and figures as people type and read them. Pure: no Django, no clock."""

from decimal import ROUND_HALF_UP, Decimal, InvalidOperation

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
