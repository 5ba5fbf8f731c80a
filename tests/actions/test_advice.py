"""What is answered to a suggestion, and what can't be."""

from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest

from inventory.actions.advice import answer_suggestion
from inventory.actions.undo import undo
from inventory.errors import Conflict, Refused
from inventory.models import Suggestion
from inventory.queries.advice import count_advice as read_advice
from tests.builders import act, make_crew, make_lot, market, owner, take
from tests.refusing import refused
from tests.too_much import LAST_DAY, WEEK, cut_too_much

MONDAY = date(2026, 6, 8)


@pytest.fixture
def key(farm) -> str:
    """A farm to which it is suggested to cut two crates, not three."""
    cut_too_much()
    (one,) = read_advice(farm, MONDAY, LAST_DAY.date()).open
    return one.key


def answer(key, said=None, accepted=True, **changes):
    values = {"week": MONDAY, "key": key, "accepted": accepted}
    return answer_suggestion(said or act(LAST_DAY), **values | changes)


def test_what_is_accepted_is_kept_with_its_sums(key):
    action = answer(key)
    row = Suggestion.objects.get()
    assert (row.action, row.week, row.answer) == (action, MONDAY, "accepted")
    assert (row.rule, row.unit, row.about, row.outlet) == ("cut less", "bunch", "2", None)
    assert (row.before, row.proposed, row.figure, row.outcome) == (3, 2, 2, 12)
    assert [[Decimal(figure) for figure in pair] for pair in row.sums] == [[12, 36]] * 3


def test_the_number_may_be_another_that_goes_the_same_way(key):
    for figure in ("3", "4"):
        with refused(Refused("other-way", field="figure", number=Decimal(3))):
            answer(key, figure=Decimal(figure))
    answer(key, figure=Decimal(0))
    row = Suggestion.objects.get()
    assert (row.proposed, row.figure) == (2, 0)


def test_what_is_waved_away_keeps_that(key):
    answer(key, accepted=False)
    assert Suggestion.objects.get().answer == "waved"


def test_it_is_answered_once_and_only_what_is_suggested(key):
    first = act(LAST_DAY)
    answer(key, first)
    assert answer(key, first).pk == first.id
    with refused(Conflict("sent-before")):
        answer(key, first, accepted=False)
    for gone in (key, "no such thing"):
        with refused(Conflict("suggestion-gone")):
            answer(gone)
    assert Suggestion.objects.count() == 1


def test_one_of_a_week_long_gone_is_not_open_any_more(key):
    with refused(Conflict("suggestion-gone")):
        answer(key, act(LAST_DAY + 2 * WEEK))


def test_only_the_owner_answers(key):
    for said in (act(LAST_DAY, make_crew()), act(LAST_DAY, owner())):
        with refused(Refused("owner-only")):
            answer(key, said)


def test_an_answer_taken_back_is_open_again(key):
    action = answer(key, accepted=False)
    undo(act(LAST_DAY + timedelta(days=1)), action=action)
    answer(key)
    assert [row.answer for row in Suggestion.objects.standing()] == ["accepted"]


def test_what_is_about_a_market_names_it(farm):
    """Of kale cut on Saturday a week before each market, seven days old."""
    for ago in range(3):
        saturday = LAST_DAY - timedelta(days=1) - ago * WEEK
        take(make_lot(12, at=saturday - WEEK), "all", at=saturday)
    (one,) = read_advice(farm, MONDAY, LAST_DAY.date()).open
    answer(one.key, act(LAST_DAY, id=uuid4()))
    row = Suggestion.objects.get()
    assert (row.rule, row.outlet, row.about) == ("cut later", market(), "")
    assert (row.before, row.figure) == (7, 1)
    assert read_advice(farm, MONDAY, LAST_DAY.date()).open == []
