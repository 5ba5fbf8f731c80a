"""What the week's advice is drawn from, and when there is any. Sums worked by hand, no source."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from inventory.actions.advice import answer_suggestion
from inventory.actions.movements import Settling, close_market, move_lots
from inventory.actions.undo import undo
from inventory.keeping import life_used
from inventory.learning.advice import Figures, Harmed, Passed, Rule
from inventory.ledger.weeks import count_up_to, forget_weeks
from inventory.models import Crop, Farm, FirstInLine, MarketDay
from inventory.queries import advice as queries
from inventory.queries.advice import count_advice as read_advice
from tests.builders import (
    NOW,
    act,
    at_market,
    crop,
    make_cases,
    make_lot,
    make_lots,
    market,
    place,
    take,
)
from tests.models.test_advice import answered
from tests.models.test_ledger import make_action
from tests.too_much import LAST_DAY, WEEK, cut_kale, cut_too_much, throw

MONDAY = date(2026, 6, 8)
SUNDAY = LAST_DAY.date()
DAY, HOUR = timedelta(days=1), timedelta(hours=1)


def read_record(farm, week):
    count_up_to(farm, week)
    return queries.read_record(farm, week, Crop.objects.in_bulk())


def cuttings(farm) -> list[tuple]:
    """(weeks ago, weekday, crates, cut, back, wasted)"""
    return sorted(
        (one.ago, one.weekday, one.crates, one.cut, one.back, one.wasted)
        for one in read_record(farm, MONDAY).cuttings
    )


def test_harvests_are_told_by_the_weekday_with_what_of_them_was_too_much(farm):
    cut_kale(NOW - WEEK, wasted=7)
    cut_kale(NOW, crates=2, wasted=3, reason="damaged")
    make_lot(5)  # another harvest of the same day
    make_lot(12, at=NOW - 5 * DAY)
    make_lot(12, at=NOW - 3 * WEEK)  # too long ago
    make_cases(20)  # bought
    undo(act(), action=make_lot(12).intake.action)
    assert cuttings(farm) == [(0, 2, 3, 29, 0, 0), (1, 2, 3, 36, 0, 7), (1, 4, 1, 12, 0, 0)]


def test_what_came_back_from_market_or_was_lost_there_counts_to_its_harvest(farm):
    whole, part = make_lots(12, 12)
    saturday = NOW + 3 * DAY
    take(whole, "all", at=saturday)
    take(part, Decimal(6), at=saturday)
    rows = [
        Settling(whole.pk, Decimal(12), back=Decimal(4), lost=Decimal(5)),
        Settling(part.pk, Decimal(6), back=Decimal(2)),
    ]
    close_market(act(saturday + 6 * HOUR), market=at_market(), rows=rows)
    assert cuttings(farm) == [(0, 2, 2, 24, 6, 5)]
    take(make_lot(12), "all", at=saturday + DAY)
    stall, sunday = read_record(farm, MONDAY).stalls
    assert (sunday.loaded, sunday.back) == (12, 0)
    assert (stall.crates, stall.loaded, stall.back) == (2, 18, 6)
    assert (stall.ago, stall.market, stall.age_days) == (0, str(market().pk), 3)


def test_how_old_a_load_was_is_the_mean_of_what_was_cut_here(farm):
    """8 bunches of two days and 4 of five, and what nobody knows the age of: 3 days."""
    Farm.objects.update(harvest_days="02")
    young, old = make_lot(8), make_lot(4, at=NOW - 3 * DAY)
    bought = make_cases(10, crop=crop(), unit="bunch")[0]
    for lot in (young, old, bought):
        take(lot, "all", at=NOW + 2 * DAY)
    (stall,) = read_record(Farm.objects.get(), MONDAY).stalls
    assert (stall.age_days, stall.crates, stall.loaded) == (3, 3, 22)
    assert stall.could_days == 2  # Friday's market, and cut on Mondays and Wednesdays


def test_how_a_market_was_closed_is_told_of_its_last_load(farm):
    """A strong day says nothing of usual ones, and a closing taken back nothing at all."""
    friday, saturday = NOW + 2 * DAY, SUNDAY - DAY
    for days in (friday - WEEK, friday):
        take(make_lot(12, at=days - DAY), "all", at=days)

    def closed(day=saturday, sold_out="early", unit="bunch", **changes):
        values = {"outlet": market(), "day": day, "action": make_action(kind="settle")}
        sale = {"crop": crop(), "unit": unit, "loaded": 12, "sold": 12, "sold_out": sold_out}
        MarketDay.objects.create(**values | changes).sales.create(**sale)

    closed(saturday - WEEK, sold_out="end")
    closed(sold_out="no", stands=False)
    closed(unit="kg")
    told = {one.ago: one.sold_out for one in read_record(farm, MONDAY).stalls}
    assert told == {1: "end", 0: ""}
    MarketDay.objects.filter(day=saturday).delete()
    closed(weather="strong")
    assert {one.sold_out for one in read_record(farm, MONDAY).stalls} == {"end", ""}
    MarketDay.objects.filter(day=saturday).delete()
    closed()
    MarketDay.objects.filter(day=saturday - WEEK).delete()
    closed(saturday - WEEK)
    (one,) = read_advice(farm, MONDAY, SUNDAY).open
    assert (one.topic.rule, one.market, one.advice.proposed) == (Rule.LOAD_MORE, market(), 2)


def test_what_was_lost_before_it_was_cold_is_the_mean_of_the_weeks_harvests(farm):
    """Eight hours at 25 °C, and then the crate cools, in less than a day; the other came cold."""
    warm = {"cut_ago": 8 * HOUR, "pulp_c": Decimal(25)}
    make_lots(12, 12, at=NOW - WEEK, **warm)
    make_lots(6, 6, **warm)
    make_lot(4, cut_ago=None, pulp_c=Decimal(25))
    (one,) = read_record(farm, MONDAY).coolings
    in_the_field = life_used(crop().reference, [(8 / 24, 25)])
    assert 1.1 * in_the_field < one.share < 4 * in_the_field
    assert one.lost == round(12 * Decimal(float(one.share)), 1)
    make_lot(12, at=NOW + HOUR)
    (both,) = read_record(farm, MONDAY).coolings
    assert float(both.share) == pytest.approx(float(one.share) / 2)
    assert (both.ago, both.lost) == (0, one.lost)


def test_an_older_crate_that_stayed_is_told_by_its_shelf_then(farm):
    older = make_lot(12, at=NOW - 3 * DAY, position=place("A3"))
    take(make_lot(12), "all", at=NOW + HOUR)
    move_lots(act(NOW + 2 * HOUR), lots=[older.pk], position=place("B1"))
    twins = make_lots(6, 6, at=NOW + 3 * HOUR)
    take(older, "all", at=NOW + 3 * HOUR)
    take(twins[1], "all", at=NOW + 4 * HOUR)  # of one harvest: none is older
    (passed,) = read_record(farm, MONDAY).passed
    assert passed == Passed(0, crop().pk, "bunch", "A3", Decimal(12))
    for changes in ({"days_apart": 0}, {"why_not": "refused"}, {"reachable": False}):
        told = {"days_apart": 3, "why_not": "", "reachable": True}
        FirstInLine.objects.filter(first=older).update(**told | changes)
        forget_weeks()
        assert read_record(farm, MONDAY).passed == [], changes


def test_what_cold_hurt_is_told_by_the_place_it_stood_at(farm):
    first, second = make_lots(12, 12, position=place("A3"))
    throw(first, 5, NOW + HOUR, reason="froze")
    move_lots(act(NOW + 2 * HOUR), lots=[first.pk], position=place("B1"))
    throw(first, 2, NOW + 3 * HOUR, reason="chilled")
    throw(second, 4, NOW + 3 * HOUR, reason="froze")
    throw(second, 1, NOW + 3 * HOUR, reason="wilted")
    told = sorted(read_record(farm, MONDAY).harmed, key=lambda one: one.place)
    kale = (0, crop().pk, "bunch")
    assert told == [Harmed(*kale, "A3", Decimal(9)), Harmed(*kale, "B1", Decimal(2))]


def topics(advice) -> list[tuple]:
    return [(one.topic.rule, one.crop.reference_key, one.topic.about) for one in advice.open]


ASKED = (Rule.CUT_LESS, "kale", "2")


def test_suggestions_come_from_whole_weeks_of_now_and_the_last(farm):
    """Of the running week on its last day; before that what the week before gave."""
    cut_too_much()
    for week, today, found, drawn_from in [
        (MONDAY, SUNDAY - DAY, [], MONDAY - WEEK),
        (MONDAY, SUNDAY, [ASKED], MONDAY),
        (MONDAY + WEEK, SUNDAY + DAY, [ASKED], MONDAY),
        (MONDAY, SUNDAY + WEEK, [ASKED], MONDAY),
        (MONDAY, SUNDAY + DAY + WEEK, [], MONDAY),
        (MONDAY + WEEK, SUNDAY, [], MONDAY),
    ]:
        advice = read_advice(farm, week, today)
        assert (topics(advice), advice.drawn_from) == (found, drawn_from), (week, today)


def test_a_farm_with_nothing_to_say_has_no_advice(farm):
    advice = read_advice(farm, MONDAY, SUNDAY)
    assert (advice.open, advice.answered, advice.followed) == ([], [], [])


def test_what_was_answered_rests_for_four_weeks(farm):
    cut_too_much()
    row = answered(week=MONDAY - 3 * WEEK, answer="waved")
    row.save()
    for changes, rests in [
        ({}, True),
        ({"answer": "accepted"}, True),
        ({"week": MONDAY - 4 * WEEK}, False),
        ({"about": "3"}, False),
        ({"unit": "kg"}, False),
        ({"outlet": market()}, False),
    ]:
        answered(pk=row.pk, action=row.action, **{"week": row.week} | changes).save()
        assert topics(read_advice(farm, MONDAY, SUNDAY)) == ([] if rests else [ASKED]), changes


def test_an_accepted_one_is_met_again_in_the_week_after_it_was_accepted(farm):
    """Accepted on the Monday after: this week's Wednesday shows nothing of it yet."""
    cut_too_much()
    (one,) = read_advice(farm, MONDAY, SUNDAY).open
    told = act(LAST_DAY + DAY)
    answer_suggestion(told, week=MONDAY + WEEK, key=one.key, accepted=True, figure=Decimal(1))
    cut_kale(NOW + 2 * WEEK, crates=2, wasted=4)
    first, second, third = (
        read_advice(farm, MONDAY + ago * WEEK, SUNDAY + ago * WEEK) for ago in (1, 2, 3)
    )
    assert (first.followed, third.followed) == ([], [])
    (met,) = second.followed
    assert (met.row.before, met.row.figure, met.row.outcome) == (3, 1, 12)
    assert met.now == Figures(Decimal(2), Decimal(4))
    assert met.is_done
    (said,) = read_advice(farm, MONDAY, SUNDAY + WEEK).answered
    assert said.row == met.row


def test_advice_of_kept_weeks_costs_as_many_queries_whatever_there_is_to_say(
    farm, django_assert_max_num_queries
):
    Crop.objects.filter(reference_key="kale").update(piece_weight_kg=Decimal("0.25"))
    cut_too_much(4)
    read_advice(farm, MONDAY, SUNDAY)
    with django_assert_max_num_queries(12):
        assert topics(read_advice(farm, MONDAY, SUNDAY))
