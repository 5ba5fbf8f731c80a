"""What one scan means: the whole table, row by row and in every combination of two."""

from itertools import combinations, product

import pytest

from inventory.rotation.scans import ROWS, Answer, Decision, Fact, Mode, decide

# By mode, what each fact alone leads to; whatever is not named here is simply done.
MEANS = {
    Mode.LOOK: {Answer.REFUSE: {Fact.FREE_TAG, Fact.UNKNOWN}},
    Mode.PUT_AWAY: {
        Answer.REFUSE: {Fact.FREE_TAG, Fact.UNKNOWN, Fact.NO_PLACE, Fact.NOT_HERE},
        Answer.WARN: {Fact.HARMS, Fact.OVER_FULL},
    },
    Mode.ORDER: {
        Answer.REFUSE: {
            Fact.FREE_TAG, Fact.UNKNOWN, Fact.NO_ORDER, Fact.TAKEN, Fact.NOT_HERE,
            Fact.PAST_USE_BY, Fact.HELD, Fact.REFUSED_BY_BUYER,
        },
        Answer.ASK: {
            Fact.FAR_PAST, Fact.UNFIT, Fact.PART_TAKEN, Fact.NOT_OF_ORDER, Fact.NOT_PLANNED,
        },
    },
    Mode.MARKET: {
        Answer.REFUSE: {
            Fact.FREE_TAG, Fact.UNKNOWN, Fact.NO_MARKET, Fact.NOT_HERE, Fact.PAST_USE_BY,
            Fact.HELD, Fact.REFUSED_BY_BUYER,
        },
        Answer.ASK: {Fact.FAR_PAST, Fact.UNFIT, Fact.OLDER_FIRST},
    },
    Mode.BACK: {
        Answer.REFUSE: {Fact.FREE_TAG, Fact.UNKNOWN, Fact.NOTHING_OUT},
        Answer.WARN: {Fact.HARMS, Fact.OVER_FULL},
    },
    Mode.DISCARD: {Answer.REFUSE: {Fact.FREE_TAG, Fact.UNKNOWN, Fact.NO_REASON, Fact.NOT_HERE}},
    Mode.COUNT: {
        Answer.REFUSE: {Fact.FREE_TAG, Fact.UNKNOWN, Fact.NO_PLACE},
        Answer.WARN: {Fact.NOT_HERE},
    },
    Mode.TAG: {
        Answer.REFUSE: {Fact.NOT_A_TAG, Fact.ALL_TAGGED},
        Answer.ASK: {Fact.LEFT_BARE},
    },
}  # fmt: skip
SEVERITY = [Answer.DO, Answer.WARN, Answer.ASK, Answer.REFUSE]


def alone(mode: Mode, fact: Fact) -> Answer:
    return next((answer for answer, facts in MEANS[mode].items() if fact in facts), Answer.DO)


@pytest.mark.parametrize(("mode", "fact"), list(product(Mode, Fact)))
def test_what_each_fact_leads_to_in_each_mode(mode, fact):
    assert decide(mode, frozenset({fact})).answer == alone(mode, fact)


@pytest.mark.parametrize("mode", Mode)
def test_nothing_in_the_way_is_done(mode):
    assert decide(mode, frozenset()) == Decision(Answer.DO)


@pytest.mark.parametrize("mode", Mode)
def test_of_two_facts_the_graver_decides(mode):
    """A refusal comes before a question, a question before a warning."""
    for pair in combinations(set(Fact) - {Fact.OVERRULED, Fact.STANDS_HERE}, 2):
        answer = decide(mode, frozenset(pair)).answer
        assert answer == max((alone(mode, fact) for fact in pair), key=SEVERITY.index), pair


@pytest.mark.parametrize("mode", Mode)
def test_overruling_answers_questions_and_nothing_else(mode):
    for fact in set(Fact) - {Fact.OVERRULED}:
        answer = decide(mode, frozenset({fact, Fact.OVERRULED})).answer
        expected = alone(mode, fact)
        assert answer == (Answer.DO if expected == Answer.ASK else expected), fact


def test_a_crate_that_stands_here_already_is_not_moved():
    decision = decide(Mode.PUT_AWAY, frozenset({Fact.STANDS_HERE, Fact.OVER_FULL}))
    assert decision == Decision(Answer.DO, Fact.STANDS_HERE)


def test_every_fact_decides_somewhere():
    assert {row.fact for row in ROWS} == set(Fact) - {Fact.OVERRULED}


def test_of_what_was_taken_for_the_order_that_is_told_not_where_it_is():
    gone = decide(Mode.ORDER, frozenset({Fact.TAKEN, Fact.NOT_HERE, Fact.NOT_OF_ORDER}))
    assert gone == Decision(Answer.REFUSE, Fact.TAKEN)
    rest = decide(Mode.ORDER, frozenset({Fact.PART_TAKEN, Fact.NOT_OF_ORDER}))
    assert rest == Decision(Answer.ASK, Fact.PART_TAKEN)


@pytest.mark.parametrize("mode", [Mode.ORDER, Mode.MARKET])
def test_far_past_its_time_is_asked_about_in_days_not_in_general(mode):
    decision = decide(mode, frozenset({Fact.UNFIT, Fact.FAR_PAST}))
    assert decision == Decision(Answer.ASK, Fact.FAR_PAST)
