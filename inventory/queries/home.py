"""The home page: what goes first, what to look at, what came in, what is out at market."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal

from inventory import measures
from inventory.keeping.cooling import Cooling
from inventory.ledger.outings import count_at_market
from inventory.lives.clocks import Clocks
from inventory.lives.reader import coolings_of
from inventory.models import Crop, Farm, Intake, Lot
from inventory.queries.book import BookOrder, plan_book, read_book_and_gone
from inventory.queries.crates import Crate, crates_here, totals
from inventory.queries.days import day_bounds
from inventory.queries.orders import ASKED_FOR, OrderNow, due_soon, untold
from inventory.rotation import Worklist


@dataclass(frozen=True)
class CropInRoom:
    """What there is of a crop. weight: of all of it in the farm's unit, where counted too."""

    crop: Crop
    totals: list[tuple[str, Decimal]]
    crates: int
    oldest: Crate
    weight: Decimal | None


@dataclass(frozen=True)
class CameIn:
    """An intake of today, and how it cools.

    crates: how many came in; those filled from them later are no part of it.
    """

    intake: Intake
    cooling: Cooling | None
    at: datetime
    crates: int

    @property
    def cold_at(self) -> datetime | None:
        """When it is seven-eighths cool."""
        if self.cooling is None:
            return None
        return datetime.fromtimestamp(self.cooling.seven_eighths_at, UTC)

    @property
    def probe_is_due(self) -> bool:
        """Whether it should be cold by now and nobody has measured inside since it should."""
        if self.cooling is None:
            return False
        cold_at, probed_at = self.cooling.seven_eighths_at, self.cooling.probed_at
        return cold_at <= self.at.timestamp() and (probed_at is None or probed_at < cold_at)


@dataclass(frozen=True)
class Rotation:
    sell_first: list[Crate]
    discard: list[Crate]
    kept: list[Crate]
    look: list[Crate]
    held: list[Crate]
    to_put_away: list[Crate]
    crops: list[CropInRoom]
    came_in: list[CameIn]
    at_market: int
    half_got: list[BookOrder]
    untold: list[OrderNow]
    late: list[BookOrder]
    not_found: list[Crate]


def read_rotation(farm: Farm, at: datetime) -> Rotation:
    """Return everything the home page shows. Held crates are absent from every list but theirs."""
    crates = crates_here(farm, at)
    unheld = [crate for crate in crates if not crate.lot.held]
    free = sorted(unheld, key=lambda crate: crate.life.keep_until)
    book, gone = read_book_and_gone(farm, at, at - ASKED_FOR)
    today = at.astimezone(farm.zone).date()
    # What lacks of a crop is asked of orders due soon; no other crop's plan changes it.
    crops = {line.crop_id for order in due_soon(book, today) for line in order.lines}
    plan = plan_book(farm, at, crops, here=crates, book=book)
    on = defaultdict(list)
    for crate in free:
        on[crate.verdict.worklist].append(crate)
    return Rotation(
        sell_first=on[Worklist.SELL_FIRST],
        discard=on[Worklist.DISCARD],
        kept=on[Worklist.KEPT],
        look=on[Worklist.LOOK],
        held=[crate for crate in crates if crate.lot.held],
        to_put_away=[crate for crate in free if crate.lot.state == Lot.State.TO_PUT_AWAY],
        crops=_by_crop(unheld, farm.weight_unit),
        came_in=_came_in(farm, at, crates),
        at_market=count_at_market(),
        not_found=[crate for crate in crates if crate.code in plan.not_found],
        half_got=[order for order in plan.orders if order.is_begun],
        untold=untold(plan, gone),
        late=[order for order in plan.orders if order.due < plan.today],
    )


def _came_in(farm: Farm, at: datetime, here: list[Crate]) -> list[CameIn]:
    intakes = intakes_of_day(farm, at)
    crates = _crates_of(intakes)
    coolings = _coolings(intakes, crates, farm, here[0].clocks if here else None)
    return [
        CameIn(intake, coolings.get(intake.pk), at, len(crates[intake.pk])) for intake in intakes
    ]


def _crates_of(intakes: list[Intake]) -> dict[int, list[str]]:
    """Return the codes of the crates in which each intake came."""
    came = Lot.objects.filter(intake__in=intakes, parent_links=None).order_by("pk")
    found: dict[int, list[str]] = defaultdict(list)
    for intake, code in came.values_list("intake", "pk"):
        found[intake].append(code)
    return found


def _coolings(
    intakes: list[Intake], crates: dict[int, list[str]], farm: Farm, known: Clocks | None
) -> dict[int, Cooling]:
    """Return how intakes cool: from these clocks, where their first crates are among them."""
    found = {}
    for intake in intakes:
        first = next(iter(crates[intake.pk]), "")
        if known and first in known.records and not intake.came_cold:
            found[intake.pk] = known.cooling(first)
    return found | coolings_of([one for one in intakes if one.pk not in found], farm)


def _by_crop(crates: list[Crate], weight_unit: str) -> list[CropInRoom]:
    """Return what there is of each crop, by name. crates: oldest first within a crop."""
    groups: dict[int, list[Crate]] = defaultdict(list)
    for crate in crates:
        groups[crate.lot.crop_id].append(crate)
    rows = [_in_room(group, weight_unit) for group in groups.values()]
    return sorted(rows, key=lambda row: row.crop.shown_name.lower())


def _in_room(crates: list[Crate], weight_unit: str) -> CropInRoom:
    crop = crates[0].lot.crop
    sums = totals(((crate.lot.unit, crate.lot.quantity) for crate in crates), weight_unit)
    return CropInRoom(
        crop=crop,
        totals=sums,
        crates=len(crates),
        oldest=crates[0],
        weight=_weight(sums, crop.piece_weight_kg, weight_unit),
    )


def _weight(
    sums: list[tuple[str, Decimal]], each_kg: Decimal | None, weight_unit: str
) -> Decimal | None:
    """Return counts and weights as one weight; None if nothing is counted or each is unknown."""
    if each_kg is None or all(measures.is_weight(unit) for unit, _quantity in sums):
        return None
    each = measures.convert_weight(each_kg, "kg", weight_unit)
    return sum(
        (quantity if measures.is_weight(unit) else quantity * each for unit, quantity in sums),
        Decimal(0),
    )


def intakes_of_day(farm: Farm, at: datetime) -> list[Intake]:
    """Return the intakes of the farm's day that still stand, latest first."""
    start, end = day_bounds(farm, at)
    return list(
        Intake.objects.filter(arrived_at__gte=start, arrived_at__lt=end)
        .filter(action__undone_by__isnull=True)
        .select_related("crop", "source")
        .order_by("-arrived_at")
    )
