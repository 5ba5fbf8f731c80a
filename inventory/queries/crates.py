"""Crates with their life and their place in the rotation."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime, timedelta, tzinfo
from decimal import Decimal
from typing import Any, NamedTuple

from django.db.models import Manager, Model, Q

from inventory import measures
from inventory.codes import normalise
from inventory.keeping import Reference, rate, sound_days
from inventory.lives.clocks import Clocks, Life
from inventory.lives.logs import every_room
from inventory.lives.reader import read_clocks
from inventory.lives.stays import STALL_C, Record
from inventory.models import (
    Container,
    Crop,
    Farm,
    Intake,
    Lot,
    Movement,
    Position,
    Source,
    TagBinding,
)
from inventory.models.buyers import UNKNOWN_FRIDGE_C
from inventory.queries.dates import dates_of, parents_of
from inventory.queries.was_out import read_was_out
from inventory.rotation import Standing, Verdict, judge, rotation_key
from inventory.rotation.dates import CaseDates
from inventory.rotation.fit import WAS_OUT, CrateNow, is_fit, is_sound
from inventory.rotation.order import is_far_past, whole_days

HERE = (Lot.State.TO_PUT_AWAY, Lot.State.IN_PLACE)
# Put together once: each use narrows or copies it. For one crate alone: many share their parts.
_WITH_PARTS = Lot.objects.select_related("crop", "intake__source", "position__room", "container")


class FridgeDays(NamedTuple):
    """Whole days in a buyer's fridge, or at `celsius` where the fridge is too cold for the crop."""

    days: int
    celsius: float
    in_fridge: bool


class Crate(NamedTuple):
    """One crate as a screen shows it. was_out: out of our hands and back; barred: and the owner has
    not said since that kitchens may have it."""

    code: str
    lot: Lot
    life: Life
    verdict: Verdict
    standing: Standing
    zone: tzinfo
    today: date
    lasts_until: date
    clocks: Clocks
    was_out: bool = False
    barred: bool = False

    @property
    def now(self) -> CrateNow:
        """The crate as the rules see it, but for what is out of it and who it came from."""
        return CrateNow(
            self.lot.state,
            self.lot.held,
            past_use_by=self.is_past_use_by,
            barred=self.barred,
        )

    @property
    def record(self) -> Record:
        """What its life depends on; crates that stood alike share it."""
        return self.clocks.records[self.code]

    @property
    def is_filled(self) -> bool:
        """Whether it was filled from other crates."""
        return bool(self.record.links)

    @property
    def tags(self) -> frozenset[str]:
        """What an outlet may refuse about it."""
        return self.lot.tags | {WAS_OUT} if self.barred else self.lot.tags

    @property
    def is_past_use_by(self) -> bool:
        return self.standing.dates.is_past_use_by(self.today)

    @property
    def is_past_a_date(self) -> bool:
        dates = self.standing.dates
        return dates.is_past_use_by(self.today) or dates.is_past_best_before(self.today)

    @property
    def is_sound(self) -> bool:
        return is_sound(self.verdict)

    @property
    def is_fit(self) -> bool:
        """Whether a plan may count on it."""
        return is_fit(self.lot.state, self.lot.held, self.verdict)

    @property
    def days_left(self) -> int:
        """Days from today to the last it keeps, never below zero; the cautious figure."""
        return max((self.lasts_until - self.today).days, 0)

    @property
    def generous_days_left(self) -> int:
        longer = timedelta(days=self.life.generous_days_left - self.life.days_left)
        last = last_whole_day(self.life.keep_until + longer, self.zone)
        return max((self._within_use_by(last) - self.today).days, self.days_left)

    def _within_use_by(self, last: date) -> date:
        return min(last, self.standing.dates.use_by or last)

    @property
    def is_over(self) -> bool:
        """Whether its keeping life is used up, by the cautious figure."""
        return self.life.used >= 1

    @property
    def is_far_past(self) -> bool:
        """Whether its going out is asked about first."""
        return is_far_past(self.life.used)

    @property
    def days_over(self) -> int:
        return max((self.today - self.lasts_until).days, 0)

    def fridge_days(self, celsius: float) -> FridgeDays:
        """Return how long it keeps from now on in a buyer's fridge. [°C]

        The least of decay, injury, each less what it has used, and a use-by date. Where it is too
        cold for the crop and nobody has published how long it stands that, days count at the
        crop's lowest safe temperature, which is not in the fridge.
        """
        reference, life = self.lot.crop.reference, self.life
        spent = life.used, life.chill_used or 0.0
        return self._fridge_days(reference, celsius, self.today, *spent)

    def days_on_arrival(self, due: date, celsius: float, way_hours: float = 0.0) -> FridgeDays:
        """Return how long it keeps in a buyer's fridge from the day it gets there. [°C, h]

        Until then it stands where it is now, and way_hours without cold on the way, as on a
        stall. Below zero days where it would not last until then.
        """
        reference, life = self.lot.crop.reference, self.life
        waits = max((due - self.today).days, 0)
        aged = waits * life.speed
        if way_hours:
            aged += way_hours / 24 * rate(reference, STALL_C)
        used = life.used + aged / reference.base_days
        hurt = (life.chill_used or 0.0) + waits * life.hurts
        if used >= 1 or hurt >= 1:
            return FridgeDays(-1, celsius, in_fridge=True)
        return self._fridge_days(reference, celsius, max(due, self.today), used, hurt)

    def _fridge_days(
        self, reference: Reference, celsius: float, since: date, used: float, hurt: float
    ) -> FridgeDays:
        found = days_in_fridge(reference, celsius, used, hurt)
        use_by = self.standing.dates.use_by
        days = found.days if use_by is None else min(found.days, (use_by - since).days)
        days = max(days, 0 if since == self.today else -1)
        return found if days == found.days else found._replace(days=days)

    @property
    def in_a_fridge(self) -> FridgeDays:
        return self.fridge_days(UNKNOWN_FRIDGE_C)

    @property
    def chill_percent(self) -> int:
        """Share of the days until the cold hurts it, where they are published. [%]"""
        return round((self.life.chill_used or 0) * 100)

    @property
    def key(self) -> tuple:
        return rotation_key(self.standing, self.lot.is_part, self.code)


def days_in_fridge(reference: Reference, celsius: float, used: float, hurt: float) -> FridgeDays:
    """Return how long what has used these shares keeps in a fridge, below zero when past. [°C]"""
    days = sound_days(reference, celsius, used, hurt)
    in_fridge = days is not None
    if days is None:
        celsius = reference.chilling_c or celsius
        days = sound_days(reference, celsius, used, hurt) or 0.0
    return FridgeDays(whole_days(days), celsius, in_fridge)


def last_day_shown(life: Life, today: date, zone: tzinfo) -> date:
    """Return the last whole local day a crate keeps; today while anything is left."""
    last = last_whole_day(life.keep_until, zone)
    return max(last, today) if life.days_left > 0 else last


def last_whole_day(moment: datetime, zone: tzinfo) -> date:
    """Return the last local day that is over by this moment."""
    return moment.astimezone(zone).date() - timedelta(days=1)


def with_parts(lots: Iterable[Lot]) -> list[Lot]:
    """Return many lots with the same parts: each crop, room, source and container is read once.

    Read in bulk, as Django's own prefetch asks in a way that SQLite refuses beyond a thousand.
    """
    lots = list(lots)
    intakes = _in_bulk(Intake.objects, lots, "intake_id")
    positions = _in_bulk(Position.objects, lots, "position_id")
    share(intakes.values(), source=_in_bulk(Source.objects, intakes.values(), "source_id"))
    share(positions.values(), room=every_room())
    share(
        lots,
        crop=_in_bulk(Crop.objects, lots, "crop_id"),
        container=_in_bulk(Container.objects, lots, "container_id"),
        intake=intakes,
        position=positions,
    )
    return lots


def _in_bulk(rows: Manager, of: Iterable[Model], key: str) -> dict[Any, Any]:
    keys = {vars(one)[key] for one in of} - {None}
    return rows.in_bulk(keys) if keys else {}


def share(rows: Iterable[Model], **parts: dict[Any, Any]) -> None:
    """Give rows their parts, by key, so that those with the same share one."""
    columns = [(name, f"{name}_id", by_key) for name, by_key in parts.items()]
    for row in rows:
        # As Django does it itself for what it reads together: to set it would look it over.
        values, known = vars(row), row._state.fields_cache
        for name, column, by_key in columns:
            key = values[column]
            known[name] = None if key is None else by_key[key]


def crates_here(farm: Farm, at: datetime, where: Q | None = None) -> list[Crate]:
    """Return every crate in the house, narrowed by `where`, oldest first within a crop."""
    lots = Lot.objects.filter(state__in=HERE)
    # When they were last seen is asked of none of so many, and to read a moment takes long.
    lots = lots.defer("seen_at") if where is None else lots.filter(where)
    return sorted(with_life(with_parts(lots), farm, at), key=lambda crate: crate.key)


def with_life(lots: Iterable[Lot], farm: Farm, at: datetime) -> list[Crate]:
    """Return these lots as crates, with the life they have at a moment."""
    lots = list(lots)
    codes = [vars(lot)["code_id"] for lot in lots]  # their keys, without asking each for it
    clocks = read_clocks(lots, farm, at)
    parents = parents_of(lots)
    was_out = _was_out(codes, clocks)
    zone = farm.zone
    today = at.astimezone(zone).date()
    judged: dict[tuple, tuple[Life, date, Standing, Verdict]] = {}
    crates = []
    for code, lot in zip(codes, lots, strict=True):
        alike = clocks.records[code], lot.kept_until
        if alike not in judged:
            dates = dates_of(lot, parents)
            judged[alike] = _judged(lot, clocks.life(code, at), dates, today, zone)
        life, until, standing, verdict = judged[alike]
        crates.append(
            Crate(
                code=code,
                lot=lot,
                life=life,
                verdict=verdict,
                standing=standing,
                zone=zone,
                today=today,
                lasts_until=until,
                clocks=clocks,
                was_out=code in was_out,
                barred=was_out.get(code, False),
            )
        )
    return crates


def _judged(
    lot: Lot, life: Life, dates: CaseDates, today: date, zone: tzinfo
) -> tuple[Life, date, Standing, Verdict]:
    until = min(last_day_shown(life, today, zone), dates.use_by or date.max)
    standing = Standing(
        days_left=(until - today).days,
        life_used=life.used,
        harvested_at=life.harvested_at,
        kept_until=lot.kept_until,
        flag=life.flag,
        flagged_before=life.frozen_ever,
        dates=dates,
    )
    return life, until, standing, judge(standing, today, lot.crop.sell_first_days)


def _was_out(codes: list[str], clocks: Clocks) -> dict[str, bool]:
    """Return what read_was_out does; without a query where nothing of them ever came back."""
    records, back = clocks.records, Movement.Kind.BACK
    if not any(step.kind == back for record in records.values() for step in record.steps):
        return {}
    links = {
        code: [(link.parent, link.at) for link in record.links]
        for code, record in records.items()
        if record.links
    }
    return read_was_out(codes, links)


def one_crate(code: str, farm: Farm, at: datetime) -> Crate | None:
    """Return the crate with this code, whatever its state."""
    return next(iter(with_life(_WITH_PARTS.filter(pk=code), farm, at)), None)


def age_of(code: str, farm: Farm, at: datetime) -> float | None:
    """Return a crate's age at a moment, in days at its crop's best temperature. [d]"""
    found = one_crate(code, farm, at)
    return found.clocks.aged_days(code, at) if found else None


def beside_first(crate: Crate, others: Iterable[Crate]) -> tuple[list[Crate], list[Crate]]:
    """Return the crates of a crate's own harvest or place, and the rest, in the order given."""
    others = list(others)

    def is_beside(other: Crate) -> bool:
        intake, place = other.lot.intake_id, other.lot.position_id
        own = intake is not None and intake == crate.lot.intake_id
        return own or (place is not None and place == crate.lot.position_id)

    return [one for one in others if is_beside(one)], [one for one in others if not is_beside(one)]


def far_past(crates: Iterable[Crate]) -> list[Crate]:
    """Return those of some crates whose going out is asked about first, the longest past first."""
    return sorted((crate for crate in crates if crate.is_far_past), key=lambda crate: crate.key)


def by_tail(tail: str, farm: Farm, at: datetime) -> list[Crate]:
    """Return the crates in the house whose code, or whose tag's, ends in these characters."""
    tail = normalise(tail)
    tagged = TagBinding.objects.filter(taken_off_at__isnull=True, tag__code__text__endswith=tail)
    return crates_here(farm, at, Q(code__text__endswith=tail) | Q(pk__in=tagged.values("lot")))


def totals(pairs: Iterable[tuple[str, Decimal]], weight_unit: str) -> list[tuple[str, Decimal]]:
    """Return (unit, sum) for (unit, quantity) pairs; all weights together in one unit."""
    sums: dict[str, Decimal] = defaultdict(Decimal)
    for unit, quantity in pairs:
        if measures.is_weight(unit):
            quantity = measures.convert_weight(quantity, unit, weight_unit)
            unit = weight_unit
        sums[unit] += quantity
    return [(unit, round(total, 3)) for unit, total in sums.items()]
