"""What to do next week: rules a reader can follow, from what became of the last three weeks.

Each rule names one figure, says from what to what it should go, and shows the sums it comes from.
Whether a rule helps nobody can know from one week: what followed is shown beside it, no more.
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple, TypeVar

# Common practice, no source: what happens once or twice is chance, and a list of more than three
# is not read. So are all figures here.
WEEKS = 3
MOST = 3
RESTS_WEEKS = 4  # for so long nobody is asked again about what was answered
OLD_DAYS = 4  # at market, and
OLD_SHARE = Fraction(1, 4)  # of its keeping life
LONG_WARM = Fraction(1, 5)  # of its keeping life gone before it was cold
PASSED_TIMES = 3  # older crates of a shelf, in three weeks
SOLD_OUT_TIMES = 2  # early, at markets one after the other
HARMED_WEEKS = 2  # of the three
EARLY = "early"
_NONE = Decimal(0)


class Rule(StrEnum):
    CUT_LESS = "cut less"
    CUT_LATER = "cut later"
    COOL_SOONER = "cool sooner"
    LOOK_FIRST = "look first"
    LOAD_MORE = "load more"
    CHECK_PLACE = "check place"


class Topic(NamedTuple):
    """What a piece of advice is about. about: the weekday (0 is Monday), market, shelf or place
    that the rule speaks of besides the crop."""

    rule: Rule
    crop: int
    unit: str
    about: str = ""


@dataclass(frozen=True)
class Cutting:
    """What was cut of a crop on one weekday of a week, and what of it was too much.

    ago: weeks before the week that is looked at, 0 is that week. back: came back from markets;
    wasted: thrown away as nobody wanted it in time. A bunch may be both. In the crop's unit.
    """

    ago: int
    crop: int
    unit: str
    weekday: int
    crates: int
    cut: Decimal
    back: Decimal = _NONE
    wasted: Decimal = _NONE

    @property
    def crate(self) -> Decimal:
        """What a crate held."""
        return self.cut / self.crates

    @property
    def spare(self) -> Decimal:
        """At least so much was too much: the more of the two, so that no bunch counts twice."""
        return max(self.back, self.wasted)


@dataclass(frozen=True)
class Stall:
    """A crop on one market day. day: any number that grows with the days.

    age_days: how old it was, the mean of all of it; None where that is not known. could_days: how
    old it is if cut on the last harvest day before. sold_out: "early", "end", "no" or "".
    """

    ago: int
    crop: int
    unit: str
    market: str
    day: int
    crates: int
    loaded: Decimal
    back: Decimal = _NONE
    age_days: Fraction | None = None
    could_days: int = 1
    sold_out: str = ""


@dataclass(frozen=True)
class Cooling:
    """Which share of a crop's keeping life was gone before it was cold, of a week's harvest.

    lost: so much that stands for, in the crop's unit.
    """

    ago: int
    crop: int
    unit: str
    share: Fraction
    lost: Decimal = _NONE


@dataclass(frozen=True)
class Passed:
    """An older crate that stayed on its shelf when a younger one went out. held: what was in it."""

    ago: int
    crop: int
    unit: str
    shelf: str
    held: Decimal


@dataclass(frozen=True)
class Harmed:
    """What was thrown away in a week because cold had hurt it, and where it had stood."""

    ago: int
    crop: int
    unit: str
    place: str
    wasted: Decimal


@dataclass(frozen=True)
class Record:
    """Three weeks as they were. life_days: of crops; weight_kg: of one of a crop's unit."""

    cuttings: Collection[Cutting] = ()
    stalls: Collection[Stall] = ()
    coolings: Collection[Cooling] = ()
    passed: Collection[Passed] = ()
    harmed: Collection[Harmed] = ()
    life_days: Mapping[int, float] = field(default_factory=dict)
    weight_kg: Mapping[tuple[int, str], Decimal] = field(default_factory=dict)


class Share(NamedTuple):
    """So much of so much, as in "4 of 12"; of nothing where it is a figure by itself."""

    part: Decimal
    whole: Decimal = _NONE


@dataclass(frozen=True)
class Advice:
    """What a rule says. before, proposed: of the figure it names. sums: what it comes from, the
    oldest first. outcome: what should become less with it, as it was this week. stake: what it is
    about, of three weeks; of what can be won by loading more, of one. In the crop's unit."""

    topic: Topic
    before: Decimal
    proposed: Decimal
    sums: tuple[Share, ...]
    outcome: Decimal
    stake: Decimal


class Figures(NamedTuple):
    """The figure a rule names, and what should follow it; None where a week has none."""

    figure: Decimal | None
    outcome: Decimal | None


def advise(record: Record, resting: Collection[Topic] = (), most: int = MOST) -> list[Advice]:
    """Return the few pieces of advice that weigh most. resting: what was answered lately.

    They rank by the weight at stake; what is counted and has no weight comes after.
    """
    found = [
        one
        for rule in _RULES
        for one in rule(record)
        if one.topic not in resting
    ]  # fmt: skip
    return sorted(found, key=lambda one: -_weight(record, one))[: max(most, 0)]


def _weight(record: Record, advice: Advice) -> Decimal:
    topic = advice.topic
    return advice.stake * record.weight_kg.get((topic.crop, topic.unit), _NONE)


def cut_less(record: Record) -> Iterator[Advice]:
    """A crate less, where three weeks running a crate or more of a weekday's harvest was spare.

    Example: 12, 14 and 12 of 36 bunches in 3 crates came back: 2 crates.
    """
    for (crop, unit, weekday), found in _by(
        record.cuttings, lambda one: (one.crop, one.unit, one.weekday)
    ):
        weeks = sorted(found, key=lambda one: -one.ago)
        last = weeks[-1]
        running = [one.ago for one in weeks] == [*range(WEEKS)][::-1]
        if running and last.crates > 1 and all(one.spare >= one.crate for one in weeks):
            yield Advice(
                Topic(Rule.CUT_LESS, crop, unit, str(weekday)),
                before=Decimal(last.crates),
                proposed=Decimal(last.crates - 1),
                sums=tuple(Share(one.spare, one.cut) for one in weeks),
                outcome=last.spare,
                stake=sum((one.spare for one in weeks), _NONE),
            )


def cut_later(record: Record) -> Iterator[Advice]:
    """Nearer the market, where a crop was old at three markets running: at least four days, and a
    quarter of its life. Only where a harvest day nearer the market there is."""
    for topic, days in _markets(record, Rule.CUT_LATER):
        ages = [one.age_days for one in days[-WEEKS:] if one.age_days is not None]
        old = max(Fraction(OLD_DAYS), Fraction(record.life_days.get(topic.crop, 0)) * OLD_SHARE)
        last = days[-1]
        if len(ages) == WEEKS and min(ages) >= old and last.could_days < round(ages[-1]):
            yield Advice(
                topic,
                before=Decimal(round(ages[-1])),
                proposed=Decimal(last.could_days),
                sums=tuple(Share(Decimal(round(age))) for age in ages),
                outcome=last.back,
                stake=sum((one.back for one in days[-WEEKS:]), _NONE),
            )


def cool_sooner(record: Record) -> Iterator[Advice]:
    """Sooner into the cold, where a fifth of a harvest's life was gone before it was cold."""
    for one in record.coolings:
        if one.ago == 0 and one.share >= LONG_WARM:
            yield Advice(
                Topic(Rule.COOL_SOONER, one.crop, one.unit),
                before=_percent(one.share),
                proposed=_percent(LONG_WARM / 2),
                sums=(Share(_percent(one.share), _percent(LONG_WARM)),),
                outcome=one.lost,
                stake=one.lost,
            )


def look_first(record: Record) -> Iterator[Advice]:
    """Where older crates of a crop stood on one shelf three times while younger ones went out."""
    for (crop, unit, shelf), found in _by(
        record.passed, lambda one: (one.crop, one.unit, one.shelf)
    ):
        now = [one for one in found if one.ago == 0]
        if now and len(found) >= PASSED_TIMES:
            yield Advice(
                Topic(Rule.LOOK_FIRST, crop, unit, shelf),
                before=Decimal(len(now)),
                proposed=_NONE,
                sums=(Share(Decimal(len(found))),),
                outcome=sum((one.held for one in now), _NONE),
                stake=sum((one.held for one in found), _NONE),
            )


def load_more(record: Record) -> Iterator[Advice]:
    """A crate more, where a crop was sold out early at two markets running."""
    for topic, days in _markets(record, Rule.LOAD_MORE):
        lately, last = days[-SOLD_OUT_TIMES:], days[-1]
        early = [one for one in lately if one.sold_out == EARLY]
        if len(early) == SOLD_OUT_TIMES and last.crates:
            yield Advice(
                topic,
                before=Decimal(last.crates),
                proposed=Decimal(last.crates + 1),
                sums=tuple(Share(one.loaded) for one in lately),
                outcome=last.back,
                stake=last.loaded / last.crates,
            )


def check_place(record: Record) -> Iterator[Advice]:
    """Where cold hurt a crop this week that it had hurt at that place in an earlier one too."""
    for (crop, unit, place), found in _by(
        record.harmed, lambda one: (one.crop, one.unit, one.place)
    ):
        weeks = sorted(found, key=lambda one: -one.ago)
        times = len({one.ago for one in weeks})
        if times >= HARMED_WEEKS and weeks[-1].ago == 0:
            yield Advice(
                Topic(Rule.CHECK_PLACE, crop, unit, place),
                before=weeks[-1].wasted,
                proposed=_NONE,
                sums=tuple(Share(one.wasted) for one in weeks),
                outcome=weeks[-1].wasted,
                stake=sum((one.wasted for one in weeks), _NONE),
            )


_RULES = (cut_less, cut_later, cool_sooner, look_first, load_more, check_place)

_Row = TypeVar("_Row", Cutting, Stall, Passed, Harmed)


def _by(rows: Iterable[_Row], key: Callable[[_Row], tuple]) -> Iterable[tuple[tuple, list[_Row]]]:
    found: dict[tuple, list[_Row]] = defaultdict(list)
    for row in rows:
        found[key(row)].append(row)
    return sorted(found.items())


def _markets(record: Record, rule: Rule) -> Iterator[tuple[Topic, list[Stall]]]:
    """Yield each crop that was at a market this week, with all its days there, the last last."""
    for (crop, unit, market), found in _by(
        record.stalls, lambda one: (one.crop, one.unit, one.market)
    ):
        days = sorted(found, key=lambda one: one.day)
        if days[-1].ago == 0:
            yield Topic(rule, crop, unit, market), days


def _percent(share: Fraction) -> Decimal:
    return Decimal(round(share * 100))


def is_done(rule: Rule, before: Decimal, now: Decimal) -> bool:
    """Return whether the figure a rule names moved the way it says, however far."""
    return now > before if rule == Rule.LOAD_MORE else now < before


def look_again(record: Record, topic: Topic) -> Figures:
    """Return how the figure of a topic stands in the week that is looked at."""
    return _AGAIN[topic.rule](record, topic)


def _cut_again(record: Record, topic: Topic) -> Figures:
    for one in record.cuttings:
        if (one.ago, one.crop, one.unit, str(one.weekday)) == (0, *topic[1:]):
            return Figures(Decimal(one.crates), one.spare)
    return Figures(None, None)


def _at_market_again(record: Record, topic: Topic) -> Figures:
    days = next((days for about, days in _markets(record, topic.rule) if about == topic), None)
    if days is None:
        return Figures(None, None)
    last = days[-1]
    if topic.rule == Rule.LOAD_MORE:
        return Figures(Decimal(last.crates), last.back)
    age = None if last.age_days is None else Decimal(round(last.age_days))
    return Figures(age, last.back)


def _cooled_again(record: Record, topic: Topic) -> Figures:
    for one in record.coolings:
        if (one.ago, one.crop, one.unit) == (0, topic.crop, topic.unit):
            return Figures(_percent(one.share), one.lost)
    return Figures(None, None)


def _passed_again(record: Record, topic: Topic) -> Figures:
    held = [
        one.held
        for one in record.passed
        if (one.ago, one.crop, one.unit, one.shelf) == (0, *topic[1:])
    ]
    return Figures(Decimal(len(held)), sum(held, _NONE))


def _harmed_again(record: Record, topic: Topic) -> Figures:
    wasted = sum(
        (
            one.wasted
            for one in record.harmed
            if (one.ago, one.crop, one.unit, one.place) == (0, *topic[1:])
        ),
        _NONE,
    )
    return Figures(wasted, wasted)


_AGAIN: dict[Rule, Callable[[Record, Topic], Figures]] = {
    Rule.CUT_LESS: _cut_again,
    Rule.CUT_LATER: _at_market_again,
    Rule.COOL_SOONER: _cooled_again,
    Rule.LOOK_FIRST: _passed_again,
    Rule.LOAD_MORE: _at_market_again,
    Rule.CHECK_PLACE: _harmed_again,
}
