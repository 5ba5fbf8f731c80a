"""What to do, from the farm's last three weeks; what was answered to it, and what followed."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from django.db.models import Min, QuerySet

from inventory import measures
from inventory.keeping import Reference
from inventory.learning.advice import (
    MOST,
    RESTS_WEEKS,
    WEEKS,
    Advice,
    Cooling,
    Cutting,
    Figures,
    Harmed,
    Passed,
    Record,
    Rule,
    Stall,
    Topic,
    advise,
    is_done,
    look_again,
)
from inventory.ledger.week_record import WeekRecord, read_records
from inventory.ledger.weeks import DAYS, count_up_to
from inventory.lives.reader import Harvest, read_harvest_clocks
from inventory.models import (
    Crop,
    Farm,
    Lot,
    MarketDay,
    MarketSale,
    Outlet,
    Position,
    Source,
    Suggestion,
)
from inventory.models.crops import Total

DAY = timedelta(days=1)
ABOUT_MARKETS = (Rule.CUT_LATER, Rule.LOAD_MORE)
_COLD_WITHIN = DAY  # what field heat costs later than this is next to nothing
_ZERO = Decimal(0)


@dataclass(frozen=True)
class Suggested:
    """A piece of advice with what it names. market: where it is about one."""

    advice: Advice
    crop: Crop
    market: Outlet | None = None

    @property
    def topic(self) -> Topic:
        return self.advice.topic

    @property
    def key(self) -> str:
        """What a form calls it by."""
        return "/".join(map(str, self.topic))


@dataclass(frozen=True)
class Answered:
    """What was answered to a suggestion; now: how its figure stands in the week that is read."""

    row: Suggestion
    now: Figures | None = None

    @property
    def is_done(self) -> bool:
        """Whether the figure it names moved the way it says."""
        figure = self.now.figure if self.now else None
        return figure is not None and is_done(Rule(self.row.rule), self.row.before, figure)


@dataclass(frozen=True)
class WeekAdvice:
    """What there is to decide, what was answered to that, and what followed in a week.

    drawn_from: the week the suggestions come from. followed: what was accepted in the week before.
    """

    week: date
    is_over: bool
    drawn_from: date
    open: list[Suggested]
    answered: list[Answered]
    followed: list[Answered]


def count_advice(farm: Farm, week: date, today: date) -> WeekAdvice:
    """Return the advice of a week; see read_advice. Raises CalendarChanged."""
    count_up_to(farm, week)
    return read_advice(farm, week, today, Crop.objects.in_bulk())


def read_advice(farm: Farm, week: date, today: date, crops: Mapping[int, Crop]) -> WeekAdvice:
    """Return what there is to decide on the page of a week, and what followed in it.

    The sums of the week, and so of those before it, were counted when its page began to be read.
    Suggestions are drawn from whole weeks: on its last day and later from the week itself, before
    that from the one before. Older ones are not open any more. crops: all, by their keys.
    """
    drawn_from = week if today >= week + DAYS - DAY else week - DAYS
    rows = _answered_near(week)
    topics = {row: topic_of(row) for row in rows}
    answered = [row for row in rows if row.week == drawn_from]
    found: list[Advice] = []
    if week in (farm.week_start_of(today), farm.week_start_of(today) - DAYS):
        record = read_record(farm, drawn_from, crops)
        found = advise(record, set(topics.values()), MOST - len(answered))
    accepted = [row for row in rows if _is_met_in(farm, row, week)]
    now = read_record(farm, week, crops) if accepted else Record()
    return WeekAdvice(
        week,
        week + DAYS <= today,
        drawn_from,
        _with_names(found, crops),
        [Answered(row) for row in answered],
        [Answered(row, look_again(now, topics[row])) for row in accepted],
    )


def _with_names(found: list[Advice], crops: Mapping[int, Crop]) -> list[Suggested]:
    about_markets = {one.topic.about for one in found if one.topic.rule in ABOUT_MARKETS}
    markets = Outlet.objects.in_bulk(map(int, about_markets))
    return [
        Suggested(
            one,
            crops[one.topic.crop],
            markets[int(one.topic.about)] if one.topic.rule in ABOUT_MARKETS else None,
        )
        for one in found
    ]


def _answered_near(week: date) -> list[Suggestion]:
    """Return what was answered so near to a week that it rests in it, or is met again."""
    rests = RESTS_WEEKS * DAYS
    near = Suggestion.objects.standing().filter(week__gt=week - rests, week__lt=week + rests)
    # Mostly there is none: each of these is asked for only where there is.
    return list(near.prefetch_related("crop", "outlet", "action__person"))


def _is_met_in(farm: Farm, row: Suggestion, week: date) -> bool:
    """Return whether a week is the one after that in which a suggestion was accepted."""
    accepted = row.answer == Suggestion.Answer.ACCEPTED
    return accepted and farm.week_of(row.action.occurred_at) == week - DAYS


def topic_of(row: Suggestion) -> Topic:
    about = str(row.outlet_id) if row.outlet_id else row.about
    return Topic(Rule(row.rule), row.crop_id, row.unit, about)


@dataclass(frozen=True)
class _Span:
    """The weeks that are looked at, with what is kept of each by its first day."""

    farm: Farm
    last: date
    records: dict[date, WeekRecord]

    def ago(self, day: date) -> int:
        """Return how many weeks before the last one a day lies."""
        return (self.last - self.farm.week_start_of(day)) // DAYS

    def rows(self, what: str) -> Iterator[tuple[date, list]]:
        """Yield what the weeks tell of one thing, each row with the week it is of."""
        for week, record in self.records.items():
            for row in record[what]:
                yield week, row


def _first_of(week: date) -> date:
    return week - (WEEKS - 1) * DAYS


def read_record(farm: Farm, week: date, crops: Mapping[int, Crop]) -> Record:
    """Return what became of a week and the two before it, whose sums were counted before."""
    span = _Span(farm, week, read_records(farm, _first_of(week), week))
    references = {key: crop.reference for key, crop in crops.items()}
    grown = [crop for crop in crops.values() if crop.grown]
    return Record(
        cuttings=_cuttings(span),
        stalls=_stalls(span),
        coolings=_coolings(farm, week, references),
        passed=_passed(span),
        harmed=_harmed(span),
        life_days={crop.pk: references[crop.pk].base_days for crop in grown},
        weight_kg=dict(_weights(grown)),
    )


def _weights(crops: Iterable[Crop]) -> Iterator[tuple[tuple[int, str], Decimal]]:
    """Yield what one of each unit of a crop weighs, where that is known. [kg]"""
    for crop in crops:
        for unit in {*measures.WEIGHTS, crop.unit}:
            kg = crop.kg_of_one(unit)
            if kg:
                yield (crop.pk, unit), kg


def _cuttings(span: _Span) -> list[Cutting]:
    """Return what was cut by crop, week and weekday, with what of it was too much so far."""
    back, wasted = _by_harvest(span, "back_of"), _by_harvest(span, "wasted_of")
    found: dict[tuple, list] = defaultdict(lambda: [0, _ZERO, _ZERO, _ZERO])
    for came, (crop, unit, cut_on, crates, quantity) in span.rows("cut"):
        day = date.fromisoformat(cut_on)
        key = (span.ago(day), crop, unit, day.weekday())
        harvest = crop, unit, cut_on, came.isoformat()
        figures = (crates, Decimal(quantity), back[harvest], wasted[harvest])
        found[key] = [sum(pair) for pair in zip(found[key], figures, strict=True)]
    return [Cutting(*key, *figures) for key, figures in found.items()]


def _by_harvest(span: _Span, what: str) -> dict[tuple, Decimal]:
    """Add up what is told of harvests, by crop, unit, the day they were cut and the week."""
    sums: dict[tuple, Decimal] = defaultdict(Decimal)
    for _week, (*harvest, quantity) in span.rows(what):
        sums[tuple(harvest)] += Decimal(quantity)
    return sums


def _stalls(span: _Span) -> list[Stall]:
    """Return what was taken to markets by crop and day, how old, and what of it came back."""
    loads: dict[tuple[int, str, int], dict[date, _Load]] = defaultdict(dict)
    for _week, (crop, unit, market, day, crates, loaded, known, bunch_days) in span.rows("loaded"):
        age = Fraction(bunch_days) / Fraction(known) if Decimal(known) else None
        load = _Load(crates, Decimal(loaded), age)
        loads[crop, unit, market][date.fromisoformat(day)] = load
    for _week, (crop, unit, market, day, quantity) in span.rows("back"):
        for load in _last_by(date.fromisoformat(day), loads[crop, unit, market]):
            load.back += Decimal(quantity)
    for crop, unit, market, day, sold_out in _sold_out(span):
        for load in _last_by(day, loads[crop, unit, market]):
            load.sold_out = sold_out
    could_days = _days_since_cut(span.farm)
    return [
        Stall(
            ago=span.ago(day),
            crop=crop,
            unit=unit,
            market=str(market),
            day=day.toordinal(),
            crates=load.crates,
            loaded=load.loaded,
            back=load.back,
            age_days=load.age_days,
            could_days=could_days[day.weekday()],
            sold_out=load.sold_out,
        )
        for (crop, unit, market), days in loads.items()
        for day, load in days.items()
    ]


@dataclass
class _Load:
    """What went to one market on one day of a crop."""

    crates: int
    loaded: Decimal
    age_days: Fraction | None
    back: Decimal = _ZERO
    sold_out: str = ""


def _last_by(day: date, loads: dict[date, _Load]) -> list[_Load]:
    """Return what last went to a market by a day: one load, or none."""
    days = [loaded_on for loaded_on in loads if loaded_on <= day]
    return [loads[max(days)]] if days else []


def _sold_out(span: _Span) -> QuerySet:
    """Return what closing said of each crop of a market; an odd day says nothing of usual ones."""
    sales = MarketSale.objects.filter(
        market_day__in=MarketDay.objects.standing(),
        market_day__day__range=(_first_of(span.last), span.last + DAYS - DAY),
        market_day__weather=MarketDay.Weather.USUAL,
    ).order_by("market_day__day")
    return sales.values_list("crop_id", "unit", "market_day__outlet", "market_day__day", "sold_out")


def _days_since_cut(farm: Farm) -> list[int]:
    """Return how many days before each weekday the farm last cuts; every day if it set none."""
    cuts = {int(digit) for digit in farm.harvest_days} or set(range(7))
    return [
        next(back for back in range(1, 8) if (weekday - back) % 7 in cuts) for weekday in range(7)
    ]


def _passed(span: _Span) -> list[Passed]:
    """Return the crates that stood on a shelf while a younger one went out."""
    rows = list(span.rows("passed"))
    places = Position.objects.in_bulk({place for _week, (_crop, _unit, place, _held) in rows})
    return [
        Passed(span.ago(week), crop, unit, _shelf(places[place]), Decimal(held))
        for week, (crop, unit, place, held) in rows
    ]


def _shelf(place: Position) -> str:
    return f"{place.rack}{place.shelf}"


def _harmed(span: _Span) -> list[Harmed]:
    """Return what was thrown away because cold had hurt it, by the place it had stood at."""
    rows = list(span.rows("harmed"))
    places = Position.objects.in_bulk({place for _week, (_crop, _unit, place, _much) in rows})
    found: dict[tuple[int, int, str, str], Decimal] = defaultdict(Decimal)
    for week, (crop, unit, place, wasted) in rows:
        found[span.ago(week), crop, unit, str(places[place])] += Decimal(wasted)
    return [Harmed(*key, wasted) for key, wasted in found.items()]


def _coolings(farm: Farm, week: date, references: dict[int, Reference]) -> list[Cooling]:
    """Return which share of its life a crop of the week lost before it was cold.

    The mean of its harvests, by how much they were; of those whose cut time somebody gave. Never
    kept: it may change with every temperature of the day after a harvest.
    """
    harvests = _harvests(farm, week)
    clocks = read_harvest_clocks([first for first, *_unit in harvests], references, farm)
    cut: dict[tuple[int, str], Decimal] = defaultdict(Decimal)
    lost: dict[tuple[int, str], Decimal] = defaultdict(Decimal)
    for first, unit, amount in harvests:
        days = clocks.before_cold(first.code, first.arrived_at + _COLD_WITHIN)
        key = first.crop_id, unit
        cut[key] += amount
        lost[key] += amount * Decimal(days / references[first.crop_id].base_days)
    return [
        Cooling(0, *key, share=Fraction(lost[key]) / Fraction(cut[key]), lost=round(lost[key], 1))
        for key in cut
    ]


_OF_AN_INTAKE = ("intake_id", "intake__arrived_at", "intake__cut_at", "intake__pulp_c")
# Put together once, asked anew by every look at the week.
_CUT = (
    Lot.objects.filter(intake__source__kind=Source.Kind.BLOCK, parent_links__isnull=True)
    .filter(intake__cut_at__isnull=False)
    .exclude(state=Lot.State.VOID)
    .values_list(*_OF_AN_INTAKE)
    .annotate(first=Min("pk"), amount=Total("born_with"))
    .order_by()
)
_OF_A_CRATE = ("pk", "crop_id", "container__half_cooling_h", "state", "seen_at", "stamp", "unit")


def _harvests(farm: Farm, week: date) -> list[tuple[Harvest, str, Decimal]]:
    """Return what was cut in a week, where the time is known.

    Of each harvest the first crate, whose life before it was cold is that of all, its unit, and
    how much all were.
    """
    start, end = farm.day_start(week), farm.day_start(week + DAYS)
    cut = _CUT.filter(intake__arrived_at__gte=start, intake__arrived_at__lt=end)
    harvests = {first: (intake, amount) for *intake, first, amount in cut}
    found = []
    crates = Lot.objects.filter(pk__in=harvests).order_by("pk")
    for code, *crate, unit in crates.values_list(*_OF_A_CRATE):
        intake, amount = harvests[code]
        found.append((Harvest(code, *intake, *crate), unit, amount))
    return found
