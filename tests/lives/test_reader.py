"""Where crates were, as the tables say it, decides how much of their life is used."""

import random
from datetime import timedelta
from decimal import Decimal
from itertools import pairwise

import pytest
from scipy.integrate import quad

from inventory.actions.intakes import correct_intake
from inventory.actions.movements import bring_back, move_lots, take_out
from inventory.actions.quality import discard, inspect
from inventory.actions.reshape import combine_lots, split_lot
from inventory.actions.temperatures import (
    probe,
    take_back_paper_log,
    take_back_probe,
    type_paper_log,
)
from inventory.actions.undo import undo
from inventory.errors import Refused
from inventory.keeping import life_days, load_reference, rate
from inventory.keeping.cooling import pulp_c
from inventory.lives.reader import Harvest, cooling_of, read_clocks, read_harvest_clocks
from inventory.models import Container, Lot, Room
from inventory.queries.crates import one_crate
from inventory.queries.home import read_rotation
from tests import builders
from tests.builders import NOW, act, make_cases, make_lot, make_lots, place
from tests.readings import life, steady, write

HOUR = timedelta(hours=1)
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


def test_part_of_a_night_when_the_clocks_change_is_elapsed_time(farm):
    """1 November 2026: New York's night has 25 hours; life is used by elapsed hours."""
    from datetime import datetime

    evening = datetime(2026, 10, 31, 18, tzinfo=farm.zone)
    lot = make_lot(at=evening)
    next_evening = datetime(2026, 11, 1, 18, tzinfo=farm.zone)
    # Same-zone subtraction would say 24 hours.
    assert used(lot, next_evening) == pytest.approx(25 / 24 / life_days(KALE, 2))


def test_life_is_used_at_the_measured_temperature(farm):
    lot = make_lot()
    write(*steady(7))
    now = NOW + 72 * HOUR
    assert life(lot, now).used == pytest.approx(3 / life_days(KALE, 7), rel=1e-3)
    assert life(lot, now).measured
    assert life(lot, now).here_c == pytest.approx(7)
    assert life(lot, now).parts["room"] == pytest.approx(life(lot, now).used)


def test_bought_cases_that_came_warm_cool_from_what_was_measured(farm):
    case = make_cases(18, pulp_c=Decimal(20))[0]
    cooling = cooling_of(case.intake, farm)
    assert (cooling.start_c, cooling.start_from) == (20, "measured")
    cold = make_cases(18, pulp_c=Decimal(2))[0]
    now = NOW + 2 * DAY
    assert life(case, now).parts["cooling"] > life(cold, now).parts["cooling"] == 0


@pytest.mark.parametrize("seed", range(6))
def test_a_whole_life_is_the_integral_over_its_raw_readings(farm, seed):
    """scipy.integrate.quad, to 1e-6: in the room, three warm hours on a stall, and back."""
    chance = random.Random(seed)
    lot = make_lot()
    gone, came, end = 30.3, 41.7, 70.0
    take_out(act(NOW + gone * HOUR), lot=lot.pk, portion="all", purpose="own use")
    bring_back(
        act(NOW + came * HOUR), lot=lot.pk, quantity=Decimal(12), warm_hours=Decimal(3),
        position=place("A2"),
    )  # fmt: skip
    hours = [0.0]
    while hours[-1] < end:
        hours.append(round(hours[-1] + chance.uniform(0.1, 1.9), 3))
    readings = [(hour, round(chance.uniform(3, 14), 1)) for hour in hours]
    write(*readings)

    def speed(hour: float) -> float:
        if gone <= hour < gone + 3:
            return rate(KALE, 25)
        return rate(KALE, next(c for at, c in reversed(readings) if at <= hour))

    edges = sorted({*(hour for hour in hours if hour < end), gone, gone + 3, end})
    aged_h = sum(quad(speed, a + 1e-9, b - 1e-9)[0] for a, b in pairwise(edges))
    used = life(lot, NOW + end * HOUR).used
    assert used == pytest.approx(aged_h / 24 / KALE.base_days, rel=1e-6)


def test_field_heat_is_counted_from_the_probe_and_the_kind_of_crate(farm):
    cold = make_lot(pulp_c=Decimal(2))
    warm = make_lot(pulp_c=Decimal(26))
    guessed = make_lot(pulp_c=None)
    now = NOW + 2 * DAY
    assert life(cold, now).parts["cooling"] == 0
    assert life(warm, now).parts["cooling"] > life(guessed, now).parts["cooling"] > 0


def test_a_probe_taken_back_counts_no_more(farm):
    lot = make_lot(pulp_c=Decimal(26))
    before = used(lot, NOW + DAY)
    wrong = probe(act(NOW + 4 * HOUR), intake=lot.intake, celsius=Decimal(8))
    assert used(lot, NOW + DAY) != before
    take_back_probe(act(NOW + 5 * HOUR), probe=wrong)
    assert used(lot, NOW + DAY) == before


def test_a_paper_log_taken_back_counts_no_more(farm):
    lot = make_lot()
    before = used(lot, NOW + DAY)
    rows = [(NOW + hour * HOUR, 20.0) for hour in range(1, 20)]
    wrong = type_paper_log(act(NOW + 20 * HOUR), room=Room.objects.get(), rows=rows)
    assert used(lot, NOW + DAY) > before + 0.05
    take_back_paper_log(act(NOW + 21 * HOUR), log=wrong)
    assert used(lot, NOW + DAY) == pytest.approx(before)


def test_a_second_probe_replaces_the_assumed_half_cooling_time(farm):
    """Seven-eighths in three half-cooling times, AH-66 pages 11-12."""
    lot = make_lot(pulp_c=Decimal(26))
    assumed = cooling_of(lot.intake, farm)
    assert not assumed.measured
    probe(act(NOW + 4 * HOUR), intake=lot.intake, celsius=Decimal(8))  # 24 → 6 above the air
    shown = cooling_of(lot.intake, farm)
    assert shown.measured
    assert shown.half_cooling_h == pytest.approx(2)
    assert shown.seven_eighths_at == pytest.approx((NOW + 6 * HOUR).timestamp())
    assert pulp_c(shown.start_c, shown.air_c, shown.half_cooling_h, 6) == pytest.approx(5)
    assert shown.half_cooling_h < assumed.half_cooling_h
    with pytest.raises(Refused, match="before-arrival"):
        probe(act(NOW - HOUR), intake=lot.intake, celsius=Decimal(8))


def test_hours_in_a_warm_field_are_counted(farm):
    lot = make_lot(cut_ago=timedelta(hours=2), pulp_c=Decimal(25))
    expected = 2 / 24 / life_days(KALE, 25)
    assert life(lot, NOW).parts["field"] == pytest.approx(expected)


def test_a_freeze_is_not_cleared_by_splitting(farm):
    lettuce = make_lot(key="lettuce-leaf", unit="head")
    write((0, 2), (1, -1), (2, 2), *steady(2, hours=24, start=3))
    split_lot(act(NOW + 5 * HOUR), lot=lettuce.pk, quantity=Decimal(5))
    child = Lot.objects.get(parents=lettuce)
    now = NOW + 6 * HOUR
    assert life(child, now).frozen_h == pytest.approx(1)
    assert {crate.code for crate in read_rotation(farm, now).look} == {lettuce.pk, child.pk}
    inspect(act(now), lot=child.pk, days=1, seen="firm")
    assert life(child, now + HOUR).frozen_h == 0
    assert life(lettuce, now + HOUR).frozen_h == pytest.approx(1)


def test_field_heat_goes_on_in_a_crate_that_was_split_off_warm(farm):
    lot, control = make_lots(12, 12, pulp_c=Decimal(30))
    split_lot(act(NOW + timedelta(minutes=10)), lot=lot.pk, quantity=Decimal(5))
    child = Lot.objects.get(parents=lot)
    now = NOW + 2 * DAY
    for crate in (lot, child):
        assert life(crate, now).used == pytest.approx(life(control, now).used, rel=1e-3)


def test_the_second_clock_of_what_cold_hurts(farm):
    """AH-66, chapter Eggplant: 4.5 days at 2.5 °C until injury shows; mango: no days published."""
    eggplant = make_lot(key="eggplant", unit="kg")
    mango = make_lot(key="mango", unit="kg")
    write(*steady(2.5, hours=24 * 5))
    now = NOW + 3 * DAY
    found = life(eggplant, now)
    assert found.chill_used == pytest.approx(3 / 4.5, rel=0.01)
    assert found.days_left == pytest.approx(1.5, rel=0.05)
    assert found.used < 0.5
    assert life(mango, now).chill_used is None
    assert life(mango, now).chill_days == pytest.approx(3, rel=0.01)
    assert life(eggplant, NOW + 5 * DAY).flag == "chilled"


def test_a_crates_why_knows_its_rooms_mean_and_how_much_was_measured(farm):
    lot = make_lot()
    write(*steady(6, hours=48))
    lot = Lot.objects.select_related("crop", "intake__source", "position").get(pk=lot.pk)
    mean, share = read_clocks([lot], farm).room_mean(lot.pk, NOW + 48 * HOUR)
    assert (mean, share) == (pytest.approx(6), pytest.approx(1))


def test_harvests_read_as_plain_values_live_as_their_crates_do(farm):
    """Come in cold, sold after two hours, emptied after three; probed, or in a quick crate."""
    quick = Container.objects.create(name="Quick", half_cooling_h=Decimal(2))
    facts = ({}, {"pulp_c": Decimal(28)}, {"container": quick, "pulp_c": None})
    lots = [make_lot(12, cut_ago=4 * HOUR, **each) for each in facts]
    take_out(act(NOW + 2 * HOUR), lot=lots[1].pk, portion="all", purpose="own use")
    gone = {"portion": Decimal(12), "reason": "wilted", "destination": "compost"}
    discard(act(NOW + 3 * HOUR), lot=lots[2].pk, **gone)
    lots = list(Lot.objects.select_related("crop", "container", "intake__source", "position"))
    plain = [
        Harvest(
            lot.pk, lot.intake_id, lot.intake.arrived_at, lot.intake.cut_at, lot.intake.pulp_c,
            lot.crop_id, lot.container and lot.container.half_cooling_h, lot.state, lot.seen_at,
            lot.stamp,
        )
        for lot in lots
    ]  # fmt: skip
    fast = read_harvest_clocks(plain, {lot.crop_id: lot.crop.reference for lot in lots}, farm)
    whole = read_clocks(lots, farm)
    told = []
    for lot in lots:
        for hours in (1, 24):
            parts = whole.life(lot.pk, NOW + hours * HOUR).parts
            days = (parts["field"] + parts["cooling"]) * lot.crop.reference.base_days
            told.append(fast.before_cold(lot.pk, NOW + hours * HOUR))
            assert told[-1] == pytest.approx(days)
    assert len(set(told)) == 5  # the first came in cold
