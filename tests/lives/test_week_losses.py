"""Where life was lost is kept with the week, and counted anew when the past changes."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.db.models import F
from django.test.utils import CaptureQueriesContext

from inventory.actions.intakes import correct_intake
from inventory.actions.movements import Settling, bring_back, close_market, move_lots, take_out
from inventory.actions.owner import save_row
from inventory.actions.quality import discard
from inventory.actions.reshape import combine_lots, split_lot
from inventory.actions.temperatures import (
    probe,
    record_readings,
    set_reading_aside,
    take_back_probe,
)
from inventory.actions.undo import undo
from inventory.ledger import weeks
from inventory.ledger.week_record import read_records
from inventory.ledger.weeks import wrong_weeks
from inventory.lives import logs, week_losses
from inventory.lives.week_losses import count_losses, keep_losses, losses_differ
from inventory.models import (
    Container,
    Crop,
    Parentage,
    Position,
    Reading,
    Room,
    Week,
    WeekLoss,
    WeekMark,
)
from inventory.queries.week import read_week
from tests import builders
from tests.bench.counted import Counted
from tests.builders import NOW, act, make_lot, make_lots, place

MONDAY = date(2026, 6, 8)
DAY, HOUR, WEEK = timedelta(days=1), timedelta(hours=1), timedelta(days=7)
AT_2_C = 3**0.2 - 1  # lost a day at 2 °C, at a Q10 of 3: AH-66 (2016), pages 68-69, Table 2


def look(farm, day=MONDAY) -> dict[str, float]:
    """Read a week as its page does, and return what is kept of it by step."""
    read_week(farm, day)
    keep_losses(farm, day)
    rows = WeekLoss.objects.filter(week=day)
    return {row.step: float(row.crate_days) for row in rows}


def counted_now(farm, day) -> dict[str, float]:
    return {
        step: pytest.approx(loss.crate_days, abs=1e-3)
        for (_crop, step), loss in count_losses(farm, day).items()
        if loss.crate_days > 0.0005
    }


def sell(lot, portion="all", at=NOW, told_at=None):
    outing = {"purpose": "own use", "portion": portion}
    return take_out(act(at, told_at=told_at), lot=lot.pk, **outing)


def warm(celsius=12, since=NOW - 2 * DAY, hours=10, **changes):
    readings = [(since + HOUR * hour, celsius) for hour in range(hours)]
    facts = {"kind": "sensor", "at": NOW, "sensor": "fan"}
    record_readings(Room.objects.first(), readings, **facts | changes)


def test_a_week_by_hand(farm):
    """Kale, four days at 2 °C, then a third of it sold and a third thrown out at 5 a bunch."""
    Crop.objects.filter(reference_key="kale").update(price=5)
    lot = make_lot(12, at=NOW - 4 * DAY)
    sell(lot, Decimal(4))
    discard(act(), lot=lot.pk, portion=Decimal(4), reason="wilted", destination="compost")
    assert look(farm) == {"room": pytest.approx(4 * AT_2_C * 2 / 3, abs=1e-3)}
    row = WeekLoss.objects.get()
    assert float(row.money) == pytest.approx(40 * 4 * AT_2_C / 14, abs=0.01)
    assert row.crop == lot.crop


def test_what_is_sold_by_another_unit_than_its_price_has_no_money(farm):
    Crop.objects.filter(reference_key="kale").update(price=5)
    sell(make_lot(12, unit="kg", at=NOW - 4 * DAY))
    look(farm)
    assert WeekLoss.objects.get().money is None


def test_what_is_in_the_house_or_left_in_another_week_is_not_in_it(farm):
    lots = make_lots(12, 12, at=NOW - 4 * DAY)
    assert look(farm) == {}
    sell(lots[0], at=NOW + WEEK)
    assert look(farm) == {}
    assert set(look(farm, MONDAY + WEEK)) == {"room"}
    sell(lots[1], Decimal(3), told_at=NOW, at=NOW + WEEK)
    assert look(farm) == {"room": pytest.approx(AT_2_C, abs=1e-3)}
    sell(lots[1], at=NOW + WEEK)
    assert look(farm) == {"room": pytest.approx(AT_2_C, abs=1e-3)}
    later = AT_2_C * 11 * (1 + 0.75)
    assert look(farm, MONDAY + WEEK) == {"room": pytest.approx(later, abs=1e-3)}


def test_what_came_back_from_the_market_lost_its_hours_there(farm):
    """Three hours at 25 °C, 10.6066 a day; what is sold there counts as it went out."""
    lot = make_lot(12, at=NOW - DAY)
    builders.take(lot, "all", NOW - 4 * HOUR)
    rows = [Settling(lot.pk, Decimal(12), back=Decimal(6))]
    close_market(
        act(), market=builders.at_market(), rows=rows, warm_hours=Decimal(3), position=place()
    )
    sold = look(farm)
    assert sold == {"room": pytest.approx(AT_2_C * 20 / 24 / 2, abs=1e-3)}
    sell(lot, at=NOW + DAY)
    found = look(farm)
    # The fourth hour it was out counts as in its room.
    stall = (9.6066 * 3 + AT_2_C) / 24 / 2
    assert found["out"] == pytest.approx(stall, abs=1e-3)
    assert found["room"] == pytest.approx(sold["room"] + AT_2_C * 44 / 24 / 2, abs=1e-3)


def test_days_after_a_younger_crate_went_are_forgotten(farm):
    """From the first such take on; the older, half of it, went two days later: one crate-day.

    A take that found the older out of reach is none, nor one that was undone.
    """
    old, new = make_lot(12, at=NOW - 3 * DAY), make_lot(12, at=NOW - DAY)
    builders.take(new, Decimal(1), NOW - 6 * HOUR, out_of_reach=old.pk)
    takes = [builders.take(new, Decimal(1), at) for at in (NOW, NOW + DAY)]
    sell(old, Decimal(6), NOW + 2 * DAY)
    assert look(farm)["forgotten"] == pytest.approx(1, abs=1e-3)
    for took in reversed(takes):
        undo(act(NOW + 3 * DAY), action=took)
    assert "forgotten" not in look(farm)


def test_a_kept_week_is_not_counted_again(farm, monkeypatch):
    sell(make_lot(12, at=NOW - 4 * DAY))
    found = look(farm)
    monkeypatch.setattr(week_losses, "count_losses", None)
    assert look(farm) == found
    with CaptureQueriesContext(connection) as queries:
        keep_losses(farm, MONDAY)
    assert len(queries) == 1


def set_aside(_lot):
    set_reading_aside(act(NOW + WEEK), reading=Reading.objects.earliest("at"))


def measure(lot, **said):
    """It came from the field unmeasured, and two hours later was still at 15 °C inside."""
    probe(act(**said), intake=lot.intake, celsius=Decimal(15))


def take_back(lot):
    take_back_probe(act(NOW + WEEK), probe=lot.intake.probes.get())


def move_late(lot):
    move_lots(act(NOW + WEEK, told_at=NOW - 3 * DAY), lots=[lot.pk], position=place("B3"))


SOON = NOW - 4 * DAY + 2 * HOUR
# What was so when it was sold, and what changed since.
CHANGES = {
    "a late logger file": (None, lambda lot: warm(at=NOW + WEEK)),
    "a reading taken back": (lambda lot: warm(hours=1), set_aside),
    "a late probe": (None, lambda lot: measure(lot, at=NOW + WEEK, told_at=SOON)),
    "a probe taken back": (lambda lot: measure(lot, at=SOON), take_back),
    "a late move to a warmer room": (None, move_late),
    "half came back a week later": (
        None,
        lambda lot: bring_back(act(NOW + WEEK), lot=lot.pk, quantity=Decimal(6)),
    ),
}


@pytest.mark.parametrize("name", CHANGES)
def test_a_week_is_counted_anew_when_its_past_changes(farm, name):
    Position.objects.filter(pk=place("B3").pk).update(
        room=Room.objects.create(name="Corner", target_c=12, order=1)
    )
    lot = make_lot(12, at=NOW - 4 * DAY, pulp_c=None)
    was, change = CHANGES[name]
    if was:
        was(lot)
    sell(lot)
    before = look(farm)
    change(lot)
    after = look(farm)
    assert after != before
    assert after == counted_now(farm, MONDAY)


LATER = NOW + 2 * WEEK


def filled_from(*lots, at=NOW - 2 * DAY):
    """Part of a crate, or several crates, in a new one."""
    if len(lots) == 1:
        split_lot(act(at), lot=lots[0].pk, quantity=lots[0].born_with - 1)
    else:
        combine_lots(act(at), lots=[lot.pk for lot in lots])
    return Parentage.objects.latest("pk").child


def grandchild():
    """Its first crate was moved late; what left is what was split off what was split off."""
    lot = make_lot(12, at=NOW - 4 * DAY)
    last = filled_from(filled_from(lot), at=NOW - DAY)
    sell(lot)  # so that no take passes it
    sell(last, at=NOW + WEEK)
    return lambda: move_late(lot)


def of_two_harvests():
    """One of them was cut two days sooner than was told."""
    lots = make_lot(6, at=NOW - 4 * DAY), make_lot(6, at=NOW - 3 * DAY)
    facts = {"crop": lots[0].crop, "source": lots[0].intake.source, "reason": "misread"}
    sell(filled_from(*lots), at=NOW + WEEK)
    cut_at = NOW - 6 * DAY
    return lambda: correct_intake(act(LATER), intake=lots[0].intake, cut_at=cut_at, **facts)


def passed_by_an_undone_take():
    old, new = make_lot(12, at=NOW - 3 * DAY), make_lot(12, at=NOW - DAY)
    took = builders.take(new, Decimal(1), NOW)
    sell(old, at=NOW + WEEK)
    return lambda: undo(act(LATER), action=took)


def of_the_first_day():
    sell(make_lot(12, at=NOW + WEEK - HOUR, pulp_c=None), at=NOW + WEEK)


def put_away_when_some_had_left():
    """How it cooled is reckoned with the first place it was given."""
    lot = make_lot(12, at=NOW + WEEK - DAY, pulp_c=None, position=None)
    sell(lot, Decimal(3), at=NOW + WEEK)
    return lambda: move_lots(act(LATER), lots=[lot.pk], position=place("B3"))


def measured_when_it_had_left():
    of_the_first_day()
    return lambda: warm(since=NOW + WEEK + HOUR, hours=1, at=NOW + WEEK + HOUR)


def room_to_be_warmer_when_it_had_left():
    of_the_first_day()
    return lambda: builders.set_target(9, NOW + WEEK + HOUR)


def what_came_back_is_of_a_later_taking():
    lot = make_lot(12, at=NOW - 4 * DAY)
    sell(lot, Decimal(3), at=NOW + WEEK)
    bring_back(act(LATER), lot=lot.pk, quantity=Decimal(3))
    return lambda: sell(lot, Decimal(3), at=LATER + DAY, told_at=LATER - HOUR)


ELSEWHERE = [
    grandchild, of_two_harvests, passed_by_an_undone_take, put_away_when_some_had_left,
    measured_when_it_had_left, room_to_be_warmer_when_it_had_left,
    what_came_back_is_of_a_later_taking,
]  # fmt: skip


@pytest.mark.parametrize("make", ELSEWHERE)
def test_a_week_is_counted_anew_when_what_it_hangs_on_changes(farm, make):
    """Nothing is written of the crate that left in this week, or nothing of this week."""
    Position.objects.filter(pk=place("B3").pk).update(
        room=Room.objects.create(name="Corner", target_c=12, order=1)
    )
    change = make()
    before = look(farm, MONDAY + WEEK)
    change()
    after = look(farm, MONDAY + WEEK)
    assert after != before
    assert after == counted_now(farm, MONDAY + WEEK)


def kept():
    return set(Week.objects.filter(losses_kept=True).values_list("pk", flat=True))


LATE = {"at": NOW + 3 * WEEK}


def sold_in_two_weeks(farm, *lots):
    """The first of them in this week, the others in the next; both weeks were looked at."""
    sell(lots[0])
    for lot in lots[1:]:
        sell(lot, at=NOW + WEEK)
    for week in (MONDAY, MONDAY + WEEK):
        look(farm, week)


def test_a_temperature_lets_the_sums_of_the_weeks_stand(farm, monkeypatch):
    """And what advice reads of them; only where life was lost is counted anew."""
    sold_in_two_weeks(farm, make_lot(12, at=NOW - 4 * DAY), make_lot(6, at=NOW - 4 * DAY))
    read_records(farm, MONDAY, MONDAY)
    before = look(farm)
    warm(at=NOW + WEEK)
    assert not WeekMark.objects.exists()
    assert kept() == set()
    monkeypatch.setattr(weeks, "add_up", None)
    assert look(farm) != before
    assert Week.objects.get(pk=MONDAY).record


def test_what_left_before_or_came_when_the_log_was_as_before_stays_counted(farm):
    """A reading counts no more three days after it once the room is known again."""
    warm(since=NOW + 5 * DAY, hours=1, **LATE)
    old, new = make_lot(12, at=NOW - 4 * DAY), make_lot(6, at=NOW + 5 * DAY + HOUR)
    sold_in_two_weeks(farm, old, new)
    warm(since=NOW + HOUR, hours=1, **LATE)
    assert kept() == {MONDAY, MONDAY + WEEK}
    warm(since=NOW - 2 * HOUR, hours=1, **LATE)
    assert kept() == {MONDAY + WEEK}
    look(farm)
    warm(since=NOW + 5 * DAY - HOUR, hours=1, **LATE)
    assert kept() == {MONDAY}


def test_the_first_day_of_a_harvest_may_reach_into_the_next_week(farm):
    sunday = farm.day_start(MONDAY + WEEK) - 2 * HOUR
    sell(make_lot(12, at=sunday, pulp_c=None), at=sunday + HOUR)
    before = look(farm)
    warm(since=sunday + 3 * HOUR, hours=1, **LATE)
    after = look(farm)
    assert after != before
    assert after == counted_now(farm, MONDAY)


@pytest.mark.parametrize("depth", [1, 2])
def test_what_was_filled_from_others_came_when_the_oldest_of_them_did(farm, depth):
    """Of what was filled from such crates nobody looks up when that was."""
    warm(since=NOW + 2 * DAY, hours=1, **LATE)
    came = (NOW - 4 * DAY, NOW + 3 * DAY) if depth == 1 else (NOW + 3 * DAY, NOW + 4 * DAY)
    mixed = filled_from(*(make_lot(6, at=at) for at in came), at=NOW + 5 * DAY)
    for _number in range(depth - 1):
        mixed = filled_from(mixed, make_lot(6, at=NOW + 5 * DAY), at=NOW + 5 * DAY)
    sold_in_two_weeks(farm, make_lot(6, at=NOW - 4 * DAY), mixed)
    warm(since=NOW - 2 * DAY, hours=1, **LATE)
    assert kept() == set()


def test_what_was_filled_from_new_ones_stays_counted(farm):
    warm(since=NOW + 2 * DAY, hours=1, **LATE)
    mixed = filled_from(*(make_lot(6, at=NOW + days * DAY) for days in (3, 4)), at=NOW + 5 * DAY)
    sold_in_two_weeks(farm, make_lot(6, at=NOW - 4 * DAY), mixed)
    warm(since=NOW - 2 * DAY, hours=1, **LATE)
    assert kept() == {MONDAY + WEEK}


def test_a_page_that_read_the_logs_before_a_temperature_came_keeps_what_they_are_now(farm):
    sell(make_lot(12, at=NOW - 4 * DAY))
    with logs.rooms_read_once():
        logs.every_room()
        warm(at=NOW + WEEK)
        found = look(farm)
    assert found == counted_now(farm, MONDAY)


def test_of_two_who_look_at_once_one_counts(farm, monkeypatch):
    """The other finds it kept when it has the farm's row; here it looks just before."""
    sell(make_lot(12, at=NOW - 4 * DAY))
    read_week(farm, MONDAY)
    monkeypatch.setattr(
        week_losses, "need_calendar", lambda farm: Week.objects.update(losses_kept=True)
    )
    monkeypatch.setattr(week_losses, "count_losses", None)
    keep_losses(farm, MONDAY)
    assert not WeekLoss.objects.exists()


def set_price(_lot):
    kale = Crop.objects.get(reference_key="kale")
    kale.price = Decimal(6)
    save_row(act(), row=kale, values={"price": kale.price})


def set_keeping_days(_lot):
    kale = Crop.objects.get(reference_key="kale")
    kale.keeping_days = Decimal(2)
    save_row(act(), row=kale, values={"keeping_days": kale.keeping_days})


def set_crate(lot):
    kind = Container.objects.get(pk=lot.container_id)
    kind.half_cooling_h = Decimal(1)
    save_row(act(), row=kind, values={"half_cooling_h": kind.half_cooling_h})


def set_room(_lot):
    there = place("A1")
    there.room = Room.objects.create(name="Bench", target_c=12)
    save_row(act(), row=there, values={"room": there.room})


@pytest.mark.parametrize("change", [set_price, set_keeping_days, set_crate, set_room])
def test_what_lives_are_reckoned_by_is_reckoned_by_anew_when_it_is_set(farm, change):
    Crop.objects.filter(reference_key="kale").update(price=5)
    lot = make_lot(12, at=NOW - 6 * DAY, pulp_c=None, container=Container.objects.first())
    sell(lot)
    before = look(farm), WeekLoss.objects.first().money
    change(lot)
    assert (look(farm), WeekLoss.objects.first().money) != before
    assert wrong_weeks(losses_differ) == []


def test_losses_that_are_kept_are_compared_with_a_recount(farm):
    lot = make_lot(12, at=NOW - 4 * DAY)
    sell(lot, Decimal(4))
    look(farm)
    WeekLoss.objects.update(crate_days=F("crate_days") + Decimal("0.001"))
    assert wrong_weeks(losses_differ) == []
    WeekLoss.objects.update(crate_days=9)
    (line,) = wrong_weeks(losses_differ)
    assert line.startswith(f"week 2026-06-08: {lot.crop_id} lost room is (Decimal('9.000'), ")
    Week.objects.update(losses_kept=False)
    assert wrong_weeks(losses_differ) == []  # counted before anybody reads it
    assert look(farm)["room"] < 9
    WeekLoss.objects.all().delete()
    assert len(wrong_weeks(losses_differ)) == 1
    sell(lot, at=NOW + HOUR)
    assert wrong_weeks(losses_differ) == []


@pytest.mark.skipif(connection.vendor != "sqlite", reason="counted in its cursors")
def test_a_week_costs_what_its_own_crates_cost(farm):
    """Counted after one other week, and again after eight with readings of their own."""
    sell(make_lot(12, at=NOW - 4 * DAY))
    builders.take(make_lot(12, at=NOW - 4 * DAY), "all", NOW)
    warm(hours=48)
    costs = []
    for others in (1, 8):
        for number in range(others):
            then = NOW - WEEK * (number + 2)
            sell(make_lot(12, at=then - DAY), at=then)
            warm(since=then - DAY, hours=40)
        logs.forget()
        with Counted() as counted:
            count_losses(farm, MONDAY)
        costs.append((counted.queries, counted.rows))
    assert costs[0] == costs[1]
