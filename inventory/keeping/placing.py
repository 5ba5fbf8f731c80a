"""Where a crop may stand: what the cold, a freezing corner or warmth would do to it."""

from dataclasses import dataclass
from enum import StrEnum

from inventory.keeping.chilling import is_frozen, is_too_cold
from inventory.keeping.life import life_days
from inventory.keeping.reference import Reference

# Least hurt by a light freeze: handbook 66, pages 65-66, without the leafy crops, which the
# trade keeps away from a blower all the same (common practice, no source).
STANDS_A_LIGHT_FREEZE = frozenset(
    {
        "beet-topped",
        "brussels-sprouts",
        "cabbage-late",
        "kohlrabi",
        "parsnip",
        "rutabaga",
        "turnip",
    }
)


class Harm(StrEnum):
    """What a place does to a crop: its air would freeze it, it is colder than the crop stands,
    or it is a known freezing corner."""

    NONE = ""
    FREEZES = "freezes"
    CHILLS = "chills"
    COLD_SPOT = "cold-spot"


@dataclass(frozen=True)
class Placing:
    """Whether a place may be suggested for a crop, why not, and how long it keeps there."""

    harm: Harm
    life_days: float

    @property
    def fits(self) -> bool:
        return not self.harm


def placing(reference: Reference, temperature_c: float, cold_spot: bool = False) -> Placing:
    """Return what a place at this temperature does to the crop. [°C]

    Example: basil (lowest safe 12 °C) in a room at 2 °C → Placing(Harm.CHILLS, 7.0)
    """
    return Placing(
        harm=_harm(reference, temperature_c, cold_spot),
        life_days=life_days(reference, temperature_c),
    )


def _harm(reference: Reference, temperature_c: float, cold_spot: bool) -> Harm:
    if is_frozen(reference, temperature_c):
        return Harm.FREEZES
    if is_too_cold(reference, temperature_c):
        return Harm.CHILLS
    if cold_spot and reference.key not in STANDS_A_LIGHT_FREEZE:
        return Harm.COLD_SPOT
    return Harm.NONE
