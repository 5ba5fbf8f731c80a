"""The storage figures of crops.csv, one Reference a crop. SOURCES.md says where each is from."""

import csv
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cache
from pathlib import Path
from types import MappingProxyType

_FILE = Path(__file__).with_name("crops.csv")
_RESPIRATION_COLUMNS = (0, 5, 10, 15, 20, 25)


class FreezingClass(StrEnum):
    """How a crop stands a light freeze: USDA Agriculture Handbook 66 (2016), page 65, Table 2.

    MOST: one light freeze is likely to hurt it. MODERATE: it gets over one or two. LEAST: it
    stands several without serious harm. UNKNOWN: not in the table.
    """

    UNKNOWN = ""
    MOST = "most"
    MODERATE = "moderate"
    LEAST = "least"


@dataclass(frozen=True)
class Reference:
    """Published storage figures of one crop, for sound, promptly cooled produce.

    Temperatures in °C, humidity in % RH, lives in days from harvest at the recommended
    temperature, respiration in mg CO2 per kg and hour. `other_lives` holds (°C, days) pairs;
    of a chilling-sensitive crop, pairs below `temp_low_c` are days until injury, not decay.
    `name` is the handbook's, `short_name` what growers say; `variant` tells it from another row of
    that short name.
    """

    key: str
    name: str
    group: str
    temp_low_c: float
    temp_high_c: float
    humidity_low_pct: float | None
    humidity_high_pct: float | None
    life_low_days: float
    life_high_days: float
    freezing_c: float | None
    chilling_c: float | None
    other_lives: tuple[tuple[float, float], ...]
    respiration: tuple[tuple[float, float], ...]
    source: str
    evidence: str
    ethylene_production: str = ""
    ethylene_sensitivity: str = ""
    odour_gives: tuple[str, ...] = ()
    odour_takes: tuple[str, ...] = ()
    freezing_class: FreezingClass = FreezingClass.UNKNOWN
    own_days: float | None = None
    short_name: str = ""
    variant: str = ""

    def __hash__(self) -> int:
        # Much is looked up by a crop: to hash all its figures would take longer than to reckon.
        return hash((self.key, self.own_days))

    @property
    def base_days(self) -> float:
        """Life counted with at the recommended temperature: the farm's own, else cautious. [d]"""
        return self.own_days if self.own_days is not None else self.life_low_days

    @property
    def source_titles(self) -> list[str]:
        """The published sources by title, the main one first."""
        return [load_sources()[key] for key in self.source.split(";")]

    @property
    def generous_days(self) -> float:
        """The long end of that life; the farm's own has none, it is one figure. [d]"""
        return self.own_days if self.own_days is not None else self.life_high_days

    @cache  # noqa: B019, they are never given up: there is one a crop
    def with_life(self, days: float) -> "Reference":
        """Return the same crop with the farm's own keeping life at its best temperature. [d]"""
        return replace(self, own_days=days)


@cache
def load_reference() -> Mapping[str, Reference]:
    """Return every crop of the reference table by its key."""
    with _FILE.open(encoding="utf-8", newline="") as file:
        rows = [_reference(row) for row in csv.DictReader(file)]
    return MappingProxyType({row.key: row for row in rows})


@cache
def load_sources() -> Mapping[str, str]:
    """Return the title of each published source by its short key, from SOURCES.md."""
    text = _FILE.with_name("SOURCES.md").read_text(encoding="utf-8")
    table = text.partition("## Source keys")[2].partition("\n\nOdours")[0]
    rows = [line.strip("|").split("|") for line in table.splitlines() if line.startswith("|")]
    return MappingProxyType({row[0].strip(): row[1].strip() for row in rows[2:]})


def _reference(row: dict[str, str]) -> Reference:
    return Reference(
        key=row["key"],
        name=row["name"],
        group=row["group"],
        temp_low_c=float(row["temp_low_c"]),
        temp_high_c=float(row["temp_high_c"]),
        humidity_low_pct=_number(row["rh_low_pct"]),
        humidity_high_pct=_number(row["rh_high_pct"]),
        life_low_days=float(row["life_low_days"]),
        life_high_days=float(row["life_high_days"]),
        freezing_c=_number(row["freezing_c"]),
        chilling_c=_number(row["chilling_c"]),
        other_lives=_pairs(row["other_temps"]),
        respiration=tuple(
            (float(column), float(row[f"resp_{column}"]))
            for column in _RESPIRATION_COLUMNS
            if row[f"resp_{column}"]
        ),
        source=row["source"],
        evidence=row["evidence"],
        ethylene_production=row["ethylene_production"],
        ethylene_sensitivity=row["ethylene_sensitivity"],
        odour_gives=_words(row["odour_gives"]),
        odour_takes=_words(row["odour_takes"]),
        freezing_class=FreezingClass(row["freezing_class"]),
        short_name=row["short_name"],
        variant=row["variant"],
    )


def _words(text: str) -> tuple[str, ...]:
    return tuple(word for word in text.split(";") if word)


def _number(text: str) -> float | None:
    return float(text) if text else None


def _pairs(text: str) -> tuple[tuple[float, float], ...]:
    pairs = (pair.split(":") for pair in text.split(";") if pair)
    return tuple(sorted((float(temperature), float(days)) for temperature, days in pairs))
