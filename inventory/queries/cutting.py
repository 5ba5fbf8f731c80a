"""What is to be cut, and bought, for what the plan of the book lacks."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction

from django.db.models import Exists, OuterRef

from inventory import measures
from inventory.models import Crop, Farm, Intake, Lot, Movement, Outlet, Room, Source
from inventory.models.crops import Total
from inventory.models.field import ESTIMATE_DAYS
from inventory.queries.book import BookLine, BookOrder, BookPlan, plan_book
from inventory.queries.days import day_bounds
from inventory.queries.field import FieldNow, read_field
from inventory.queries.fresh import best_room_c, fresh_days, way_to
from inventory.queries.intakes import last_time, last_times
from inventory.rotation.cutting import Cut, Habit, Lack, Stand, cut_list, loss_of, sound_of

HARVESTS = 5  # of which the loss of a crop is read
ZERO = Decimal(0)

CropUnit = tuple[int, str]


@dataclass(frozen=True)
class ToCut:
    """One crop to be cut on one block on one day. each: what a crate of it usually holds."""

    day: date
    crop: Crop
    block: Source
    unit: str
    quantity: Decimal
    sound: Decimal
    crates: int | None
    each: Decimal | None
    orders: tuple[BookOrder, ...]

    @property
    def outlets(self) -> list[Outlet]:
        """Whom it is for, those due first first."""
        orders = sorted(self.orders, key=lambda order: (order.due, order.said_at))
        return list({order.outlet.pk: order.outlet for order in orders}.values())

    @property
    def in_each(self) -> Decimal:
        """What to write beside the number of crates when it comes in."""
        return min(self.each, self.quantity) if self.each else self.quantity


@dataclass(frozen=True)
class CutDay:
    """All that is to be cut on one day. too_much: more crates than can be cut."""

    day: date
    cuts: tuple[ToCut, ...]
    too_much: bool = False

    @property
    def crates(self) -> int:
        return sum(cut.crates or 0 for cut in self.cuts)


@dataclass(frozen=True)
class ToBuy:
    """A crop that the farm never cut, for orders. due: of the first of them; order_by: the last
    day on which its supplier can be asked, where that is known."""

    crop: Crop
    unit: str
    quantity: Decimal
    due: date
    outlets: tuple[Outlet, ...]
    supplier: Source | None = None
    order_by: date | None = None


@dataclass(frozen=True)
class Cutting:
    """What is to be cut by day, and what to buy. of_line: when how much of a line will be cut.

    ground: what still stands in the field; promised: how much of it is to be cut for somebody, by
    crop, block and unit. habits: how each crop is cut, by crop and unit.
    """

    today: date
    days: tuple[CutDay, ...]
    to_buy: tuple[ToBuy, ...]
    of_line: dict[str, list[tuple[date, Decimal]]]
    ground: tuple[FieldNow, ...]
    promised: dict[tuple[int, int, str], Decimal]
    habits: dict[CropUnit, Habit]

    @property
    def cuts_today(self) -> tuple[ToCut, ...]:
        return next((day.cuts for day in self.days if day.day == self.today), ())


def read_cutting(
    farm: Farm,
    at: datetime,
    plan: BookPlan | None = None,
    crops: Collection[int] | None = None,
) -> Cutting:
    """Return what is to be cut for what the plan lacks. plan: of these crops, if made already."""
    plan = plan or plan_book(farm, at, crops)
    today = at.astimezone(farm.zone).date()
    short = {
        line.id: (order, line)
        for order in plan.orders
        for line in order.lines
        if line.id in plan.shorts
    }
    ground = [now for now in read_field(farm, at) if crops is None or now.crop.pk in crops]
    wanted = {(line.crop.pk, line.unit): line.crop for _order, line in short.values()}
    wanted |= {(now.crop.pk, now.unit): now.crop for now in ground}
    habits = read_habits(wanted, farm, at)
    return _Reckoning(farm, today, plan, short, ground, habits).cutting()


def cuts_today(farm: Farm, at: datetime) -> tuple[ToCut, ...]:
    """Return what is still to be cut today. Of a field nobody walked no plan is made for it."""
    return read_cutting(farm, at).cuts_today if read_field(farm, at) else ()


def harvest_days(farm: Farm, today: date) -> list[int]:
    """Return the days on which the farm cuts, from today on, as far as a walk speaks."""
    weekdays = farm.harvest_days or "0123456"
    days = range(ESTIMATE_DAYS)
    return [n for n in days if str((today + timedelta(days=n)).weekday()) in weekdays]


def read_habits(crops: dict[CropUnit, Crop], farm: Farm, at: datetime) -> dict[CropUnit, Habit]:
    """Return how each crop is cut: what a crate of it holds, and what of it is lost."""
    start, _end = day_bounds(farm, at)
    keys = {crop for crop, _unit in crops}
    losses, came = _losses(keys, start), last_times(keys, Source.Kind.BLOCK)
    found = {}
    for pk, unit in crops:
        last = came.get(pk)
        crate = last.quantity if last and last.unit == unit else None
        loss = losses.get((pk, unit), Fraction(0))
        found[pk, unit] = Habit(crate, loss, measures.is_count(unit))
    return found


def _losses(crops: Collection[int], before: datetime) -> dict[CropUnit, Fraction]:
    """Return the loss of each crop in its last five harvests before today: culls, trim, weight."""
    kind = Movement.Kind
    entries = Movement.objects.filter(
        lot__intake__in=_last_harvests(crops, before), undone_by__isnull=True
    ).exclude(kind=kind.UNDONE)
    sums = entries.values_list("lot__crop_id", "lot__unit", "kind", "reason")
    brought: dict[CropUnit, Decimal] = defaultdict(Decimal)
    lost: dict[CropUnit, Decimal] = defaultdict(Decimal)
    for crop, unit, entry, reason, total in sums.annotate(total=Total("change")).order_by():
        if entry == kind.BROUGHT_IN:
            brought[crop, unit] += total
        elif entry == kind.WEIGHT_LOST or reason == Movement.Reason.CULLED:
            lost[crop, unit] -= total
    return {key: loss_of(lost[key], brought[key]) for key in brought}


def _last_harvests(crops: Collection[int], before: datetime) -> list[int]:
    harvests = Intake.objects.filter(
        source__kind=Source.Kind.BLOCK, action__undone_by__isnull=True, arrived_at__lt=before
    ).order_by("-arrived_at", "-pk")
    # Crop by crop, so that none reads more than its last few.
    return [
        pk
        for crop in crops
        for pk in harvests.filter(crop=crop).values_list("pk", flat=True)[:HARVESTS]
    ]


class _Reckoning:
    """Puts the shorts and the field as the cut list's plain values, and reads what it says."""

    def __init__(
        self,
        farm: Farm,
        today: date,
        plan: BookPlan,
        short: dict[str, tuple[BookOrder, BookLine]],
        ground: list[FieldNow],
        habits: dict[CropUnit, Habit],
    ):
        self._farm, self._today = farm, today
        self._plan, self._short, self._ground = plan, short, ground
        self._habits = habits
        self._rooms = list(Room.objects.all())
        self._here = _waiting_to_be_put_away()

    def cutting(self) -> Cutting:
        own = self._own_crops()
        mine = [key for key, (_order, line) in self._short.items() if line.crop.pk in own]
        found = cut_list(
            [lack for lack in map(self._lack, self._by_day(mine)) if lack.quantity > 0],
            [self._stand(now) for now in self._ground],
            harvest_days(self._farm, self._today),
            {_name(*key): habit for key, habit in self._habits.items()},
            self._farm.most_crates_a_day,
        )
        return Cutting(
            today=self._today,
            days=tuple(self._days(found.cuts, found.too_much)),
            to_buy=tuple(self._to_buy(self._short.keys() - set(mine))),
            of_line=self._of_line(found.cuts),
            ground=tuple(self._ground),
            promised=self._promised(found.cuts),
            habits=self._habits,
        )

    def _own_crops(self) -> set[int]:
        """Return the crops the farm cuts: it did once, or somebody saw them on a walk."""
        cut = Intake.objects.filter(
            crop=OuterRef("pk"), source__kind=Source.Kind.BLOCK, action__undone_by__isnull=True
        )
        own = Crop.objects.filter(Exists(cut)).values_list("pk", flat=True)
        return set(own) | {now.crop.pk for now in self._ground}

    def _by_day(self, keys: Iterable[str]) -> list[str]:
        of = self._short
        return sorted(keys, key=lambda key: (of[key][0].due, of[key][0].said_at, key))

    def _lack(self, key: str) -> Lack:
        """Return what a line lacks, less what was cut for it and only waits to be put away."""
        order, line = self._short[key]
        due = max((order.due - self._today).days, 0)
        quantity = self._plan.shorts[key].quantity
        crop_unit = line.crop.pk, line.unit
        arrived = min(quantity, sound_of(self._here[crop_unit], self._habits[crop_unit]))
        self._here[crop_unit] -= arrived
        return Lack(
            line=key,
            crop=_name(*crop_unit),
            quantity=quantity - arrived,
            due=due,
            keeps=self._keeps(line.crop, order.outlet, min(due, ESTIMATE_DAYS)),
            minimum_days=order.outlet.days_wanted(order.due),
            refused=order.outlet.refused_tags,
            firm=order.outlet.is_firm,
            said=int(order.said_at.timestamp()),
        )

    def _keeps(self, crop: Crop, outlet: Outlet, longest: int) -> tuple[int, ...]:
        room_c = best_room_c(crop, self._rooms)
        way = way_to(outlet)
        return tuple(fresh_days(crop, room_c, days, way).days for days in range(longest + 1))

    def _stand(self, now: FieldNow) -> Stand:
        closed = now.block.not_before
        return Stand(
            block=str(now.block.pk),
            crop=_name(now.crop.pk, now.unit),
            quantity=now.left,
            from_day=(now.from_day - self._today).days,
            until=(now.until - self._today).days,
            not_before=(closed - self._today).days if closed else 0,
            tags=tags_of(now.block),
        )

    def _days(self, cuts: Iterable[Cut], too_much: Collection[int]) -> Iterable[CutDay]:
        by_day: dict[int, list[ToCut]] = defaultdict(list)
        for cut in cuts:
            by_day[cut.day].append(self._to_cut(cut))
        for day, found in sorted(by_day.items()):
            found.sort(key=lambda cut: (cut.crop.shown_name.lower(), cut.block.name))
            yield CutDay(self._date(day), tuple(found), too_much=day in too_much)

    def _to_cut(self, cut: Cut) -> ToCut:
        now = next(now for now in self._ground if _cut_key(cut) == now.key)
        return ToCut(
            day=self._date(cut.day),
            crop=now.crop,
            block=now.block,
            unit=now.unit,
            quantity=cut.quantity,
            sound=cut.sound,
            crates=cut.crates,
            each=self._habits[now.crop.pk, now.unit].crate,
            orders=tuple({self._short[line][0] for line, _amount in cut.lines}),
        )

    def _date(self, day: int) -> date:
        return self._today + timedelta(days=day)

    def _of_line(self, cuts: Iterable[Cut]) -> dict[str, list[tuple[date, Decimal]]]:
        found: dict[str, dict[date, Decimal]] = defaultdict(lambda: defaultdict(Decimal))
        for cut in cuts:
            for line, amount in cut.lines:
                found[line][self._date(cut.day)] += amount
        return {line: sorted(days.items()) for line, days in found.items()}

    @staticmethod
    def _promised(cuts: Iterable[Cut]) -> dict[tuple[int, int, str], Decimal]:
        found: dict[tuple[int, int, str], Decimal] = defaultdict(Decimal)
        for cut in cuts:
            found[_cut_key(cut)] += cut.quantity
        return found

    def _to_buy(self, keys: Iterable[str]) -> Iterable[ToBuy]:
        """Yield what no block gives, for buyers who take what was bought in."""
        by_crop: dict[CropUnit, list[str]] = defaultdict(list)
        for key in self._by_day(keys):
            order, line = self._short[key]
            if not order.outlet.own_grown_only:
                by_crop[line.crop.pk, line.unit].append(key)
        for some in by_crop.values():
            yield self._bought([self._short[key] for key in some], some)

    def _bought(self, lines: list[tuple[BookOrder, BookLine]], keys: list[str]) -> ToBuy:
        order, line = lines[0]
        last = last_time(line.crop, Source.Kind.SUPPLIER)
        supplier = last.intake.source if last else None
        lead = supplier.lead_days if supplier else None
        outlets = {each.outlet.pk: each.outlet for each, _line in lines}
        return ToBuy(
            crop=line.crop,
            unit=line.unit,
            quantity=sum((self._plan.shorts[key].quantity for key in keys), ZERO),
            due=order.due,
            outlets=tuple(outlets.values()),
            supplier=supplier,
            order_by=None if lead is None else order.due - timedelta(days=lead),
        )


def tags_of(block: Source) -> frozenset[str]:
    """Return what a buyer may refuse of a block, as of its crates."""
    return frozenset() if block.organic else frozenset({"not-organic"})


def _waiting_to_be_put_away() -> dict[CropUnit, Decimal]:
    """Return what came in from the field and stands nowhere yet: no plan counts on it."""
    lots = Lot.objects.filter(
        state=Lot.State.TO_PUT_AWAY, held=False, intake__source__kind=Source.Kind.BLOCK
    )
    sums = lots.values_list("crop_id", "unit").annotate(total=Total("quantity")).order_by()
    return defaultdict(Decimal, {(crop, unit): total for crop, unit, total in sums})


def _name(crop: int, unit: str) -> str:
    return f"{crop}:{unit}"


def _cut_key(cut: Cut) -> tuple[int, int, str]:
    crop, _colon, unit = cut.crop.partition(":")
    return int(crop), int(cut.block), unit
