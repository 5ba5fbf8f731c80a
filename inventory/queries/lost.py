"""Where keeping life was lost in a week, by step and by crop, never by person."""

from collections import defaultdict
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from inventory.ledger.weeks import DAYS, CalendarChanged
from inventory.lives.losses import STEPS
from inventory.lives.week_losses import keep_losses
from inventory.models import AlarmClosing, Crop, Farm, WeekLoss

_SHOWN = Decimal("0.05")  # crate-days; less would show as 0.0
_MOST_SPELLS = 3


@dataclass(frozen=True)
class StepLost:
    """What was lost in one step, of all crops. part: of the worst step, 0 to 1."""

    step: str
    crate_days: Decimal
    part: float

    @property
    def label(self) -> str:
        return str(WeekLoss.Step(self.step).label)


@dataclass(frozen=True)
class CropLost:
    """What was lost of one crop; money: None where some of it has no price."""

    crop: Crop
    rows: list[WeekLoss]
    crate_days: Decimal
    money: Decimal | None


@dataclass(frozen=True)
class Lost:
    """Where life was lost of what left in a week, the worst first.

    spells: what was closed of rooms too warm, in that week and the one before, the warmest first.
    """

    first: date
    steps: list[StepLost]
    crops: list[CropLost]
    spells: list[AlarmClosing]

    @property
    def last(self) -> date:
        return self.first + DAYS - timedelta(days=1)

    @property
    def crate_days(self) -> Decimal:
        return sum((step.crate_days for step in self.steps), Decimal(0))

    @property
    def money(self) -> Decimal | None:
        """What it was worth, as far as there are prices; None without any."""
        known = [crop.money for crop in self.crops if crop.money is not None]
        return sum(known, Decimal(0)) if known else None

    @property
    def unpriced(self) -> list[Crop]:
        return [one.crop for one in self.crops if one.money is None]


def read_lost(farm: Farm, first_day: date) -> Lost:
    """Return where life was lost in a week whose sums were read before; see lives/losses.py."""
    with suppress(CalendarChanged):  # the week is another now: the next look shows it
        keep_losses(farm, first_day)
    rows = list(WeekLoss.objects.filter(week=first_day).select_related("crop"))
    steps, crops = _by_step(rows), _by_crop(rows)
    too_warm = any(step.step == WeekLoss.Step.ROOM for step in steps)
    return Lost(first_day, steps, crops, _spells(farm, first_day) if too_warm else [])


def _by_step(rows: Iterable[WeekLoss]) -> list[StepLost]:
    sums: dict[str, Decimal] = defaultdict(Decimal)
    for row in rows:
        sums[row.step] += row.crate_days
    worst = max(sums.values(), default=Decimal(1))
    shown = sorted((step for step in STEPS if sums[step] >= _SHOWN), key=lambda step: -sums[step])
    return [StepLost(step, sums[step], float(sums[step] / worst)) for step in shown]


def _by_crop(rows: Iterable[WeekLoss]) -> list[CropLost]:
    by_crop: dict[int, list[WeekLoss]] = defaultdict(list)
    for row in rows:
        if row.crate_days >= _SHOWN:
            by_crop[row.crop_id].append(row)
    found = [_crop(of_crop) for of_crop in by_crop.values()]
    return sorted(found, key=lambda one: (-one.crate_days, one.crop.shown_name.lower()))


def _crop(rows: list[WeekLoss]) -> CropLost:
    rows.sort(key=lambda row: -row.crate_days)
    days = sum((row.crate_days for row in rows), Decimal(0))
    known = [row.money for row in rows if row.money is not None]
    return CropLost(
        rows[0].crop, rows, days, sum(known, Decimal(0)) if len(known) == len(rows) else None
    )


def _spells(farm: Farm, first_day: date) -> list[AlarmClosing]:
    return list(
        AlarmClosing.objects.filter(
            side="warm",
            ended_at__gte=farm.day_start(first_day - DAYS),
            started_at__lt=farm.day_start(first_day + DAYS),
        )
        .select_related("room")
        .order_by("-peak_c")[:_MOST_SPELLS]
    )
