"""What to do, from the farm's last three weeks; what was answered to it, and what followed."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction

from django.db.models import Count, Min, OuterRef, Q, QuerySet, Subquery

from inventory import measures
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
from inventory.ledger.weeks import DAYS
from inventory.lives.reader import read_clocks
from inventory.models import (
    Crop,
    Farm,
    FirstInLine,
    Lot,
    MarketDay,
    MarketSale,
    Movement,
    Outlet,
    Position,
    Source,
    Suggestion,
)
from inventory.models.crops import Total

_KIND, _REASON = Movement.Kind, Movement.Reason
DAY = timedelta(days=1)
ABOUT_MARKETS = (Rule.CUT_LATER, Rule.LOAD_MORE)
# Thrown away for these it was more than was wanted in time; for others something went wrong.
_TOO_MUCH = (
    _REASON.SPOILED, _REASON.WILTED, _REASON.YELLOWED, _REASON.UNSOLD, _REASON.LISTED,
    _REASON.PAST_DATE,
)  # fmt: skip
_BY_COLD = (_REASON.FROZE, _REASON.CHILLED)
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


def read_advice(farm: Farm, week: date, today: date) -> WeekAdvice:
    """Return what there is to decide on the page of a week, and what followed in it.

    Suggestions are drawn from whole weeks: on its last day and later from the week itself, before
    that from the one before. Older ones are not open any more.
    """
    drawn_from = week if today >= week + DAYS - DAY else week - DAYS
    rows = _answered_near(week)
    topics = {row: topic_of(row) for row in rows}
    answered = [row for row in rows if row.week == drawn_from]
    found: list[Advice] = []
    if week in (farm.week_start_of(today), farm.week_start_of(today) - DAYS):
        record = read_record(farm, drawn_from)
        found = advise(record, set(topics.values()), MOST - len(answered))
    accepted = [row for row in rows if _is_met_in(farm, row, week)]
    now = read_record(farm, week) if accepted else Record()
    return WeekAdvice(
        week,
        week + DAYS <= today,
        drawn_from,
        _with_names(found),
        [Answered(row) for row in answered],
        [Answered(row, look_again(now, topics[row])) for row in accepted],
    )


def _with_names(found: list[Advice]) -> list[Suggested]:
    crops = Crop.objects.in_bulk({one.topic.crop for one in found})
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
    return list(near.select_related("crop", "outlet", "action__person"))


def _is_met_in(farm: Farm, row: Suggestion, week: date) -> bool:
    """Return whether a week is the one after that in which a suggestion was accepted."""
    accepted = row.answer == Suggestion.Answer.ACCEPTED
    return accepted and farm.week_of(row.action.occurred_at) == week - DAYS


def topic_of(row: Suggestion) -> Topic:
    about = str(row.outlet_id) if row.outlet_id else row.about
    return Topic(Rule(row.rule), row.crop_id, row.unit, about)


@dataclass(frozen=True)
class _Span:
    """The weeks that are looked at, as moments and as days."""

    farm: Farm
    last: date

    @property
    def first(self) -> date:
        return self.last - (WEEKS - 1) * DAYS

    @property
    def moments(self) -> tuple[datetime, datetime]:
        return self.farm.day_start(self.first), self.farm.day_start(self.last + DAYS)

    def within(self, name: str) -> Q:
        start, end = self.moments
        return Q((f"{name}__gte", start), (f"{name}__lt", end))

    def day(self, moment: datetime) -> date:
        return moment.astimezone(self.farm.zone).date()

    def ago(self, day: date) -> int:
        """Return how many weeks before the last one a day lies."""
        return (self.last - self.farm.week_start_of(day)) // DAYS


def read_record(farm: Farm, week: date) -> Record:
    """Return what became of a week and the two before it."""
    span = _Span(farm, week)
    crops = Crop.objects.filter(grown=True)
    return Record(
        cuttings=_cuttings(span),
        stalls=_stalls(span),
        coolings=_coolings(span),
        passed=_passed(span),
        harmed=_harmed(span),
        life_days={crop.pk: crop.reference.base_days for crop in crops},
        weight_kg=dict(_weights(crops)),
    )


def _weights(crops: Iterable[Crop]) -> Iterator[tuple[tuple[int, str], Decimal]]:
    """Yield what one of each unit of a crop weighs, where that is known. [kg]"""
    for crop in crops:
        for unit in {*measures.WEIGHTS, crop.unit}:
            kg = crop.kg_of_one(unit)
            if kg:
                yield (crop.pk, unit), kg


def _standing(span: _Span, *kinds: str) -> QuerySet[Movement]:
    return Movement.objects.filter(
        span.within("occurred_at"), kind__in=kinds, undone_by__isnull=True
    )


def _cuttings(span: _Span) -> list[Cutting]:
    """Return what was cut by crop, week and weekday, with what of it was too much so far."""
    own = Q(intake__source__kind=Source.Kind.BLOCK) & span.within("intake__arrived_at")
    lots = (
        Lot.objects.filter(own, parent_links__isnull=True)
        .exclude(state=Lot.State.VOID)
        .values_list("crop_id", "unit", "intake_id", "intake__cut_at", "intake__arrived_at")
        .annotate(crates=Count("pk"), quantity=Total("born_with"))
        .order_by()
    )
    back, wasted = _too_much(span)
    found: dict[tuple, Cutting] = {}
    counted: set[int] = set()
    for crop, unit, intake, cut_at, arrived_at, crates, quantity in lots:
        day = span.day(cut_at or arrived_at)
        key = (span.ago(day), crop, unit, day.weekday())
        one = found.get(key) or Cutting(*key, crates=0, cut=_ZERO)
        fresh = intake not in counted
        counted.add(intake)
        found[key] = replace(
            one,
            crates=one.crates + crates,
            cut=one.cut + quantity,
            back=one.back + (back[intake] if fresh else _ZERO),
            wasted=one.wasted + (wasted[intake] if fresh else _ZERO),
        )
    return list(found.values())


def _too_much(span: _Span) -> tuple[dict[int, Decimal], dict[int, Decimal]]:
    """Return what came back from markets, and what was thrown away or lost there, by harvest."""
    came_back = Q(kind=_KIND.BACK, purpose=Movement.Purpose.MARKET)
    thrown = Q(kind=_KIND.DISCARDED, reason__in=_TOO_MUCH)
    lost = Q(kind=_KIND.SETTLED, outcome=Movement.Outcome.LOST)
    rows = (
        _standing(span, _KIND.BACK, _KIND.DISCARDED, _KIND.SETTLED)
        .filter(came_back | thrown | lost, span.within("lot__intake__arrived_at"))
        .values_list("lot__intake_id", "kind")
        .annotate(change=Total("change"), amount=Total("amount"))
        .order_by()
    )
    back: dict[int, Decimal] = defaultdict(Decimal)
    wasted: dict[int, Decimal] = defaultdict(Decimal)
    for intake, kind, change, amount in rows:
        if kind == _KIND.BACK:
            back[intake] += amount
        else:
            wasted[intake] += amount if kind == _KIND.SETTLED else -change
    return back, wasted


_AT_MARKET = (
    "lot__crop_id", "lot__unit", "outlet_id", "lot_id", "amount", "occurred_at",
    "lot__intake__cut_at", "lot__intake__arrived_at", "lot__intake__source__kind",
)  # fmt: skip


@dataclass
class _Load:
    """What went to one market on one day of a crop; bunch_days: of that of known age."""

    crates: set[str]
    loaded: Decimal = _ZERO
    known: Decimal = _ZERO
    bunch_days: Decimal = _ZERO
    back: Decimal = _ZERO
    sold_out: str = ""

    @property
    def age_days(self) -> Fraction | None:
        return Fraction(self.bunch_days) / Fraction(self.known) if self.known else None


def _stalls(span: _Span) -> list[Stall]:
    """Return what was taken to markets by crop and day, how old, and what of it came back."""
    loads = _loads(span)
    for crop, unit, market, _lot, amount, at, *_harvest in _at_market(span, _KIND.BACK):
        load = _last_load(loads, crop, unit, market, span.day(at))
        if load is not None:
            load.back += amount
    for crop, unit, market, day, sold_out in _sold_out(span):
        load = _last_load(loads, crop, unit, market, day)
        if load is not None:
            load.sold_out = sold_out
    return [
        Stall(
            ago=span.ago(day),
            crop=crop,
            unit=unit,
            market=str(market),
            day=day.toordinal(),
            crates=len(load.crates),
            loaded=load.loaded,
            back=load.back,
            age_days=load.age_days,
            could_days=_days_before(span.farm, day),
            sold_out=load.sold_out,
        )
        for (crop, unit, market, day), load in loads.items()
    ]


# By crop, unit, market and the day on which it went there.
_Loads = dict[tuple[int, str, int, date], _Load]


def _last_load(loads: _Loads, crop: int, unit: str, market: int, day: date) -> _Load | None:
    """Return what last went to a market by a day."""
    days = [key for key in loads if key[:3] == (crop, unit, market) and key[3] <= day]
    return loads[max(days)] if days else None


def _sold_out(span: _Span) -> QuerySet:
    """Return what closing said of each crop of a market; an odd day says nothing of usual ones."""
    sales = MarketSale.objects.filter(
        market_day__in=MarketDay.objects.standing(),
        market_day__day__range=(span.first, span.last + DAYS - DAY),
        market_day__weather=MarketDay.Weather.USUAL,
    ).order_by("market_day__day")
    return sales.values_list("crop_id", "unit", "market_day__outlet", "market_day__day", "sold_out")


def _loads(span: _Span) -> _Loads:
    loads: _Loads = {}
    for crop, unit, market, lot, amount, at, cut_at, came_at, kind in _at_market(span, _KIND.OUT):
        day = span.day(at)
        load = loads.setdefault((crop, unit, market, day), _Load(set()))
        load.crates.add(lot)
        load.loaded += amount
        if kind == Source.Kind.BLOCK:
            load.known += amount
            load.bunch_days += amount * (day - span.day(cut_at or came_at)).days
    return loads


def _at_market(span: _Span, kind: str) -> QuerySet:
    """Return the entries of one kind about markets, as plain values."""
    rows = _standing(span, kind).filter(
        purpose=Movement.Purpose.MARKET, outlet__isnull=False, amount__gt=0
    )
    return rows.values_list(*_AT_MARKET)


def _days_before(farm: Farm, day: date) -> int:
    """Return how many days before a day the farm last cuts; it cuts every day if it set none."""
    cuts = {int(digit) for digit in farm.harvest_days} or set(range(7))
    return next(back for back in range(1, 8) if (day - back * DAY).weekday() in cuts)


def _coolings(span: _Span) -> list[Cooling]:
    """Return which share of its life a crop of the last week lost before it was cold.

    The mean of its harvests, by how much they were; of those whose cut time somebody gave.
    """
    harvests = _harvests(span)
    clocks = read_clocks([one.lot for one in harvests], span.farm)
    cut: dict[tuple[int, str], Decimal] = defaultdict(Decimal)
    lost: dict[tuple[int, str], Decimal] = defaultdict(Decimal)
    for one in harvests:
        parts = clocks.life(one.lot.pk, one.came_at + _COLD_WITHIN).parts
        key = one.lot.crop_id, one.lot.unit
        cut[key] += one.amount
        lost[key] += one.amount * Decimal(parts["field"] + parts["cooling"])
    return [
        Cooling(0, *key, share=Fraction(lost[key]) / Fraction(cut[key]), lost=round(lost[key], 1))
        for key in cut
    ]


@dataclass(frozen=True)
class _Harvest:
    """A crate of a harvest, whose life before it was cold is that of all, and how much it was."""

    lot: Lot
    came_at: datetime
    amount: Decimal


def _harvests(span: _Span) -> list[_Harvest]:
    """Return what was cut in the last week, where the time is known."""
    start = span.farm.day_start(span.last)
    lots = (
        Lot.objects.filter(span.within("intake__arrived_at"), intake__arrived_at__gte=start)
        .filter(intake__source__kind=Source.Kind.BLOCK, parent_links__isnull=True)
        .filter(intake__cut_at__isnull=False)
        .exclude(state=Lot.State.VOID)
    )
    sums = lots.values("intake").annotate(first=Min("pk"), amount=Total("born_with")).order_by()
    amounts = dict(sums.values_list("first", "amount"))
    firsts = Lot.objects.select_related("crop", "container", "intake__source", "position")
    return [
        _Harvest(lot, lot.intake.arrived_at, amounts[lot.pk])
        for lot in firsts.filter(pk__in=amounts).order_by("pk")
        if lot.intake
    ]


def _passed(span: _Span) -> list[Passed]:
    """Return the crates that stood on a shelf while one went out that keeps a day longer or more,
    though they would have done for that buyer and could be reached."""
    takes = FirstInLine.objects.filter(
        span.within("movement__occurred_at"),
        movement__undone_by__isnull=True,
        first__isnull=False,
        why_not="",
        reachable=True,
        days_apart__gt=0,
    )
    stood = _stood("first", "movement__occurred_at")
    rows = list(
        takes.annotate(stood=stood).values_list(
            "movement__occurred_at", "stood", "first__crop_id", "first__unit", "first__born_with"
        )
    )
    places = Position.objects.in_bulk({place for _at, place, *_first in rows if place})
    return [
        Passed(span.ago(span.day(at)), crop, unit, _shelf(places[place]), held)
        for at, place, crop, unit, held in rows
        if place
    ]


def _shelf(place: Position) -> str:
    return f"{place.rack}{place.shelf}"


def _stood(lot: str, at: str) -> Subquery:
    """Return what finds the place at which a crate stood, by the names of its fields."""
    entries = Movement.objects.filter(
        lot=OuterRef(lot),
        position__isnull=False,
        undone_by__isnull=True,
        occurred_at__lte=OuterRef(at),
    ).order_by("-occurred_at", "-pk")
    return Subquery(entries.values("position_id")[:1])


def _harmed(span: _Span) -> list[Harmed]:
    """Return what was thrown away because cold had hurt it, by the place it had stood at."""
    thrown = _standing(span, _KIND.DISCARDED).filter(reason__in=_BY_COLD)
    rows = list(
        thrown.annotate(stood=_stood("lot", "occurred_at")).values_list(
            "occurred_at", "stood", "lot__crop_id", "lot__unit", "change"
        )
    )
    places = Position.objects.in_bulk({place for _at, place, *_lot in rows if place})
    found: dict[tuple[int, int, str, str], Decimal] = defaultdict(Decimal)
    for at, place, crop, unit, change in rows:
        if place:
            found[span.ago(span.day(at)), crop, unit, str(places[place])] -= change
    return [Harmed(*key, wasted) for key, wasted in found.items()]
