"""The farm in names and figures: who is there, what grows, who buys what, on which days.

All of it is made up. Crops go by their keys, weekdays are numbers from Monday, 0.
"""

from datetime import time, timedelta
from decimal import Decimal
from typing import NamedTuple

from inventory.actions.setup import Shelving

WEEKS = 10
FARM, TIME_ZONE = "Brindlemoor", "America/New_York"
ROOMS = [
    Shelving("Cold room", Decimal(4), racks=4, shelves=4, capacity=8),
    Shelving("Warm corner", Decimal(13), racks=1, shelves=3, capacity=6, damp=False),
]
COLD_RACK, COLD_SHELF = "A", 3
CONTAINERS_KG = {"Bulb crate": Decimal("1.9"), "Waxed carton": Decimal("0.8")}

OWNER = "Odile"
CREW = {"Tomas": "en", "Inés": "es", "Wren": "en"}

DELIVERY_DAY, ORDER_DAY, MARKET_DAY, REVIEW_DAY = 1, 3, 5, 6
CUT_DAYS = "024"
WASTE_AIM_PERCENT = 25


class Harvest(NamedTuple):
    """What is cut of a crop on each of its days, and where."""

    unit: str
    per_crate: int | str
    crates: int
    block: str
    days: tuple[int, ...]


HARVESTS = {
    "kale": Harvest("bunch", 12, 4, "Bed 3", (0, 2, 4)),
    "lettuce-romaine": Harvest("head", 18, 4, "Bed 7", (0, 4)),
    "salad-mix": Harvest("kg", "2.5", 3, "Tunnel 1", (0, 2, 4)),
    "spinach": Harvest("kg", 4, 3, "Bed 12", (2,)),
    "carrot-bunched": Harvest("bunch", 20, 2, "Bed 5", (2, 4)),
    "beet-topped": Harvest("kg", 15, 1, "Long field", (0, 2)),
    "carrot-topped": Harvest("kg", 18, 1, "Long field", (2,)),
    "basil": Harvest("bunch", 10, 1, "Tunnel 2", (2,)),
    "tomato-ripe": Harvest("kg", 8, 2, "Tunnel 2", (0, 4)),
}
WEIGHTS_KG = {"kale": "0.25", "lettuce-romaine": "0.4", "carrot-bunched": "0.5"}
SPRAYED_BLOCK, SPRAYED_DAYS = "Bed 9", 6

SUPPLIER, LEAD_DAYS = "Highledge Orchard", 2
BOUGHT, CASE_KG, CASES, CASE_COST = "apple", Decimal("18.1"), 3, Decimal(34)
ALSO_GROWN = "onion-bulb"

LANTERN, INN, KITCHEN = "Lantern House, Tamberlow", "Tamberlow Inn", "Brindle Kitchen"
# What each gets on the day of orders, every week.
ORDERS = {
    LANTERN: {"kale": 24, "lettuce-romaine": 30, "salad-mix": 3, "carrot-topped": 15},
    INN: {"kale": 18, "spinach": 6, "beet-topped": 12, "basil": 7, "apple": 18},
    KITCHEN: {"kale": 12, "carrot-bunched": 18, "tomato-ripe": 8, "salad-mix": 2},
}
BUYERS: dict[str, dict[str, object]] = {
    LANTERN: {
        "minimum_days": 5, "delivery_days": "3", "by_time": time(11), "freshest": True,
        "address": "2 Lantern Row, Tamberlow", "telephone": "555-0142",
    },
    INN: {
        "minimum_days": 4, "delivery_days": "13", "by_time": time(9), "cut_off_days": 1,
        "address": "1 Market Cross, Tamberlow", "telephone": "555-0117",
    },
    KITCHEN: {
        "minimum_days": 3, "delivery_days": "3", "by_time": time(10, 30), "fridge_c": Decimal(4),
        "address": "Mill Lane, Brindle", "telephone": "555-0163",
    },
}  # fmt: skip
TAKERS = {LANTERN: "Perpetua", INN: "Osric", KITCHEN: "Delfina"}
PANTRY = "Tamberlow food pantry"

MARKET = "Saturday market"
TO_MARKET = {
    "lettuce-romaine": 5, "kale": 4, "carrot-bunched": 3, "salad-mix": 4, "tomato-ripe": 3,
    "spinach": 1, "beet-topped": 1,
}  # fmt: skip

# The afternoon the power failed: how long ago, from when, for how long, and how warm it was.
FAILED_DAYS_AGO, FAILED_AT = 8, (13, 20)
FAILED_FOR, FAILED_C = timedelta(hours=3, minutes=50), 9.0

# What is out or wanted when a newcomer comes. The kitchen's order was changed meanwhile.
MARKET_TODAY = {"carrot-bunched": 1, "salad-mix": 1}
LANTERN_TODAY = {"kale": 30, "beet-topped": 10, "basil": 60}
KITCHEN_SAID, KITCHEN_CHANGED = {"salad-mix": 2, "kale": 12}, {"salad-mix": 4, "kale": 12}
