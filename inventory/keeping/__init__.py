"""How long produce keeps: published storage figures and the arithmetic on them.

Everything here takes plain values and returns plain values; it knows no clock and no database.
Figures are estimates of quality, never of food safety.
"""

from inventory.keeping.chilling import sound_days
from inventory.keeping.curve import AgingCurve
from inventory.keeping.life import life_days, life_used, rate
from inventory.keeping.log import RoomLog
from inventory.keeping.placing import Harm, Placing, placing
from inventory.keeping.reference import FreezingClass, Reference, load_reference

__all__ = [
    "AgingCurve",
    "FreezingClass",
    "Harm",
    "Placing",
    "Reference",
    "RoomLog",
    "life_days",
    "life_used",
    "load_reference",
    "placing",
    "rate",
    "sound_days",
]
