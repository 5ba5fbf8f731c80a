"""What could still be promised for a day: sound stock, and what the field should give by then."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import ROUND_DOWN, Decimal

from inventory import measures
from inventory.models import Crop, Farm, Outlet, Room
from inventory.queries.book import BookPlan, plan_book
from inventory.queries.crates import Crate, FridgeDays
from inventory.queries.cutting import Cutting, harvest_days, read_cutting, tags_of
from inventory.queries.field import FieldNow
from inventory.queries.fresh import Way, best_room_c, fresh_days, way_to
from inventory.queries.ledger import safe_cell
from inventory.rotation.cutting import last_cut_day, sound_of

ZERO = Decimal(0)
TENTH = Decimal("0.1")
# What would not keep for one whole day there is offered to nobody. Ours.
LEAST_DAYS = 1


@dataclass(frozen=True)
class Part:
    """How much, and how long the least of it keeps there. cut_on: of what is still to be cut."""

    quantity: Decimal
    keeps: FridgeDays
    cut_on: date | None = None


@dataclass(frozen=True)
class Available:
    """A crop that could be promised, in one unit: what is here, and what is to be cut."""

    crop: Crop
    unit: str
    here: Part | None = None
    to_cut: Part | None = None


@dataclass(frozen=True)
class Availability:
    """All that could be promised for a day, to one buyer where one is named."""

    farm: Farm
    day: date
    outlet: Outlet | None
    rows: tuple[Available, ...]

    @property
    def fridge(self) -> float:
        """What the days are reckoned with. [°C]"""
        return way_to(self.outlet).fridge


def read_availability(
    farm: Farm, at: datetime, day: date, outlet: Outlet | None = None
) -> Availability:
    """Return what nobody is promised and this buyer may have, that keeps as long as they need."""
    plan = plan_book(farm, at)
    wanted = _Wanted(farm, day, outlet)
    here = wanted.here(plan)
    to_cut = wanted.to_cut(read_cutting(farm, at, plan))
    rows = [
        Available(crop, unit, here.get((crop, unit)), to_cut.get((crop, unit)))
        for crop, unit in here.keys() | to_cut.keys()
    ]
    rows.sort(key=lambda row: (row.crop.shown_name.lower(), row.unit))
    return Availability(farm, day, outlet, tuple(rows))


def usual_day(outlet: Outlet | None, tomorrow: date) -> date:
    """Return the day a list is for where nobody says one: their next delivery, else tomorrow."""
    return outlet.first_delivery(tomorrow) if outlet else tomorrow


Parts = dict[tuple[Crop, str], Part]


class _Wanted:
    """What one buyer may have of what is here, and of what stands in the field."""

    def __init__(self, farm: Farm, day: date, outlet: Outlet | None):
        self._farm, self._day = farm, day
        self._way: Way = way_to(outlet)
        self._refused = outlet.refused_tags if outlet else frozenset()
        self._whole = outlet is not None and outlet.whole_crates
        self._minimum = max(outlet.days_wanted(day) if outlet else 0, LEAST_DAYS)

    def here(self, plan: BookPlan) -> Parts:
        return _added_up(
            ((crate.lot.crop, crate.lot.unit), Part(amount, keeps))
            for crate in plan.crates
            for amount, keeps in self._of_crate(crate, plan.free[crate.code])
        )

    def _of_crate(self, crate: Crate, free: Decimal) -> Iterator[tuple[Decimal, FridgeDays]]:
        if free <= 0 or (self._whole and free < crate.lot.quantity):
            return
        keeps = crate.days_on_arrival(self._day, self._way.fridge, self._way.hours)
        if keeps.days >= self._minimum and not crate.tags & self._refused:
            yield free, keeps

    def to_cut(self, cutting: Cutting) -> Parts:
        rooms = list(Room.objects.all())
        return _added_up(
            ((now.crop, now.unit), part)
            for now in cutting.ground
            for part in self._of_block(now, cutting, rooms)
        )

    def _of_block(self, now: FieldNow, cutting: Cutting, rooms: list[Room]) -> Iterator[Part]:
        left = now.left - cutting.promised.get(now.key, ZERO)
        free = _plainly(sound_of(left, cutting.habits[now.crop.pk, now.unit]), now.unit)
        waits = self._waits(now, cutting.today)
        if free <= 0 or waits is None or tags_of(now.block) & self._refused:
            return
        keeps = fresh_days(now.crop, best_room_c(now.crop, rooms), waits.days, self._way)
        if keeps.days >= self._minimum:
            yield Part(free, keeps, cut_on=self._day - waits)

    def _waits(self, now: FieldNow, today: date) -> timedelta | None:
        """Return how long before the day a block would be cut; None if it can't be by then."""
        ready = max(now.from_day, now.block.not_before or now.from_day)
        first, last = (ready - today).days, (now.until - today).days
        days = [day for day in harvest_days(self._farm, today) if first <= day <= last]
        cut = last_cut_day((self._day - today).days, days)
        return None if cut is None else self._day - today - timedelta(days=cut)


def _added_up(parts: Iterable[tuple[tuple[Crop, str], Part]]) -> Parts:
    """Return the sum of each crop and unit, with the days of what keeps shortest."""
    found: dict[tuple[Crop, str], list[Part]] = defaultdict(list)
    for key, part in parts:
        found[key].append(part)
    return {
        key: Part(
            sum((part.quantity for part in some), ZERO),
            min((part.keeps for part in some), key=lambda keeps: keeps.days),
            max((part.cut_on for part in some if part.cut_on), default=None),
        )
        for key, some in found.items()
    }


CSV_COLUMNS = ("crop", "unit", "here", "days", "to be cut", "cut on", "days of what is cut")


def csv_rows(found: Availability) -> Iterator[list[str]]:
    """Yield the exported table, one crop and unit a row."""
    yield list(CSV_COLUMNS)
    for row in found.rows:
        cut_on = row.to_cut.cut_on if row.to_cut else None
        yield [
            safe_cell(row.crop.shown_name),
            row.unit,
            *_cells(row.here),
            _cells(row.to_cut)[0],
            cut_on.isoformat() if cut_on else "",
            _cells(row.to_cut)[1],
        ]


def _cells(part: Part | None) -> tuple[str, str]:
    return (measures.plain(part.quantity), str(part.keeps.days)) if part else ("0", "")


def _plainly(quantity: Decimal, unit: str) -> Decimal:
    """Return an estimate to the tenth, never rounded up."""
    return quantity.quantize(TENTH, rounding=ROUND_DOWN) if measures.is_weight(unit) else quantity
