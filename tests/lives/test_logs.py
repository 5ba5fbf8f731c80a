"""Another target holds from then on: what was before stays as it was."""

import random
import secrets
from contextlib import contextmanager, nullcontext
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection

from inventory.actions.owner import save_row
from inventory.actions.quality import discard
from inventory.actions.setup import Shelving, add_room
from inventory.actions.temperatures import record_readings, set_reading_aside
from inventory.keeping import AgingCurve, life_days, load_reference
from inventory.keeping.log import Knot, RoomLog
from inventory.lives import logs
from inventory.models import LogChange, Lot, Reading, Room, RoomTarget
from inventory.queries.crates import one_crate
from tests.bench.counted import Counted
from tests.builders import NOW, act, make_lot, make_lots, set_target
from tests.readings import life, room, steady, write

HOUR = timedelta(hours=1)
DAY = timedelta(days=1)
KALE = load_reference()["kale"]


def used(lot: Lot, at, farm) -> float:
    return one_crate(lot.pk, farm, at).life.used


def knots_kept(since_s: float) -> list[Knot]:
    return knots_of(logs.room_logs(since_s)[room().pk].log)


def knots_in_the_tables(since_s: float) -> list[Knot]:
    kept = logs.room_logs(since_s)[room().pk]
    return knots_of(logs._load(room(), kept.version, kept.from_s).log)


def knots_of(log: RoomLog) -> list[Knot]:
    return [log.at_moment(at) for at in log.at]


def test_a_change_of_target_re_ages_nothing_and_counts_from_then_on(farm):
    """Days over life_days, added by hand: three at 2 °C, two at 12, one at 5."""
    lot = make_lot()
    before = used(lot, NOW + 3 * DAY, farm)
    set_target(12, NOW + 3 * DAY)
    assert used(lot, NOW + 3 * DAY, farm) == pytest.approx(before, abs=1e-9)
    at_two = 3 / life_days(KALE, 2)
    assert before == pytest.approx(at_two, abs=1e-9)
    at_twelve = at_two + 2 / life_days(KALE, 12)
    assert used(lot, NOW + 5 * DAY, farm) == pytest.approx(at_twelve, abs=1e-9)
    set_target(5, NOW + 5 * DAY)
    assert used(lot, NOW + 5 * DAY, farm) == pytest.approx(at_twelve, abs=1e-9)
    expected = at_twelve + 1 / life_days(KALE, 5)
    assert used(lot, NOW + 6 * DAY, farm) == pytest.approx(expected, abs=1e-9)
    logs.forget()
    assert used(lot, NOW + 6 * DAY, farm) == pytest.approx(expected, abs=1e-9)


def test_what_is_to_come_is_reckoned_with_the_new_target(farm):
    lot = make_lot()
    assert one_crate(lot.pk, farm, NOW + DAY).life.here_c == 2
    set_target(12, NOW + DAY)
    life = one_crate(lot.pk, farm, NOW + DAY).life
    assert life.here_c == 12
    assert life.days_left == pytest.approx((1 - life.used) * life_days(KALE, 12))


def test_what_was_measured_counts_whatever_the_target(farm):
    lot = make_lot()
    readings = [(NOW + hour * HOUR, 7) for hour in range(49)]
    record_readings(Room.objects.get(), readings, kind="sensor", at=NOW + 48 * HOUR, sensor="fan")
    set_target(20, NOW + DAY)
    assert used(lot, NOW + 2 * DAY, farm) == pytest.approx(2 / life_days(KALE, 7), abs=1e-9)


def test_a_kept_log_takes_a_change_up_as_a_fresh_one_reads_it(farm):
    """Readings and changes in turn, with gaps: what is in memory is what is in the tables."""
    chance = random.Random(7)
    lot, now = make_lot(), NOW
    for _ in range(30):
        now += timedelta(minutes=chance.randrange(1, 40 * 60))
        if chance.random() < 0.5:
            set_target(chance.randrange(-1, 20), now)
        else:
            reading = [(now, chance.randrange(0, 15))]
            kind = chance.choice(["typed", "sensor"])
            record_readings(Room.objects.get(), reading, kind=kind, at=now, sensor="")
        moments = [now - 5 * DAY, now, now + 6 * HOUR]
        kept = [used(lot, max(moment, NOW), farm) for moment in moments]
        logs.forget()
        read_again = [used(lot, max(moment, NOW), farm) for moment in moments]
        assert kept == pytest.approx(read_again, abs=1e-9)


def test_a_change_is_taken_up_from_where_it_is_and_the_rest_is_kept(farm, monkeypatch):
    """Without a restart, and without reading the whole log again."""
    lot = make_lot()
    used(lot, NOW + DAY, farm)
    monkeypatch.setattr(logs, "_load", None)
    set_target(12, NOW + DAY)
    expected = 1 / life_days(KALE, 2) + 1 / life_days(KALE, 12)
    assert used(lot, NOW + 2 * DAY, farm) == pytest.approx(expected, abs=1e-9)


def test_a_rooms_first_target_holds_from_before_anything_was_kept(farm):
    (first,) = Room.objects.get().targets.all()
    assert (first.target_c, first.since.year) == (2, 2000)
    Room.objects.create(name="Bench", target_c=Decimal(12))
    assert logs.room_logs(0)[Room.objects.get(name="Bench").pk].targets == ((0.0, 12.0),)


def test_only_another_target_is_written_down(farm):
    room = Room.objects.get()
    room.damp = False
    save_row(act(NOW), row=room, values={"damp": False, "target_c": room.target_c})
    assert (RoomTarget.objects.count(), LogChange.objects.count()) == (1, 0)
    set_target(3, NOW + DAY)
    target = RoomTarget.objects.latest("since")
    assert (target.since, target.target_c) == (NOW + DAY, 3)
    assert Room.objects.get().target_c == 3


def test_the_kept_curves_equal_a_fresh_reading_of_the_log(farm):
    """Readings in any order, in any pieces: what is kept in memory is what is in the table."""
    chance = random.Random(11)
    lots = make_lots(12, 12)
    moments = [hour / 4 for hour in range(0, 600, 1) if not 200 < hour < 320]
    chance.shuffle(moments)
    now = NOW + 7 * DAY
    while moments:
        piece, moments = moments[:37], moments[37:]
        readings = [(hour, round(chance.uniform(0, 9), 1)) for hour in piece]
        write(*readings, sensor=chance.choice(["corner", "fan"]))
        write(*readings[:2], kind="typed", sensor="")
        kept = [life(lot, now).used for lot in lots]
        logs.forget()
        assert kept == pytest.approx([life(lot, now).used for lot in lots], abs=1e-12)


def test_of_a_rooms_curves_only_those_asked_take_a_piece_up(farm, monkeypatch):
    """Each is right after however many pieces it was not asked for; from the curve by hand."""
    kale, spinach = make_lot(), make_lot(key="spinach")
    write(*steady(4, hours=48))
    before = [life(lot, NOW + 2 * DAY).used for lot in (kale, spinach)]
    added = []
    add_up = AgingCurve._add_up
    monkeypatch.setattr(AgingCurve, "_add_up", lambda curve: added.append(curve) or add_up(curve))
    for hour in (49, 50, 51):
        write((hour, 9))
        logs.room_logs(NOW.timestamp())
    assert added == []
    of_spinach = life(spinach, NOW + 52 * HOUR).used
    curves = logs.room_logs(NOW.timestamp())[room().pk].curves
    assert added
    assert curves["kale", "aging"] not in added
    of_kale = life(kale, NOW + 52 * HOUR).used
    hours = 1 / life_days(KALE, 4) + 3 / life_days(KALE, 9)
    assert of_kale == pytest.approx(before[0] + hours / 24, abs=1e-9)
    logs.forget()
    assert life(spinach, NOW + 52 * HOUR).used == pytest.approx(of_spinach, abs=1e-12) != before[1]


def test_one_reading_more_reads_itself_alone(farm, monkeypatch):
    lot = make_lot()
    write(*steady(4, hours=24 * 30))
    now = NOW + 30 * DAY
    life(lot, now)
    read = []
    measurement = logs._measurement
    monkeypatch.setattr(logs, "_measurement", lambda *row: read.append(row) or measurement(*row))
    monkeypatch.setattr(logs, "_load", None)  # the whole log is not read again
    since = NOW.timestamp() - DAY.total_seconds()
    before = logs.room_logs(since)
    assert logs.room_logs(since)[room().pk] is before[room().pk]
    assert read == []
    write((24 * 30 + 1, 9))
    assert life(lot, now + 2 * HOUR).here_c > 4
    assert [celsius for _at, celsius, *_by in read] == [9]


def test_a_log_that_grows_at_its_end_is_what_a_fresh_one_reads(farm):
    """By sensors, by hand, over gaps, some set aside, and changed in its midst: knot by knot."""
    chance = random.Random(5)
    make_lot()
    hour, since = -200.0, NOW.timestamp()
    for turn in range(60):
        hour += chance.choice([0.1, 0.5, 1.0, 3.0, 90.0])
        celsius = chance.choice([3, 5, 9, 70])
        if turn % 4:
            write((hour, celsius), (hour + 0.5, 4), sensor=chance.choice(["fan", "door"]))
        else:
            write((hour, celsius), kind="typed", sensor="")
        if turn % 9 == 8:
            write((hour - chance.uniform(0, 60), 8), sensor="hall")
        if turn % 13 == 12:
            counts = Reading.objects.filter(set_aside="").order_by("-at")
            set_reading_aside(act(NOW + 60 * DAY), reading=counts[0])
        if turn % 17 == 16:
            set_target(chance.randrange(0, 9), NOW + hour * HOUR)
        assert knots_kept(since) == knots_in_the_tables(since), turn


def test_a_log_changed_in_its_midst_is_what_a_fresh_one_reads(farm):
    """Pieces here and there, by sensors and by hand, some taken back, and targets: knot by knot."""
    chance = random.Random(3)
    make_lot()
    now, since = NOW + 40 * DAY, NOW.timestamp()
    write(*((hour, 3) for hour in range(0, 24 * 40, 2) if hour % 240 < 200))
    knots_kept(since)
    for turn in range(24):
        start = chance.uniform(-300, 24 * 40)
        hours = [start + chance.uniform(0, 30) for _ in range(chance.randrange(1, 12))]
        readings = [(hour, chance.randrange(0, 15)) for hour in hours]
        if turn % 3:
            write(*readings, sensor=chance.choice(["fan", "door"]))
        else:
            write(*readings[:2], kind="typed", sensor="")
        if turn % 5 == 4:
            counts = Reading.objects.filter(set_aside="").order_by("pk")
            set_reading_aside(act(now), reading=chance.choice(counts))
        if turn % 8 == 7:
            set_target(chance.randrange(0, 9), NOW + turn * DAY)
        assert knots_kept(since) == knots_in_the_tables(since), turn
        kept = logs.room_logs(since)[room().pk]
        fresh = logs._load(room(), kept.version, kept.from_s)
        used_by = [each.curve(KALE, "aging").upto(now.timestamp()) for each in (kept, fresh)]
        assert used_by[0] == pytest.approx(used_by[1], abs=1e-9), turn


def test_a_log_that_begins_in_a_gap_goes_on_when_the_room_is_known_again(farm):
    """Two sensors were last read long before it, and ran out one after the other."""
    since = NOW.timestamp()
    write((-300, 5), sensor="fan")
    write((-299.5, 6), sensor="door")
    assert knots_kept(since)
    write((1, 4), sensor="fan")
    assert knots_kept(since) == knots_in_the_tables(since)


def test_of_what_one_more_reading_leaves_as_it_was_curves_keep_their_sums(farm, monkeypatch):
    write(*steady(4, hours=24 * 10))
    since, until = NOW.timestamp(), (NOW + 11 * DAY).timestamp()

    def used_here():
        return logs.room_logs(since)[room().pk].curve(KALE, "aging").upto(until)

    before, counted = used_here(), []
    days = AgingCurve._days
    monkeypatch.setattr(
        AgingCurve,
        "_days",
        lambda curve, first, end: counted.extend(range(first, end)) or days(curve, first, end),
    )
    write((24 * 10 + 1, 9))
    assert used_here() > before
    assert 0 < len(counted) <= 3


def test_what_is_assumed_long_after_a_piece_still_goes_by_it(farm):
    """Unknown for days, the room counts as warm as it was on the last day it was known."""
    make_lot()
    set_target(3, NOW + 130 * HOUR)
    write(*steady(4, hours=48), *steady(4, hours=48, start=240))
    since = NOW.timestamp()
    before = knots_kept(since)
    write(*steady(12, hours=8, start=40), sensor="logger")
    assert knots_kept(since) == knots_in_the_tables(since) != before


def test_a_piece_of_a_file_reads_its_own_days_again_and_none_before_the_log(farm, monkeypatch):
    lot = make_lot()
    write(*steady(4, hours=24 * 65, start=-24 * 6))
    now = NOW + 60 * DAY
    life(lot, now)
    write((24 * 59 + 1, 4))
    used_before = life(lot, now).used
    read = []
    readings = logs._readings
    monkeypatch.setattr(
        logs, "_readings", lambda *args: read.append(found := readings(*args)) or found
    )
    write(*steady(9, hours=24, start=24 * 30), sensor="logger")
    hours = 26  # the last of them holds two hours more
    warmer = hours / 24 * (1 / life_days(KALE, 9) - 1 / life_days(KALE, 4))
    assert life(lot, now).used == pytest.approx(used_before + warmer, abs=1e-9)
    assert sum(map(len, read)) < 24 * 10
    read.clear()
    write(*steady(9, hours=24, start=-24 * 20), sensor="logger")
    assert life(lot, now).used == pytest.approx(used_before + warmer, abs=1e-9)
    assert read == []


@pytest.mark.skipif(connection.vendor != "sqlite", reason="the steps counted are SQLite's")
def test_a_piece_of_a_file_costs_the_same_whatever_was_read_since(farm):
    def steps() -> int:
        write(*steady(9, hours=24, start=-24 * 20), sensor=secrets.token_hex(4))
        with Counted(every=1) as counted:
            logs.room_logs(NOW.timestamp())
        return counted.steps

    write(*steady(4, hours=24 * 7, start=-24 * 6))
    logs.room_logs(NOW.timestamp())
    few = steps()
    write(*steady(4, hours=24 * 50, start=24 * 2))
    logs.room_logs(NOW.timestamp())
    assert steps() < 1.2 * few


def test_a_log_being_read_is_not_disturbed_by_a_new_reading(farm):
    make_lot()
    write(*steady(3, hours=10))
    old = logs.room_logs(NOW.timestamp())[room().pk]
    total = old.curve(KALE, "aging").between(NOW.timestamp(), (NOW + 10 * HOUR).timestamp())
    write((-1, 20), (5.5, 25))
    new = logs.room_logs(NOW.timestamp())[room().pk]
    assert new is not old
    again = old.curve(KALE, "aging").between(NOW.timestamp(), (NOW + 10 * HOUR).timestamp())
    assert again == total
    fresh = new.curve(KALE, "aging").between(NOW.timestamp(), (NOW + 10 * HOUR).timestamp())
    assert fresh > total


def test_a_change_that_somebody_takes_up_already_is_waited_for(farm, monkeypatch):
    lot = make_lot()
    used(lot, NOW + DAY, farm)
    write((3, 5))
    taken_up, done = logs._taken_up, []
    monkeypatch.setattr(logs, "_taken_up", lambda *args: done.append("read") or taken_up(*args))

    @contextmanager
    def held_by_another():
        done.append("waited")
        monkeypatch.setattr(logs, "_taking_up", nullcontext())
        used(lot, NOW + DAY, farm)
        yield

    monkeypatch.setattr(logs, "_taking_up", held_by_another())
    used(lot, NOW + DAY, farm)
    assert done == ["waited", "read"]


def test_what_comes_while_a_change_is_taken_up_is_taken_up_whole(farm, monkeypatch):
    """Some of it is from before that change, some from after."""
    make_lot()
    write(*((hour, 5) for hour in range(130) if hour != 4), sensor="fan")
    logs.room_logs(NOW.timestamp())
    came = logs._came

    def meanwhile(*args):
        monkeypatch.setattr(logs, "_came", came)
        write((4, 9), (140, 9), sensor="fan")
        return came(*args)

    monkeypatch.setattr(logs, "_came", meanwhile)
    write((130, 5), sensor="fan")
    logs.room_logs(NOW.timestamp())
    assert knots_kept(NOW.timestamp()) == knots_in_the_tables(NOW.timestamp())


def test_a_look_at_a_crate_that_left_long_ago_stretches_nobodys_logs(farm):
    """What it used is what a log kept from its first day on says, by its own days alone."""
    write(*steady(8.0, hours=400, start=-100))
    gone, here = make_lot(), make_lot(at=NOW + 90 * DAY)
    discard(act(NOW + 3 * DAY), lot=gone.pk, portion="all", reason="spoiled", destination="compost")
    at = NOW + 91 * DAY
    used(here, at, farm)
    kept_from = {key: log.from_s for key, log in logs._cache.items()}
    by_itself = used(gone, at, farm)
    assert {key: log.from_s for key, log in logs._cache.items()} == kept_from
    logs.forget()
    logs.room_logs((NOW - 10 * DAY).timestamp())
    assert by_itself == pytest.approx(used(gone, at, farm), abs=1e-9)
    assert by_itself == pytest.approx(used(gone, NOW + 3 * DAY, farm), abs=1e-9)
    assert by_itself == pytest.approx(3 / life_days(KALE, 8), rel=0.05)


def test_a_crate_not_put_away_ages_by_the_room_the_farm_names(farm):
    warm = add_room(Shelving("Warm corner", Decimal(12), racks=1, shelves=1), 1, secrets.choice)
    waits = make_lot(position=None)
    in_the_first = used(waits, NOW + 2 * DAY, farm)
    farm.unplaced_room = warm
    assert used(waits, NOW + 2 * DAY, farm) > in_the_first + 1 / life_days(KALE, 12)


def test_a_page_reads_once_how_far_the_rooms_have_come_and_the_next_page_anew(
    farm, django_assert_num_queries
):
    since = NOW.timestamp()
    record_readings(room(), [(NOW, 3.0)], kind="file", at=NOW)
    before = knots_kept(since)
    with logs.rooms_read_once():
        with django_assert_num_queries(1):
            logs.room_logs(since)
            logs.room_logs(since)
        record_readings(room(), [(NOW + HOUR, 9.0)], kind="file", at=NOW + HOUR)
        assert knots_kept(since) == before
    assert knots_kept(since) != before


def test_a_gap_counts_alike_wherever_the_log_begins(farm):
    """At 8 °C, then not read for weeks: warmer than the target, that is what goes on counting,
    whether an older crate had the log read from before or the server was begun anew."""
    write(*((-20 * 24 + hour, 8) for hour in range(30)))
    old, new = make_lot(at=NOW - 20 * DAY), make_lot()
    assert used(old, NOW, farm) > 0
    expected = 1 / life_days(KALE, 8)
    assert used(new, NOW + DAY, farm) == pytest.approx(expected, abs=1e-9)
    logs.forget()
    assert used(new, NOW + DAY, farm) == pytest.approx(expected, abs=1e-9)


def test_what_was_read_before_a_gap_that_a_log_begins_in_is_taken_up(farm):
    new = make_lot()
    assert used(new, NOW + DAY, farm) == pytest.approx(1 / life_days(KALE, 2), abs=1e-9)
    write(*((-20 * 24 + hour, 8) for hour in range(30)))
    assert used(new, NOW + DAY, farm) == pytest.approx(1 / life_days(KALE, 8), abs=1e-9)
