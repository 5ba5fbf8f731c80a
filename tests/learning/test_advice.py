"""What the rules of the week say, at their thresholds and just below.

The thresholds are common practice, no source; the sums are worked by hand.
"""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from inventory.learning.advice import (
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

KALE, LETTUCE = 1, 2
D = Decimal


def cut(ago=0, back=12, wasted=0, crates=3, weekday=2, crop=KALE) -> Cutting:
    """36 bunches in three crates on a Wednesday, of which one crate came back."""
    return Cutting(ago, crop, "bunch", weekday, crates, D(12 * crates), D(back), D(wasted))


def stall(ago=0, **changes) -> Stall:
    """A Saturday with two crates of kale cut on the Monday before."""
    values = {
        "ago": ago, "crop": KALE, "unit": "bunch", "market": "7", "day": 100 - 7 * ago,
        "crates": 2, "loaded": D(24), "back": D(3), "age_days": Fraction(4), "could_days": 2,
    }  # fmt: skip
    return Stall(**values | changes)


def passed(ago=0, shelf="A1", held=6, crop=KALE) -> Passed:
    return Passed(ago, crop, "bunch", shelf, D(held))


def harmed(ago=0, place="A4", wasted=5) -> Harmed:
    return Harmed(ago, KALE, "bunch", place, D(wasted))


def cooled(share, ago=0, lost=4) -> Cooling:
    return Cooling(ago, LETTUCE, "head", Fraction(share), D(lost))


THREE = (2, 1, 0)

# (what is so, what the one rule says: topic, before, proposed; None where it is silent)
RULES = {
    "a crate came back three weeks running": (
        Record(cuttings=[cut(ago) for ago in THREE]),
        (Topic(Rule.CUT_LESS, KALE, "bunch", "2"), 3, 2),
    ),
    "or was thrown away": (
        Record(cuttings=[cut(ago, back=0, wasted=12) for ago in THREE]),
        (Topic(Rule.CUT_LESS, KALE, "bunch", "2"), 3, 2),
    ),
    "a bunch less than a crate, once": (
        Record(cuttings=[cut(2), cut(1, back=11), cut(0)]), None,
    ),
    "half a crate each way is no crate: the same bunches may be both": (
        Record(cuttings=[cut(ago, back=6, wasted=6) for ago in THREE]), None,
    ),
    "two weeks are not three": (Record(cuttings=[cut(1), cut(0)]), None),
    "nor are three with a gap": (Record(cuttings=[cut(3), cut(1), cut(0)]), None),
    "nor three that ended a week ago": (Record(cuttings=[cut(3), cut(2), cut(1)]), None),
    "each weekday for itself": (
        Record(cuttings=[cut(2), cut(1, weekday=4), cut(0)]), None,
    ),
    "of the last crate none is taken": (
        Record(cuttings=[cut(ago, crates=1) for ago in THREE]), None,
    ),
    "four days old at three markets": (
        Record(stalls=[stall(ago) for ago in THREE], life_days={KALE: 16}),
        (Topic(Rule.CUT_LATER, KALE, "bunch", "7"), 4, 2),
    ),
    "a little younger at one of them": (
        Record(stalls=[stall(2), stall(1, age_days=Fraction(39, 10)), stall(0)]), None,
    ),
    "four days are no quarter of a life of seventeen": (
        Record(stalls=[stall(ago) for ago in THREE], life_days={KALE: 17}), None,
    ),
    "old at two markets": (Record(stalls=[stall(1), stall(0)]), None),
    "of one nobody knows how old": (
        Record(stalls=[stall(2), stall(1, age_days=None), stall(0)]), None,
    ),
    "no harvest day is nearer": (
        Record(stalls=[stall(ago, could_days=4) for ago in THREE]), None,
    ),
    "a market that was not held this week": (
        Record(stalls=[stall(ago) for ago in (3, 2, 1)]), None,
    ),
    "a fifth of a life": (
        Record(coolings=[cooled("1/5")]), (Topic(Rule.COOL_SOONER, LETTUCE, "head"), 20, 10),
    ),
    "less than a fifth": (Record(coolings=[cooled("199/1000")]), None),
    "a fifth, a week ago": (Record(coolings=[cooled("1/5", ago=1)]), None),
    "older ones stood there three times": (
        Record(passed=[passed(2), passed(0), passed(0)]),
        (Topic(Rule.LOOK_FIRST, KALE, "bunch", "A1"), 2, 0),
    ),
    "twice, and once on another shelf": (
        Record(passed=[passed(2), passed(0), passed(0, shelf="B1")]), None,
    ),
    "twice, and once another crop": (
        Record(passed=[passed(2), passed(0), passed(0, crop=LETTUCE)]), None,
    ),
    "three times, not this week": (Record(passed=[passed(2), passed(1), passed(1)]), None),
    "sold out early twice": (
        Record(stalls=[stall(ago, age_days=None, sold_out="early") for ago in (1, 0)]),
        (Topic(Rule.LOAD_MORE, KALE, "bunch", "7"), 2, 3),
    ),
    "once early, once at the end": (
        Record(stalls=[stall(1, sold_out="end"), stall(0, sold_out="early")]), None,
    ),
    "once early": (Record(stalls=[stall(0, sold_out="early")]), None),
    "early twice, not the last time": (
        Record(
            stalls=[stall(ago, age_days=None, sold_out="early" if ago else "no") for ago in THREE]
        ),
        None,
    ),
    "cold hurt it there again": (
        Record(harmed=[harmed(2), harmed(0)]),
        (Topic(Rule.CHECK_PLACE, KALE, "bunch", "A4"), 5, 0),
    ),
    "twice in one week": (Record(harmed=[harmed(0), harmed(0)]), None),
    "at another place": (Record(harmed=[harmed(1, place="A3"), harmed(0)]), None),
    "before, and not this week": (Record(harmed=[harmed(2), harmed(1)]), None),
}  # fmt: skip


@pytest.mark.parametrize(("record", "said"), RULES.values(), ids=RULES)
def test_a_rule_speaks_at_its_threshold_and_not_below(record, said):
    told = [(one.topic, one.before, one.proposed) for one in advise(record)]
    assert told == ([said] if said else [])


def test_a_piece_of_advice_shows_its_sums():
    record = Record(cuttings=[cut(2, back=14), cut(1), cut(0, back=13, wasted=18)])
    (one,) = advise(record)
    assert one.sums == ((14, 36), (12, 36), (18, 36))
    assert (one.outcome, one.stake) == (18, 44)


def test_the_last_market_counts_where_there_are_two_in_a_week():
    days = [
        stall(0, day=day, crates=crates, sold_out="early") for day, crates in ((98, 3), (95, 2))
    ]
    (one,) = advise(Record(stalls=days))
    assert (one.before, one.proposed, one.sums) == (3, 4, ((24, 0), (24, 0)))
    assert one.stake == 8


MANY = Record(
    cuttings=[cut(ago, weekday=day) for ago in THREE for day in range(4)],
    passed=[passed(0, held=900, crop=LETTUCE)] * 3,
    harmed=[harmed(1), harmed(0, wasted=60)],
)


def topics(found) -> list[tuple]:
    return [(one.topic.rule, one.topic.about) for one in found]


def test_three_are_said_at_most_the_heaviest_first():
    """Four weekdays of 36 bunches each and 65 that cold hurt; lettuce has no weight."""
    record = replace(MANY, weight_kg={(KALE, "bunch"): D("0.25")})
    assert topics(advise(record)) == [
        (Rule.CHECK_PLACE, "A4"), (Rule.CUT_LESS, "0"), (Rule.CUT_LESS, "1"),
    ]  # fmt: skip
    assert topics(advise(record, most=1)) == [(Rule.CHECK_PLACE, "A4")]
    assert advise(record, most=0) == advise(record, most=-1) == []
    heads = replace(record, weight_kg={(LETTUCE, "bunch"): D("0.4")})
    assert topics(advise(heads, most=1)) == [(Rule.LOOK_FIRST, "A1")]


def test_what_was_answered_rests_and_others_step_up():
    record = replace(MANY, weight_kg={(KALE, "bunch"): D("0.25")})
    resting = {Topic(Rule.CUT_LESS, KALE, "bunch", "0"), Topic(Rule.CUT_LESS, KALE, "kg", "1")}
    assert topics(advise(record, resting)) == [
        (Rule.CHECK_PLACE, "A4"), (Rule.CUT_LESS, "1"), (Rule.CUT_LESS, "2"),
    ]  # fmt: skip


# How each figure is met again, where the week has it and where it has none.
AGAIN = [
    (Record(cuttings=[cut(0, crates=2, back=1, wasted=4), cut(1)]), ("2",), (2, 4)),
    (Record(cuttings=[cut(0, weekday=3), cut(1)]), ("2",), (None, None)),
]
MARKETS = [
    (Record(stalls=[stall(1), stall(0, age_days=Fraction(12, 5), back=D(1))]), (2, 1), (2, 1)),
    (Record(stalls=[stall(0, age_days=None)]), (None, 3), (2, 3)),
    (Record(stalls=[stall(1)]), (None, None), (None, None)),
]


@pytest.mark.parametrize(("record", "about", "figures"), AGAIN)
def test_what_was_cut_on_the_weekday_is_met_again(record, about, figures):
    assert look_again(record, Topic(Rule.CUT_LESS, KALE, "bunch", *about)) == Figures(*figures)


@pytest.mark.parametrize(("record", "later", "more"), MARKETS)
def test_what_was_at_the_market_is_met_again(record, later, more):
    assert look_again(record, Topic(Rule.CUT_LATER, KALE, "bunch", "7")) == Figures(*later)
    assert look_again(record, Topic(Rule.LOAD_MORE, KALE, "bunch", "7")) == Figures(*more)


def test_what_was_cooled_passed_or_harmed_is_met_again():
    record = Record(
        coolings=[cooled("3/25", lost=1), cooled("1/5", ago=1)],
        passed=[passed(1), passed(0), passed(0, shelf="B1", held=9)],
        harmed=[harmed(1), harmed(0, wasted=2), harmed(0, place="A3")],
    )
    for topic, figures in [
        (Topic(Rule.COOL_SOONER, LETTUCE, "head"), (12, 1)),
        (Topic(Rule.COOL_SOONER, KALE, "bunch"), (None, None)),
        (Topic(Rule.LOOK_FIRST, KALE, "bunch", "A1"), (1, 6)),
        (Topic(Rule.LOOK_FIRST, KALE, "bunch", "C1"), (0, 0)),
        (Topic(Rule.CHECK_PLACE, KALE, "bunch", "A4"), (2, 2)),
        (Topic(Rule.CHECK_PLACE, KALE, "bunch", "A1"), (0, 0)),
    ]:
        assert look_again(record, topic) == Figures(*figures)


@pytest.mark.parametrize("rule", Rule)
def test_done_is_what_moved_the_way_it_says(rule):
    more = rule == Rule.LOAD_MORE
    assert is_done(rule, D(3), D(4)) == more
    assert is_done(rule, D(3), D(2)) != more
    assert not is_done(rule, D(3), D(3))
