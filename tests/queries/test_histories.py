"""Where crates were decides how much of their life is used."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.actions.intakes import correct_intake
from inventory.actions.movements import bring_back, move_lots, take_out
from inventory.actions.reshape import combine_lots, split_lot
from inventory.actions.undo import undo
from inventory.keeping import life_days, load_reference, rate
from inventory.models import Lot, Room
from inventory.queries.crates import crates_here, one_crate
from inventory.queries.home import read_rotation
from tests import builders
from tests.builders import NOW, act, make_cases, make_lot, make_lots, place

DAY = timedelta(days=1)
KALE = load_reference()["kale"]


def used(lot: Lot, at) -> float:
    return one_crate(lot.pk, builders.Farm.objects.get(), at).life.used


def test_life_is_used_at_the_rooms_target_temperature(farm):
    lot = make_lot()
    assert used(lot, NOW + 3 * DAY) == pytest.approx(3 / life_days(KALE, 2))
    crate = one_crate(lot.pk, farm, NOW + 3 * DAY)
    assert (crate.life.here_c, crate.life.measured) == (2, False)
    assert crate.life.days_left == pytest.approx(life_days(KALE, 2) - 3)
    assert crate.life.generous_days_left == pytest.approx(KALE.generous_days / rate(KALE, 2) - 3)


def test_moving_to_a_warmer_room_ages_it_faster_from_then_on(farm):
    warm = Room.objects.create(name="Bench", target_c=12)
    there = builders.place("B3")
    there.room = warm
    there.save()
    lot = make_lot()
    move_lots(act(NOW + DAY), lots=[lot.pk], position=there)
    expected = 1 / life_days(KALE, 2) + 1 / life_days(KALE, 12)
    assert used(lot, NOW + 2 * DAY) == pytest.approx(expected)


def test_a_crate_moved_twice_at_one_moment_has_no_empty_stay(farm):
    lot = make_lot()
    for shelf in ("A2", "A3"):
        move_lots(act(NOW + DAY), lots=[lot.pk], position=place(shelf))
    clocks = one_crate(lot.pk, farm, NOW + 2 * DAY).clocks
    assert clocks.room_mean(lot.pk, NOW + 2 * DAY) == pytest.approx((2, 0))


def test_a_cut_not_given_counts_as_two_hours_before(farm):
    lot = make_lot(cut_ago=None)
    crate = one_crate(lot.pk, farm, NOW)
    assert crate.life.harvested_at == NOW - timedelta(hours=2)
    assert not crate.life.time_given


def test_bought_cases_count_from_the_day_they_were_packed(farm):
    case = make_cases(18, packed_on=NOW.date() - timedelta(days=9))[0]
    age = NOW - one_crate(case.pk, farm, NOW).life.harvested_at
    assert timedelta(days=9) < age < timedelta(days=10)


def test_hours_on_a_warm_stall_are_counted(farm):
    """The trade: five hours at 25 °C age leaves like 1.7 days at 2 °C (Q10 bands, derived)."""
    lot = make_lot()
    take_out(act(NOW + DAY), lot=lot.pk, portion="all", purpose="own use")
    back_at = NOW + DAY + timedelta(hours=8)
    bring_back(
        act(back_at), lot=lot.pk, quantity=Decimal(5), warm_hours=Decimal(5), position=place()
    )
    cold_days = 1 + 3 / 24
    warm = used(lot, back_at) - cold_days / life_days(KALE, 2)
    assert warm * life_days(KALE, 2) == pytest.approx(1.7, abs=0.1)


def test_what_comes_back_of_a_part_keeps_its_age_and_its_warm_hours(farm):
    lot, control = make_lots(12, 12)
    take_out(act(NOW + DAY), lot=lot.pk, portion="half", purpose="own use")
    take_out(act(NOW + DAY), lot=control.pk, portion="all", purpose="own use")
    for code in (lot.pk, control.pk):
        bring_back(act(NOW + 2 * DAY), lot=code, quantity=Decimal(5), warm_hours=Decimal(4))
    child = Lot.objects.get(parents=lot)
    at = NOW + 3 * DAY
    assert used(child, at) == pytest.approx(used(control, at))
    assert used(child, at) > used(lot, at)
    assert one_crate(child.pk, farm, at).life.harvested_at == NOW


def test_nobody_makes_old_kale_young_by_repacking_it(farm):
    old = make_lot(at=NOW - 6 * DAY)
    new = make_lot(at=NOW)
    combine_lots(act(NOW), lots=[old.pk, new.pk])
    child = Lot.objects.get(parents=old)
    assert used(child, NOW + DAY) == pytest.approx(7 / life_days(KALE, 2))
    assert one_crate(child.pk, farm, NOW).life.harvested_at == NOW - 6 * DAY


def test_a_correction_of_the_cut_reaches_the_children(farm):
    lot = make_lot()
    split_lot(act(NOW + DAY), lot=lot.pk, quantity=Decimal(5))
    child = Lot.objects.get(parents=lot)
    before = used(child, NOW + 2 * DAY)
    action = correct_intake(
        act(NOW + 2 * DAY), intake=lot.intake, crop=lot.crop, source=lot.intake.source,
        cut_at=NOW - 3 * DAY, reason="wrong day",
    )  # fmt: skip
    assert used(child, NOW + 2 * DAY) == pytest.approx(before + 3 / life_days(KALE, 2))
    undo(act(NOW + 2 * DAY), action=action)
    assert used(child, NOW + 2 * DAY) == pytest.approx(before)


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
    assert queries() == one


def test_part_of_a_night_when_the_clocks_change_is_elapsed_time(farm):
    """1 November 2026: New York's night has 25 hours; life is used by elapsed hours."""
    from datetime import datetime

    evening = datetime(2026, 10, 31, 18, tzinfo=farm.zone)
    lot = make_lot(at=evening)
    next_evening = datetime(2026, 11, 1, 18, tzinfo=farm.zone)
    # Same-zone subtraction would say 24 hours.
    assert used(lot, next_evening) == pytest.approx(25 / 24 / life_days(KALE, 2))


def test_the_home_page_asks_no_more_for_each_harvest_of_the_day(farm):
    def queries():
        with CaptureQueriesContext(connection) as captured:
            assert all(row.cooling for row in read_rotation(farm, NOW).came_in)
        return len(captured)

    make_lot(pulp_c=Decimal(20))
    queries()
    one = queries()
    for _ in range(4):
        make_lot(pulp_c=Decimal(20))
    assert queries() == one
