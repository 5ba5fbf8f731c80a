"""The week: what came in, where it went, what is left, and whether that adds up."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from inventory.ledger.weeks import CalendarChanged, count_up_to
from inventory.models import Chore, Crop, Farm, Movement, WeekNet, WeekSum
from inventory.models.crops import Total

_KIND = Movement.Kind
_PURPOSE = Movement.Purpose
_OUTCOME = Movement.Outcome
ZERO = Decimal(0)
_COLUMN_OF_PURPOSE: dict[str, str] = {
    _PURPOSE.ORDER: "sold",
    _PURPOSE.MARKET: "at_market",
    _PURPOSE.GIVEN: "given",
    _PURPOSE.OWN_USE: "own_use",
    _PURPOSE.SENT_BACK: "sent_back",
}
_COLUMN_OF_OUTCOME: dict[str, str] = {
    _OUTCOME.SOLD: "sold",
    _OUTCOME.GIVEN: "given",
    _OUTCOME.LOST: "lost",
}


@dataclass
class WeekRow:
    """One crop in one unit. All in that unit; `counted` may be negative."""

    crop: Crop
    unit: str
    opening: Decimal = ZERO
    harvested: Decimal = ZERO
    bought: Decimal = ZERO
    sold: Decimal = ZERO
    given: Decimal = ZERO
    own_use: Decimal = ZERO
    sent_back: Decimal = ZERO
    returned: Decimal = ZERO
    lost: Decimal = ZERO
    weight_lost: Decimal = ZERO
    counted: Decimal = ZERO
    at_market: Decimal = ZERO
    closing: Decimal = ZERO
    discards: dict[tuple[str, str], Decimal] = field(default_factory=lambda: defaultdict(Decimal))

    @property
    def discarded(self) -> Decimal:
        return sum(self.discards.values(), ZERO)

    @property
    def discard_list(self) -> list[tuple[str, str, Decimal]]:
        """(reason, destination, amount), most first, in words."""
        rows = sorted(self.discards.items(), key=lambda item: -item[1])
        return [
            (
                str(Movement.Reason(reason).label),
                str(Movement.Destination(destination).label),
                amount,
            )
            for (reason, destination), amount in rows
        ]

    @property
    def wasted(self) -> Decimal:
        """Discarded, lost at market, and missing at a count."""
        return self.discarded + self.lost + max(-self.counted, ZERO)

    @property
    def waste_percent(self) -> Decimal | None:
        """Waste in % of what left the room: sold, given, own use and wasted; None if nothing.

        What went back to its supplier is none of these.
        """
        left = self.sold + self.given + self.own_use + self.wasted
        return round(self.wasted * 100 / left, 1) if left > 0 else None

    @property
    def difference(self) -> Decimal:
        """What does not add up: closing less everything that should lead to it."""
        out = (
            self.sold
            + self.given
            + self.own_use
            + self.sent_back
            + self.lost
            + self.weight_lost
            + self.discarded
            + self.at_market
        )
        return self.closing - (self.opening + self.harvested + self.bought + self.counted - out)


def read_week(farm: Farm, first_day: date) -> list[WeekRow]:
    """Return a row per crop and unit that was in the house or moved in this week."""
    try:
        count_up_to(farm, first_day)
    except CalendarChanged:
        farm = Farm.objects.get()
        return read_week(farm, farm.week_start_of(first_day))
    rows: dict[tuple[int, str], WeekRow] = {}
    crops = {crop.pk: crop for crop in Crop.objects.all()}

    def row(crop_id: int, unit: str) -> WeekRow:
        return rows.setdefault((crop_id, unit), WeekRow(crops[crop_id], unit))

    earlier = WeekNet.objects.filter(week__lt=first_day).values_list("crop_id", "unit")
    for crop_id, unit, opening in earlier.annotate(opening=Total("change")).order_by():
        if opening:
            row(crop_id, unit).opening = row(crop_id, unit).closing = opening
    for found in WeekSum.objects.filter(week=first_day):
        _book(row(found.crop_id, found.unit), found)
    return sorted(rows.values(), key=lambda found: (found.crop.shown_name.lower(), found.unit))


def _book(row: WeekRow, found: WeekSum) -> None:
    """Add one sum of the ledger to the columns it belongs to."""
    kind, change, amount = found.kind, found.change, found.amount
    row.closing += change
    if kind == _KIND.BROUGHT_IN:
        row.bought += change if found.bought else ZERO
        row.harvested += ZERO if found.bought else change
    elif kind in (_KIND.OUT, _KIND.BACK):
        signed = amount if kind == _KIND.OUT else -amount
        column = _COLUMN_OF_PURPOSE.get(found.purpose)
        if column:
            setattr(row, column, getattr(row, column) + signed)
        row.returned += amount if kind == _KIND.BACK else ZERO
    elif kind == _KIND.SETTLED:
        row.at_market -= amount
        column = _COLUMN_OF_OUTCOME[found.outcome]
        setattr(row, column, getattr(row, column) + amount)
    elif kind == _KIND.COUNTED:
        row.counted += change
    elif kind == _KIND.DISCARDED:
        row.discards[found.reason, found.destination] -= change
    elif kind == _KIND.WEIGHT_LOST:
        row.weight_lost -= change


def ledger_differs() -> bool:
    """Whether last night's check found stored amounts that differ from what happened."""
    return Chore.objects.filter(pk="ledger").exclude(found="").exists()
