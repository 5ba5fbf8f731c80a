"""Where a crop may stand: what the cold, a freezing corner or warmth would do to it."""

from dataclasses import dataclass
from enum import StrEnum

from inventory.keeping.chilling import is_frozen, is_too_cold
from inventory.keeping.life import life_days
from inventory.keeping.reference import FreezingClass, Reference


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
    if cold_spot and not _stands_a_light_freeze(reference):
        return Harm.COLD_SPOT
    return Harm.NONE


def _stands_a_light_freeze(reference: Reference) -> bool:
    # The trade keeps even kale away from a blower: common practice, no source.
    return reference.freezing_class is FreezingClass.LEAST and reference.group != "leafy"
