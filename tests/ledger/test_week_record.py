"""What advice reads of a week is kept with it. What it says is tested in queries/test_advice."""

from datetime import date, timedelta
from decimal import Decimal

from inventory.actions.movements import move_lots
from inventory.actions.undo import undo
from inventory.ledger import week_record
from inventory.ledger.week_record import count_record, read_records, record_differs
from inventory.ledger.weeks import CalendarChanged, count_up_to, wrong_weeks
from inventory.models import Farm, Week
from tests.builders import NOW, act, crop, make_lot, place, take
from tests.too_much import throw

MONDAY = date(2026, 6, 8)
DAY, WEEK = timedelta(days=1), timedelta(days=7)


def read(farm, week=MONDAY):
    count_up_to(farm, week)
    return read_records(farm, week, week)[week]


def test_a_week_by_hand(farm):
    """Wednesday's 20 bunches in two crates, of Tuesday; 6 go to market and 5 are thrown away."""
    lots = make_lot(12, cut_ago=DAY), make_lot(8, cut_ago=DAY)
    for lot in lots:
        take(lot, Decimal(3), NOW)
    throw(lots[0], 4, NOW, reason="wilted")
    throw(lots[1], 1, NOW, reason="froze")
    kale = [crop().pk, "bunch"]
    record = read(farm)
    market = record["loaded"][0][2]
    assert record == {
        "cut": [[*kale, "2026-06-09", 2, "20"]],
        "wasted_of": [[*kale, "2026-06-09", "2026-06-08", "4"]],
        "loaded": [[*kale, market, "2026-06-10", 2, "6", "6", "6"]],
        "harmed": [[*kale, lots[1].position_id, "1"]],
        "back_of": [],
        "back": [],
        "passed": [],
    }


def test_a_kept_week_is_not_read_again_until_something_of_it_changes(farm, monkeypatch):
    lot = make_lot(12)
    read(farm)
    counted = []
    count = week_record.count_record
    monkeypatch.setattr(
        week_record, "count_record", lambda farm, week: counted.append(week) or count(farm, week)
    )
    read(farm)
    assert counted == []
    throw(lot, 2, NOW + DAY)
    assert read(farm)["wasted_of"][0][-1] == "2"
    assert counted == [MONDAY]


def test_where_a_crate_stood_that_was_passed_is_put_right_in_the_week_of_the_take(farm):
    """A late move, and a move taken back, of a crate that nothing else was written of."""
    older = make_lot(12, at=NOW - 3 * DAY, position=place("A3"))
    take(make_lot(12), "all", NOW + DAY)
    stood = [read(farm)["passed"][0][2]]
    late = act(NOW + WEEK, told_at=NOW)
    moved = move_lots(late, lots=[older.pk], position=place("B1"))
    stood.append(read(farm)["passed"][0][2])
    undo(act(NOW + WEEK), action=moved)
    stood.append(read(farm)["passed"][0][2])
    assert stood == [place("A3").pk, place("B1").pk, place("A3").pk]


def test_before_the_first_entry_and_while_the_weeks_become_others_there_is_nothing(
    farm, monkeypatch
):
    assert read_records(farm, MONDAY, MONDAY) == {}
    make_lot(12)
    count_up_to(farm, MONDAY)

    def changed(_farm):
        raise CalendarChanged

    with monkeypatch.context() as patched:
        patched.setattr(week_record, "need_calendar", changed)
        assert read_records(farm, MONDAY, MONDAY) == {}
    assert set(read_records(farm, MONDAY - WEEK, MONDAY)) == {MONDAY}


def test_what_is_kept_of_a_week_is_compared_with_a_recount(farm):
    lot = make_lot(12)
    record = read(farm)
    assert wrong_weeks(record_differs) == []
    Week.objects.update(record=record | {"cut": []})
    (line,) = wrong_weeks(record_differs)
    assert line == f"week 2026-06-08: cut is [], a recount says {record['cut']}"
    throw(lot, 2, NOW + DAY)
    assert wrong_weeks(record_differs) == []  # marked: it will be counted before anybody reads it
    assert read(Farm.objects.get())["cut"] == count_record(farm, MONDAY)["cut"]
