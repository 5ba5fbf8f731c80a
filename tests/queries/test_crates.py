"""Crates with their life: days in a buyer's fridge, days as they are shown, and the lists."""

import math
from datetime import timedelta
from types import SimpleNamespace
from uuid import uuid4

import pytest
from django.db import connection
from django.db.models import Q
from django.test.utils import CaptureQueriesContext

from inventory.actions.movements import move_lots
from inventory.actions.quality import inspect, judge_crate
from inventory.actions.temperatures import record_readings
from inventory.keeping import Reference, load_reference, rate
from inventory.models import Action, Code, Intake, Lot, Room
from inventory.queries.crates import (
    Crate,
    FridgeDays,
    beside_first,
    crates_here,
    far_past,
    one_crate,
    with_parts,
)
from inventory.queries.home import read_rotation
from inventory.rotation.dates import NO_DATES, CaseDates
from tests import builders
from tests.builders import NOW, act, make_cases, make_lot, make_lots, place, set_target

HOUR = timedelta(hours=1)
DAY = timedelta(days=1)
REFERENCE = load_reference()


def crate(
    reference: Reference, used: float = 0.0, chill_used: float | None = 0.0, dates=NO_DATES
) -> Crate:
    """A crate of which nothing is known but its crop and how far its clocks are; no database."""
    nothing = dict.fromkeys(("verdict", "zone", "lasts_until", "clocks"))
    lot = SimpleNamespace(crop=SimpleNamespace(reference=reference))
    return Crate(
        code="CRATE",
        lot=lot, life=SimpleNamespace(used=used, chill_used=chill_used),
        standing=SimpleNamespace(dates=dates), today=NOW.date(), **nothing,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("key", "celsius", "used", "chill_used", "days"),
    [
        # AH-66 page 323, Table 1: 4.5 days at 2.5 °C, 6.5 at 5; so 5.6 at 4, by the logarithm,
        # where decay alone would promise its 7 days.
        ("eggplant", 4, 0, 0, 5),
        ("eggplant", 4, 0, 0.5, 2),  # half of 5.6
        ("eggplant", 4, 0.5, 0, 3),  # half of 7: the clocks do not add up
        ("eggplant", 4, 0.5, 0.1, 3),  # the lesser of 3.5 and 5.0
        ("eggplant", 4, 0.1, 0.5, 2),  # the lesser of 6.3 and 2.8
        ("eggplant", 12, 0.5, 0.5, 3),  # nothing is hurt there: decay alone
        # Lange and Cameron 1994, HortScience 29(2):102-103: 1 day at 0 °C, 3 at 5 °C.
        ("basil", 0, 0, 0, 1),
        ("basil", 5, 0, 0, 3),
        ("basil", 4, 0, 0, 2),  # 3^0.8 = 2.4, by the logarithm
        ("basil", 5, 0, 0.5, 1),
        # AH-66 pages 68-69, Table 2: kale's 14 days at 0 °C, 3^0.4 times as fast at 4 °C.
        ("kale", 4, 0, None, 9),
        ("kale", 4, 0.5, None, 4),
        ("kale", 4, 1.2, None, 0),
    ],
)
def test_days_in_a_fridge_are_the_lesser_of_what_either_clock_has_left(
    key, celsius, used, chill_used, days
):
    found = crate(REFERENCE[key], used, chill_used).fridge_days(celsius)
    assert found == FridgeDays(days, celsius, in_fridge=True)


@pytest.mark.parametrize(("use_by", "days"), [(-1, 0), (0, 0), (2, 2), (9, 9), (30, 9)])
def test_a_use_by_date_ends_the_days_in_a_fridge_a_best_before_date_does_not(use_by, days):
    """Kale's 9 days at 4 °C, as above."""
    last = NOW.date() + use_by * DAY
    assert crate(REFERENCE["kale"], dates=CaseDates(last)).fridge_days(4).days == days
    assert crate(REFERENCE["kale"], dates=CaseDates(None, last)).fridge_days(4).days == 9


@pytest.mark.parametrize(("used", "days"), [(0, 14), (0.5, 7), (1.5, 0)])
def test_without_published_days_to_injury_they_count_at_the_lowest_safe_temperature(used, days):
    """Mango: 10 °C (AH-66 page 63); its cautious life is 14 days there."""
    found = crate(REFERENCE["mango"], used, None).fridge_days(4)
    assert found == FridgeDays(days, 10, in_fridge=False)
    assert crate(REFERENCE["mango"], 0, None).fridge_days(9).in_fridge


@pytest.mark.parametrize("chill_used", [1.0, 1.2])
@pytest.mark.parametrize("celsius", [0, 4, 12])
def test_what_the_cold_has_hurt_already_keeps_no_days_anywhere(chill_used, celsius):
    """Asparagus is hurt after ten days at 0 °C (AH-66 page 211); 4 °C is not too cold for it."""
    found = crate(REFERENCE["asparagus"], 0.3, chill_used).fridge_days(celsius)
    assert found == FridgeDays(0, celsius, in_fridge=True)


def test_unless_told_otherwise_a_fridge_has_five_degrees():
    """FDA Food Code 3-501.16(A)(2): 5 °C (41 °F) or less. Eggplant keeps 6.5 days there."""
    assert crate(REFERENCE["eggplant"]).in_a_fridge == FridgeDays(6, 5.0, in_fridge=True)


@pytest.mark.parametrize(("used", "percent"), [(None, 0), (0.0, 0), (1 / 3, 33), (1.2, 120)])
def test_the_share_of_the_days_to_injury(used, percent):
    assert crate(REFERENCE["basil"], 0, used).chill_percent == percent


def steady(celsius: float, hours: int, start=NOW):
    rows = [(start + hour * HOUR, celsius) for hour in range(hours + 1)]
    record_readings(Room.objects.get(), rows, kind="sensor", at=start + hours * HOUR, sensor="fan")


def test_what_was_hurt_by_the_cold_is_not_promised_for_the_fridge(farm):
    eggplant = make_lot(key="eggplant", unit="kg")
    steady(2.5, 48)
    found = one_crate(eggplant.pk, farm, NOW + 2 * DAY)
    left = (1 - 2 / 4.5) * 4.5 * (6.5 / 4.5) ** 0.6  # each clock less what it has used
    assert found.in_a_fridge.days == math.floor(left) == 3


# Days as they are shown decide the lists.


def test_sweet_corn_with_two_days_shown_is_on_sell_first_long_before_its_share_is_used(farm):
    """Four days at 0 °C (pd05), 41 mg CO2/(kg h) there and 63 at 5 °C: 3.4 days at 2 °C.

    Brought in at ten in the morning it keeps until the evening of the third day, so that two
    whole days are shown from the first.
    """
    corn = make_lot(key="sweet-corn", unit="piece")
    found = one_crate(corn.pk, farm, NOW)
    assert rate(REFERENCE["sweet-corn"], 2) == pytest.approx((63 / 41) ** 0.4, rel=1e-6)
    assert (found.days_left, found.standing.days_left) == (2, 2)
    assert found.life.days_left > 3
    assert (found.life.used, found.verdict.why) == (0, "few-days")
    assert [row.code for row in read_rotation(farm, NOW).sell_first] == [corn.pk]
    assert found.is_fit


def test_of_one_crop_the_days_shown_go_first_and_then_the_harvest(farm):
    """Kale a few hours apart shows the same day; the earlier cut goes first all the same."""
    late, early, older = (make_lot(at=NOW - hours * HOUR) for hours in (1, 3, 40))
    found = crates_here(farm, NOW)
    assert [row.code for row in found] == [older.pk, early.pk, late.pk]
    assert len({row.standing.days_left for row in found[1:]}) == 1


def test_a_crate_is_past_when_its_life_is_used_and_not_a_day_before(farm):
    """Its last day shows none left, and is no discard yet."""
    lot = make_lot(key="sweet-corn", unit="piece")
    ends = one_crate(lot.pk, farm, NOW).life.keep_until
    before, after = (one_crate(lot.pk, farm, ends + minutes * HOUR / 60) for minutes in (-5, 5))
    assert (before.days_left, before.verdict.worklist) == (0, "sell-first")
    assert (after.life.used >= 1, after.verdict.worklist) == (True, "discard")


# The cold, on the lists.


def on_look(farm, at) -> list[str]:
    return [row.code for row in read_rotation(farm, at).look]


def test_sweet_potatoes_twenty_days_at_two_degrees_are_to_be_looked_at(farm):
    lot = make_lot(key="sweet-potato", unit="kg")
    now = NOW + 20 * DAY
    found = one_crate(lot.pk, farm, now)
    assert (found.verdict.why, found.life.chill_days) == ("chilled", 20)
    assert on_look(farm, now) == [lot.pk]
    assert not found.is_fit


@pytest.mark.parametrize("key", ["mango", "tomato-cherry"])
def test_a_good_look_makes_it_fit_until_it_was_cold_for_as_long_again(farm, key):
    """No days to injury are published of either: a day, then two more at least (ours)."""
    set_target(3, NOW - HOUR)
    lot = make_lot(key=key, unit="kg")
    assert on_look(farm, NOW + 23 * HOUR) == []
    assert on_look(farm, NOW + DAY) == [lot.pk]
    assert not one_crate(lot.pk, farm, NOW + DAY).is_fit
    inspect(act(NOW + DAY), lot=lot.pk, days=1, seen="firm")
    for hours in (25, 71):
        assert one_crate(lot.pk, farm, NOW + hours * HOUR).is_fit
    assert on_look(farm, NOW + 72 * HOUR) == [lot.pk]


def test_a_look_that_says_it_is_gone_clears_nothing(farm):
    lot = make_lot(key="mango", unit="kg")
    judge_crate(act(NOW + DAY), lot=lot.pk, answer="early")
    assert on_look(farm, NOW + 25 * HOUR) == [lot.pk]
    judge_crate(act(NOW + 26 * HOUR), lot=lot.pk, answer="fine")
    assert on_look(farm, NOW + 27 * HOUR) == []


def test_an_hour_at_an_assumed_freezing_point_puts_it_on_the_list(farm):
    """Arugula has no published one; eight hours at -3 °C said nothing before."""
    lot = make_lot(key="arugula", unit="kg")
    steady(-0.2, 8)
    assert on_look(farm, NOW + HOUR) == []
    assert on_look(farm, NOW + 2 * HOUR) == [lot.pk]
    assert one_crate(lot.pk, farm, NOW + 2 * HOUR).life.freezing_assumed
    assert Lot.objects.get().state == "in place"


def test_lasts_until_is_the_last_whole_local_day(farm):
    crate = one_crate(make_lot().pk, farm, NOW)
    end = crate.life.keep_until.astimezone(farm.zone)
    assert crate.lasts_until == end.date() - timedelta(days=1)


@pytest.mark.parametrize("hours", range(0, 24 * 16, 7))
def test_days_and_date_never_disagree(farm, hours):
    crate = one_crate(make_lot().pk, farm, NOW + timedelta(hours=hours))
    today = crate.today
    if crate.life.days_left > 0:
        assert crate.lasts_until == today + timedelta(days=crate.days_left)
        assert crate.days_left <= crate.life.days_left
        assert crate.days_left <= crate.generous_days_left <= crate.life.generous_days_left
    else:
        assert crate.lasts_until == today - timedelta(days=crate.days_over)


def test_the_number_of_queries_does_not_grow_with_the_crates(farm):
    def queries():
        with CaptureQueriesContext(
            connection,
        ) as captured:
            crates_here(farm, NOW)
        return len(captured)

    make_lot()
    queries()  # reads the room's log, which is then kept
    one = queries()
    make_lots(*[12] * 30)
    queries()  # reads their entries, which are then kept
    assert queries() == one


def test_those_far_past_are_told_apart_the_longest_past_first(farm):
    for days in (0, 15, 40, 60):
        make_lot(at=NOW - days * DAY)
    found = far_past(reversed(crates_here(farm, NOW)))
    assert [(NOW - crate.life.harvested_at).days for crate in found] == [60, 40]
    assert all(crate.is_far_past for crate in found)


def test_of_the_same_harvest_or_place_come_first(farm):
    one, sister = make_lots(12, 12, position=place("B1"))
    move_lots(act(), lots=[sister.pk], position=place("B2"))
    beside = make_lot(at=NOW - DAY, position=place("B1"))
    far = make_lot(at=NOW - 2 * DAY)
    (nowhere, other) = (make_lot(at=NOW - days * DAY, position=None) for days in (3, 4))
    found = {crate.code: crate for crate in crates_here(farm, NOW)}
    rest = [found[lot.pk] for lot in (far, beside, nowhere, sister)]
    near, elsewhere = beside_first(found[one.pk], rest)
    assert [crate.code for crate in near] == [beside.pk, sister.pk]
    assert [crate.code for crate in elsewhere] == [far.pk, nowhere.pk]
    # To stand at no place yet is no place in common.
    assert beside_first(found[other.pk], [found[nowhere.pk]])[0] == []


def dated_case(days: int, kind: str):
    day = NOW.date() + days * DAY
    return make_cases(18, best_before=day, best_before_kind=kind)[0]


def test_a_case_lasts_no_longer_than_its_use_by_date(farm):
    case = dated_case(3, "use by")
    found = one_crate(case.pk, farm, NOW)
    assert (found.days_left, found.generous_days_left, found.in_a_fridge.days) == (3, 3, 3)
    assert found.lasts_until == NOW.date() + 3 * DAY
    soon = one_crate(case.pk, farm, NOW + DAY)
    assert (soon.verdict.worklist, soon.verdict.why) == ("sell-first", "few-days")


@pytest.mark.parametrize(
    ("kind", "after"),
    [("use by", ("discard", "past-use-by")), ("best before", ("look", "past-date"))],
)
def test_the_day_on_the_case_is_the_farms(farm, kind, after):
    """New York is four hours behind Greenwich in summer."""
    case = dated_case(0, kind)
    midnight = NOW.replace(hour=4, minute=0) + DAY
    last = one_crate(case.pk, farm, midnight - HOUR / 60)
    assert last.is_fit
    found = one_crate(case.pk, farm, midnight)
    assert (found.verdict.worklist, found.verdict.why) == after
    assert not found.is_fit
    rotation = read_rotation(farm, midnight)
    assert [crate.code for crate in getattr(rotation, after[0])] == [case.pk]


def test_crates_of_a_part_of_the_house_share_their_parts(farm):
    lots = [*make_lots(12, 12), make_lot(12, at=NOW - HOUR)]
    move_lots(act(), lots=[lot.pk for lot in lots], position=place("A1"))
    crates = crates_here(farm, NOW + HOUR, Q(position=place("A1")))
    assert len(crates) == 3
    for part in (
        lambda lot: lot.crop, lambda lot: lot.intake.source, lambda lot: lot.position,
        lambda lot: lot.position.room, lambda lot: lot.container,
    ):  # fmt: skip
        assert len({id(part(crate.lot)) for crate in crates}) == 1
    assert len({id(crate.lot.intake) for crate in crates}) == 2


def test_the_parts_of_more_crates_than_one_question_may_name(farm):
    """SQLite refuses an expression deeper than 1,000; 1,001 harvests of one crate each."""
    first = make_lot()
    intake, ada = first.intake, builders.owner()
    codes = [Code(text=f"{number:07d}") for number in range(1001)]
    actions = [
        Action(id=uuid4(), kind="bring in", person=ada, recorded_at=NOW, occurred_at=NOW)
        for _ in codes
    ]
    Code.objects.bulk_create(codes)
    Action.objects.bulk_create(actions)
    intakes = [
        Intake(action=action, crop=intake.crop, source=intake.source, lot_code="x", arrived_at=NOW)
        for action in actions
    ]
    Intake.objects.bulk_create(intakes)
    Lot.objects.bulk_create(
        Lot(code=code, crop=intake.crop, intake=one, unit="bunch", born_with=1)
        for code, one in zip(codes, Intake.objects.exclude(pk=intake.pk), strict=True)
    )
    lots = with_parts(Lot.objects.all())
    assert {lot.intake_id for lot in lots} == set(Intake.objects.values_list("pk", flat=True))
    with CaptureQueriesContext(connection) as read:
        assert {lot.intake.source.name for lot in lots} == {intake.source.name}
        assert len({id(lot.crop) for lot in lots}) == 1
    assert not read.captured_queries
