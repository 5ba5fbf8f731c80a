"""Drawings: a room's temperature over time, and how long a crop's crates keep."""

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from inventory.keeping import load_reference
from inventory.keeping.log import DAY_S, HOUR_S
from inventory.learning import Harvest, Weibull, handbook_weibull, product_limit
from inventory.lives.logs import room_logs
from inventory.measures import from_celsius, to_celsius
from inventory.models import Crop, Farm, Lot, Room
from inventory.queries.days import day_start

PLOT_POINTS = 600
_Scale = Callable[[float], float]
_Step = tuple[float, float, float, bool]  # from, to, °C, measured: see RoomLog.steps
# A single reading warmer than both its neighbours by this much looks like an open door.
DOOR_JUMP_C = 2.0
DOOR_MOST_S = HOUR_S


@dataclass(frozen=True)
class Plot:
    """A room's temperature over a span as points of an SVG drawing, y downward.

    lines: one text of points per unbroken run of measured readings. limits: (crop, °C, y) of
    the crops in the room. doors: x of spikes that look like an open door. grid: (label, y).
    """

    width: int
    height: int
    lines: list[str]
    band_y: float
    band_height: float
    limits: list[tuple[Crop, float, float]]
    doors: list[float]
    grid: list[tuple[float, float]]
    days: list[tuple[date, float]]


WIDTH, HEIGHT = 340, 180


def read_plot(room: Room, farm: Farm, at: datetime, days: int) -> Plot | None:
    """Return the drawing of the last days, None without a measured reading in them."""
    now = at.timestamp()
    since = now - days * DAY_S
    steps = [step for step in room_logs(since)[room.pk].log.steps(since, now) if step[3]]
    if not steps:
        return None
    low_c = min(room.low_c, min(step[2] for step in steps)) - 1
    high_c = max(room.high_c, max(step[2] for step in steps)) + 1

    def x(moment: float) -> float:
        return round((moment - since) / (now - since) * WIDTH, 1)

    def y(celsius: float) -> float:
        return round((high_c - celsius) / (high_c - low_c) * HEIGHT, 1)

    return Plot(
        width=WIDTH,
        height=HEIGHT,
        lines=_lines(_thinned(steps), x, y),
        band_y=y(room.high_c),
        band_height=y(room.low_c) - y(room.high_c),
        limits=[
            (crop, celsius, y(celsius))
            for crop, celsius in _limits(room)
            if low_c < celsius < high_c
        ],
        doors=[x(moment) for moment in door_spikes(steps)],
        grid=[(celsius, y(celsius)) for celsius in _grid(low_c, high_c, farm.temperature_unit)],
        days=_day_marks(farm, at, days, x),
    )


def _grid(low_c: float, high_c: float, unit: str) -> list[float]:
    """Return round degrees of the farm's unit between two temperatures, in °C."""
    low, high = (float(from_celsius(Decimal(str(edge)), unit)) for edge in (low_c, high_c))
    step = next(step for step in (2, 5, 10, 20, 50) if high - low <= 7 * step or step == 50)
    first = math.floor(low / step) + 1
    shown = [number * step for number in range(first, math.ceil(high / step))]
    return [float(to_celsius(Decimal(degrees), unit)) for degrees in shown]


def _lines(steps: Iterable[_Step], x: _Scale, y: _Scale) -> list[str]:
    """Join steps into lines, broken where the room was unknown."""
    lines: list[list[str]] = []
    last_end: float | None = None
    for start, end, celsius, _ in steps:
        if start != last_end:
            lines.append([])
        lines[-1] += [f"{x(start)},{y(celsius)}", f"{x(end)},{y(celsius)}"]
        last_end = end
    return [" ".join(line) for line in lines]


def _thinned(steps: Sequence[_Step]) -> Iterator[_Step]:
    """Keep a drawing light: of each bundle of neighbours only the warmest stays, widened.

    A bundle never spans a gap.
    """
    bundle = max(1, len(steps) // PLOT_POINTS)
    group = [steps[0]]
    for step in steps[1:]:
        if len(group) == bundle or step[0] != group[-1][1]:
            yield _bundled(group)
            group = []
        group.append(step)
    yield _bundled(group)


def _bundled(group: Sequence[_Step]) -> _Step:
    return group[0][0], group[-1][1], max(step[2] for step in group), True


def door_spikes(steps: Sequence[_Step]) -> list[float]:
    """Return when a short jump above both neighbours looks like an open door."""
    return [
        here[0]
        for before, here, after in zip(steps, steps[1:], steps[2:], strict=False)
        if here[1] - here[0] <= DOOR_MOST_S and here[2] - max(before[2], after[2]) >= DOOR_JUMP_C
    ]


def _limits(room: Room) -> list[tuple[Crop, float]]:
    """Return the lowest safe temperature of each crop in the room that has one."""
    crops = Crop.objects.filter(pk__in=Lot.objects.filter(position__room=room).values("crop_id"))
    found = []
    for crop in crops:
        reference = crop.reference
        lowest = reference.chilling_c if reference.chilling_c is not None else reference.freezing_c
        if lowest is not None:
            found.append((crop, lowest))
    return found


def _day_marks(farm: Farm, at: datetime, days: int, x: _Scale) -> list[tuple[date, float]]:
    today = at.astimezone(farm.zone).date()
    every = max(1, days // 7)
    marks = [today - timedelta(days=back) for back in range(0, days, every)]
    found = [(mark, x(day_start(farm, mark).timestamp())) for mark in marks]
    return [(mark, where) for mark, where in found if where >= 0]


_LIFE_POINTS, _LIFE_ROWS, _OF = 60, 8, 10
_LEAST_BAND = 2  # units of the drawing: a handbook of one figure is to be seen as well


@dataclass(frozen=True)
class LifePlot:
    """How many of ten crates are still good by age, as points of an SVG drawing, y downward.

    band_x, band_width: the handbook's range. line: the farm's own estimate, "" without one.
    dots: what was seen of the farm's crates, without any model. grid: (of ten, y). ages:
    (days, x). rows: (days, of ten by the farm's estimate, of ten by the handbook).
    """

    width: int
    height: int
    band_x: float
    band_width: float
    line: str
    handbook_line: str
    dots: list[tuple[float, float]]
    grid: list[tuple[int, float]]
    ages: list[tuple[int, float]]
    rows: list[tuple[int, float | None, float]]


def draw_lives(crop: Crop, harvests: Sequence[Harvest], own: Weibull | None) -> LifePlot:
    """Return the drawing of a crop's keeping life, own: as the farm's record has it."""
    published = load_reference()[crop.reference_key]
    low, high = published.life_low_days, published.life_high_days
    handbook = handbook_weibull(low, high)
    seen = [crate for harvest in harvests for crate in harvest.crates]
    longest = max(high, own.age_at(0.95) if own else 0, *(crate.seen_days for crate in seen), 0)
    every = math.ceil(longest * 1.1 / _LIFE_ROWS)
    last = every * _LIFE_ROWS

    def x(days: float) -> float:
        return round(days / last * WIDTH, 1)

    def y(share: float) -> float:
        return round((1 - share) * HEIGHT, 1)

    def line(lives: Weibull) -> str:
        ages = [last * number / _LIFE_POINTS for number in range(_LIFE_POINTS + 1)]
        return " ".join(f"{x(age)},{y(lives.share_good(age))}" for age in ages)

    marks = range(0, last + 1, every)
    steps = product_limit((crate.seen_days, crate.gone) for crate in seen)
    return LifePlot(
        width=WIDTH,
        height=HEIGHT,
        band_x=x(low),
        band_width=max(x(high) - x(low), _LEAST_BAND),
        line=line(own) if own else "",
        handbook_line=line(handbook),
        dots=[(x(days), y(share)) for days, share in steps],
        grid=[(of, y(of / _OF)) for of in (0, 5, _OF)],
        ages=[(days, x(days)) for days in marks],
        rows=[
            (days, own.share_good(days) * _OF if own else None, handbook.share_good(days) * _OF)
            for days in marks
        ],
    )


@dataclass(frozen=True)
class Bar:
    """One week of a drawing. rate: in %, None where nothing left. y downward."""

    week: date
    rate: Decimal | None
    x: float
    y: float
    height: float
    is_now: bool

    @property
    def middle(self) -> float:
        return self.x + BAR / 2


@dataclass(frozen=True)
class WeekBars:
    """A share of each of some weeks as bars of an SVG drawing."""

    width: int
    height: int
    bars: list[Bar]
    bar: int
    aim_y: float | None


BARS_WIDTH, BARS_HEIGHT, BAR = 336, 72, 30
_LEAST_TOP = Decimal(5)  # % at the top of the drawing, so that a fine week does not look steep


def draw_weeks(
    rates: Sequence[tuple[date, Decimal | None]],
    aim: Decimal | None = None,
    least_top: Decimal = _LEAST_TOP,
) -> WeekBars:
    """Return the drawing of so many weeks, the last of them this one's. least_top: [%]"""
    top = max(least_top, aim or Decimal(0), *(rate or Decimal(0) for _week, rate in rates))
    step = BARS_WIDTH / len(rates)

    def height(rate: Decimal) -> float:
        return round(float(max(rate, Decimal(0)) / top) * BARS_HEIGHT, 1)

    bars = [
        Bar(
            week, rate, round(step * number + (step - BAR) / 2, 1),
            BARS_HEIGHT - height(rate or Decimal(0)), height(rate or Decimal(0)),
            number == len(rates) - 1,
        )
        for number, (week, rate) in enumerate(rates)
    ]  # fmt: skip
    aim_y = None if aim is None else BARS_HEIGHT - height(aim)
    return WeekBars(BARS_WIDTH, BARS_HEIGHT, bars, BAR, aim_y)
