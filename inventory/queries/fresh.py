"""How long produce will keep that is not cut yet: reckoned with the field, our room and the way."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf

from inventory.keeping import Reference, placing, rate
from inventory.keeping.chilling import injury_speed
from inventory.keeping.cooling import DEFAULT_HALF_COOLING_H, extra_aging_days
from inventory.keeping.log import HOUR_S
from inventory.lives.stays import FIELD_C, NOT_GIVEN_CUT_S, STALL_C
from inventory.models import Crop, Outlet, Room
from inventory.models.buyers import UNKNOWN_FRIDGE_C
from inventory.queries.crates import FridgeDays, days_in_fridge


@dataclass(frozen=True)
class Way:
    """How produce gets to a buyer and stands there. [°C, h]"""

    fridge: float = UNKNOWN_FRIDGE_C
    hours: float = 0.0


def way_to(outlet: Outlet | None) -> Way:
    return Way(outlet.fridge, float(outlet.way_hours)) if outlet else Way()


def best_room_c(crop: Crop, rooms: Iterable[Room]) -> float:
    """Return what the room is kept at in which a crop keeps longest. [°C]"""
    kept = [float(room.target_c) for room in rooms]
    judged = {celsius: placing(crop.reference, celsius) for celsius in kept}
    return max(kept, key=lambda celsius: (judged[celsius].fits, judged[celsius].life_days))


def fresh_days(crop: Crop, room_c: float, waits: int, way: Way) -> FridgeDays:
    """Return how long it keeps at a buyer's when it gets there some days after it was cut.

    It is reckoned as a crate of which nobody says more: two hours in the field, cooled as crates
    usually do, then in our room. Below zero where it would not last until then.
    """
    reference = crop.reference
    used = _aged(reference, room_c, waits, way) / reference.base_days
    hurt = waits * injury_speed(reference, room_c)
    if used >= 1 or hurt >= 1:
        return FridgeDays(-1, way.fridge, in_fridge=True)
    return days_in_fridge(reference, way.fridge, used, hurt)


def _aged(reference: Reference, room_c: float, waits: int, way: Way) -> float:
    """Return how much it ages until it gets there, in days at the best temperature."""
    field = NOT_GIVEN_CUT_S / HOUR_S / 24 * rate(reference, FIELD_C)
    cooling = extra_aging_days(reference, FIELD_C, room_c, DEFAULT_HALF_COOLING_H, inf)
    road = way.hours / 24 * rate(reference, STALL_C)
    return field + cooling + waits * rate(reference, room_c) + road
