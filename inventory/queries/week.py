"""The week: what came in, where it went, what was wasted, and whether that adds up."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from functools import cached_property
from typing import NamedTuple

from django.db.models import Q

from inventory import measures
from inventory.learning import Flow, share, standing
from inventory.ledger.weeks import DAYS, CalendarChanged, count_up_to
from inventory.models import Chore, Crop, Farm, Movement, WeekNet, WeekSum
from inventory.models.crops import Total

_KIND = Movement.Kind
_PURPOSE = Movement.Purpose
_OUTCOME = Movement.Outcome
ZERO = Decimal(0)
WEEKS = 8  # are drawn side by side
MOST = 3  # of the crops that were wasted stand on the first screen
_COLUMN_OF_PURPOSE: dict[str, str] = {
    _PURPOSE.ORDER: "kitchens",
    _PURPOSE.MARKET: "at_market",
    _PURPOSE.GIVEN: "given",
    _PURPOSE.OWN_USE: "own_use",
    _PURPOSE.SENT_BACK: "sent_back",
}
_COLUMN_OF_OUTCOME: dict[str, str] = {
    _OUTCOME.SOLD: "stalls",
    _OUTCOME.GIVEN: "given",
    _OUTCOME.LOST: "lost",
}
_USED = (_PURPOSE.ORDER, _PURPOSE.GIVEN, _PURPOSE.OWN_USE)
_CAME = ("harvested", "bought", "counted")
_WENT = (
    "kitchens", "stalls", "given", "own_use", "sent_back", "lost", "weight_lost", "at_market",
)  # fmt: skip


@dataclass(frozen=True)
class Line:
    """One figure of a crop's week, signed as it adds up: what left is negative.

    kg: the same in kg, None where nobody said what one weighs.
    """

    figure: str
    amount: Decimal
    kg: Decimal | None
    reason: str = ""
    destination: str = ""


@dataclass
class WeekRow:
    """One crop in one unit. All in that unit; `counted` may be negative.

    kitchens: sold on orders. stalls: sold at a market. What is worked out of these is asked for
    when all is booked.
    """

    crop: Crop
    unit: str
    opening: Decimal = ZERO
    harvested: Decimal = ZERO
    bought: Decimal = ZERO
    kitchens: Decimal = ZERO
    stalls: Decimal = ZERO
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
    def sold(self) -> Decimal:
        return self.kitchens + self.stalls

    @property
    def discarded(self) -> Decimal:
        return sum(self.discards.values(), ZERO)

    @cached_property
    def lines(self) -> list[Line]:
        """Every figure between opening and closing that is not nothing, in their order."""
        came = [self._line(name, getattr(self, name)) for name in _CAME]
        went = [self._line(name, -getattr(self, name)) for name in _WENT]
        thrown = [
            self._line("discarded", -amount, *way)
            for way, amount in sorted(self.discards.items(), key=lambda item: -item[1])
        ]
        at = _WENT.index("lost")
        return [line for line in (*came, *went[:at], *thrown, *went[at:]) if line.amount]

    def _line(self, figure: str, amount: Decimal, *way: str) -> Line:
        return Line(figure, amount, amount * self.kg_of_one if self.kg_of_one else None, *way)

    @cached_property
    def flow(self) -> Flow:
        """The same as the standard's balance has it."""
        return Flow(
            opening=self.opening,
            came_in=self.harvested + self.bought,
            sold=self.sold,
            given=self.given,
            own_use=self.own_use,
            thrown=self.discarded + self.lost,
            missing=max(-self.counted, ZERO),
            otherwise=self.sent_back + self.weight_lost + self.at_market - max(self.counted, ZERO),
            closing=self.closing,
        )

    @property
    def wasted(self) -> Decimal:
        """Discarded, lost at market, and missing at a count."""
        return self.flow.wasted

    @property
    def waste_percent(self) -> Decimal | None:
        """Waste in % of what left the room: sold, given, own use and wasted; None if nothing.

        What went back to its supplier is none of these.
        """
        return self.flow.waste_of_left

    @property
    def difference(self) -> Decimal:
        """What does not add up: closing less everything that should lead to it."""
        return self.flow.error

    @cached_property
    def kg_of_one(self) -> Decimal | None:
        """What one of its unit weighs; None where nobody said so."""
        return self.crop.kg_of_one(self.unit)

    @property
    def is_about(self) -> bool:
        """Whether it was counted, so that its weight is only about so much."""
        return measures.is_count(self.unit)

    @cached_property
    def flow_kg(self) -> Flow:
        """Its balance in kg: nothing where nobody said what one weighs."""
        return self.flow.times(self.kg_of_one or ZERO)

    @property
    def wasted_money(self) -> Decimal | None:
        """What was wasted at the farm's price; None where that is not set for this unit."""
        price = self.crop.price
        return None if price is None or self.unit != self.crop.unit else self.wasted * price


@dataclass(frozen=True)
class Wasted:
    """How much of a crop was wasted. part: of what was wasted most, 0 to 1."""

    crop: Crop
    kg: Decimal
    money: Decimal | None
    is_about: bool
    part: float


@dataclass(frozen=True)
class Discarded:
    """What went one way for one reason. destination: "" where nobody said which way."""

    destination: str
    reason: str
    kg: Decimal
    is_about: bool


@dataclass(frozen=True)
class Week:
    """A week and those before it. rows: what was wasted most first.

    trend: the balances in kg of so many weeks, by their first days; the last is this one's. crops:
    every crop by its key, for what else is told of the week.
    """

    first: date
    rows: list[WeekRow]
    trend: dict[date, Flow]
    crops: dict[int, Crop] = field(default_factory=dict)

    @property
    def last(self) -> date:
        return self.first + DAYS - timedelta(days=1)

    @property
    def flow(self) -> Flow:
        """All crops together in kg, but for those nobody weighed."""
        return self.trend[self.first]

    @property
    def thrown_of_left(self) -> Decimal | None:
        """What was thrown away alone, without what is missing, in % of what left."""
        return share(self.flow.thrown, self.flow.left)

    @property
    def is_about(self) -> bool:
        return any(row.is_about and row.kg_of_one and row.flow.left for row in self.rows)

    @property
    def unweighed(self) -> list[WeekRow]:
        """What left, but nobody said what one of it weighs: it is in no sum of weights."""
        return [row for row in self.rows if row.kg_of_one is None and row.flow.left]

    @property
    def wrong(self) -> list[WeekRow]:
        return [row for row in self.rows if row.difference]

    @property
    def is_priced(self) -> bool:
        """Whether everything that was wasted has a price."""
        wasted = [row for row in self.rows if row.wasted]
        return bool(wasted) and all(row.wasted_money is not None for row in wasted)

    def worst(self, *, by_money: bool) -> list[Wasted]:
        """Return the crops that were wasted most, by weight or by money."""
        by_crop: dict[int, list[WeekRow]] = defaultdict(list)
        for row in self.rows:
            if row.wasted and (by_money or row.kg_of_one):
                by_crop[row.crop.pk].append(row)
        found = [_add_up(rows, by_money) for rows in by_crop.values()]
        found.sort(key=lambda one: -((one.money or ZERO) if by_money else one.kg))
        most = found[0] if found else None
        return [_beside(one, most) for one in found[:MOST] if most]

    @property
    def discarded(self) -> list[Discarded]:
        """Where what was thrown away went and why, the best use first."""
        sums: dict[tuple[str, str], list[tuple[Decimal, bool]]] = defaultdict(list)
        for row in self.rows:
            one = row.kg_of_one or ZERO
            for (reason, destination), amount in row.discards.items():
                sums[destination, reason].append((amount * one, row.is_about))
            sums["", "lost"].append((row.lost * one, row.is_about))
        found = [
            Discarded(
                *way,
                sum((kg for kg, _about in parts), ZERO),
                any(about for kg, about in parts if kg),
            )
            for way, parts in sums.items()
        ]
        weighed = [one for one in found if one.kg]
        return sorted(weighed, key=lambda one: (standing(one.destination), -one.kg))


def _add_up(rows: list[WeekRow], by_money: bool) -> Wasted:
    kg = sum((row.flow_kg.wasted for row in rows), ZERO)
    money = sum((row.wasted_money or ZERO for row in rows), ZERO) if by_money else None
    return Wasted(rows[0].crop, kg, money, any(row.is_about for row in rows), 1)


def _beside(one: Wasted, most: Wasted) -> Wasted:
    part = one.kg / most.kg if one.money is None else one.money / (most.money or 1)
    return Wasted(one.crop, one.kg, one.money, one.is_about, float(part))


def read_week(farm: Farm, first_day: date) -> list[WeekRow]:
    """Return a row per crop and unit that was in the house or moved in this week."""
    return read_weeks(farm, first_day).rows


def read_weeks(farm: Farm, first_day: date) -> Week:
    """Return a week of the farm, and what of those before it is drawn beside it."""
    try:
        count_up_to(farm, first_day)
    except CalendarChanged:
        farm = Farm.objects.get()
        return read_weeks(farm, farm.week_start_of(first_day))
    crops = Crop.objects.in_bulk()
    rows: dict[tuple[int, str], WeekRow] = {}

    def row(crop_id: int, unit: str) -> WeekRow:
        return rows.setdefault((crop_id, unit), WeekRow(crops[crop_id], unit))

    earlier = WeekNet.objects.filter(week__lt=first_day).values_list("crop_id", "unit")
    for crop_id, unit, opening in earlier.annotate(opening=Total("change")).order_by():
        if opening:
            row(crop_id, unit).opening = row(crop_id, unit).closing = opening
    for crop_id, unit, *found in WeekSum.objects.filter(week=first_day).values_list(*_BOOKED):
        _book(row(crop_id, unit), Booked(*found))
    trend = _read_trend(crops, first_day)
    trend[first_day] = sum((row.flow_kg for row in rows.values()), Flow())
    return Week(first_day, sorted(rows.values(), key=_worst_first), trend, crops)


# Put together once, asked anew by every look at the week.
_FLOWS = (
    WeekSum.objects.values_list("week_id", "crop_id", "unit")
    .annotate(
        out=Total("amount", filter=Q(kind=_KIND.OUT, purpose__in=_USED)),
        back=Total("amount", filter=Q(kind=_KIND.BACK, purpose__in=_USED)),
        settled=Total("amount", filter=Q(kind=_KIND.SETTLED) & ~Q(outcome=_OUTCOME.LOST)),
        lost=Total("amount", filter=Q(kind=_KIND.SETTLED, outcome=_OUTCOME.LOST)),
        discarded=Total("change", filter=Q(kind=_KIND.DISCARDED)),
        counted=Total("change", filter=Q(kind=_KIND.COUNTED)),
    )
    .order_by()
)


def _read_trend(crops: dict[int, Crop], until: date) -> dict[date, Flow]:
    """Return what left in the weeks before, in kg: a row of the database a week, crop and unit.

    What was used is all told as sold; what came in and stayed is not told.
    """
    first = until - DAYS * (WEEKS - 1)
    weeks = {first + DAYS * number: Flow() for number in range(WEEKS)}
    for week, crop_id, unit, *parts in _FLOWS.filter(week__gte=first, week__lt=until):
        out, back, settled, lost, discarded, counted = (part or ZERO for part in parts)
        one = crops[crop_id].kg_of_one(unit) or ZERO
        weeks[week] += Flow(
            sold=(out - back + settled) * one,
            thrown=(lost - discarded) * one,
            missing=max(-counted, ZERO) * one,
        )
    return weeks


def _worst_first(row: WeekRow) -> tuple:
    """By the weight that was wasted, then what was wasted unweighed, then by name."""
    return (-row.flow_kg.wasted, -row.wasted, row.crop.shown_name.lower(), row.unit)


class Booked(NamedTuple):
    """One sum of the ledger, as plain values."""

    kind: str
    purpose: str
    outcome: str
    reason: str
    destination: str
    bought: bool
    change: Decimal
    amount: Decimal


_BOOKED = ("crop_id", "unit", *Booked._fields)


def _book(row: WeekRow, found: Booked) -> None:
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
