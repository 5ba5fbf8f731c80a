"""Temperatures, sensors and alarms that can't be written down."""

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.actions.movements import move_lots
from inventory.actions.quality import judge_crate
from inventory.actions.temperatures import (
    OLDEST_READING,
    check_room,
    close_alarm,
    hash_token,
    make_sensor,
    probe,
    record_readings,
    revoke_sensor,
    set_reading_aside,
    take_back_check,
    take_back_paper_log,
    take_back_probe,
    token_of,
    type_paper_log,
    type_reading,
)
from inventory.errors import Conflict, Refused
from inventory.ledger.book import CLOCKS_DIFFER
from inventory.models import PaperLog, ProbeReading, Reading, Room, RoomCheck, Sensor
from tests import builders
from tests.builders import NOW, act
from tests.refusing import refused

pytestmark = pytest.mark.usefixtures("farm")


@pytest.mark.parametrize(
    ("moment", "code"),
    [
        (NOW - OLDEST_READING - timedelta(seconds=1), "six-years-ago"),
        (NOW + CLOCKS_DIFFER + timedelta(seconds=1), "future"),
    ],
)
def test_a_reading_is_of_a_moment_that_can_be(moment, code):
    room = Room.objects.get()
    with refused(Refused(code, field="moment")):
        type_reading(act(), room=room, celsius=3.5, moment=moment)
    with refused(Refused(code, field="moment")):
        type_paper_log(act(), room=room, rows=[(NOW, 3.5), (moment, 3.5)])


def test_the_same_entry_again_adds_nothing_and_with_another_figure_is_refused():
    room, entry, ben = Room.objects.get(), act(), builders.make_crew()
    type_reading(entry, room=room, celsius=3.5, moment=None)
    assert type_reading(entry, room=room, celsius=3.5, moment=None).added == 0
    with refused(Conflict("sent-before")):
        type_reading(entry, room=room, celsius=5.3, moment=None)
    with refused(Conflict("sent-before")):
        type_reading(act(person=ben, id=entry.id), room=room, celsius=3.5, moment=None)


def test_crew_take_back_what_they_typed_themselves_that_day():
    ben, cyd, room = builders.make_crew(), builders.make_crew("Cyd"), Room.objects.get()
    type_reading(act(person=ben), room=room, celsius=35, moment=NOW - timedelta(days=2))
    reading = Reading.objects.get()
    tomorrow = NOW + timedelta(days=1)
    with refused(Refused("owner-only")):
        set_reading_aside(act(tomorrow, person=ben), reading=reading)
    with refused(Refused("owner-only")):
        set_reading_aside(act(person=cyd), reading=reading)
    set_reading_aside(act(NOW + timedelta(hours=1), person=ben), reading=reading)
    assert Reading.objects.get().set_aside == "wrong"


def test_crew_take_back_nothing_a_sensor_wrote():
    ben, room = builders.make_crew(), Room.objects.get()
    record_readings(room, [(NOW, 3.0)], kind="sensor", at=NOW, sensor="P1", person=ben)
    with refused(Refused("owner-only")):
        set_reading_aside(act(person=ben), reading=Reading.objects.get())


def paper_log(person=None) -> PaperLog:
    rows = [(NOW - timedelta(hours=hour), 3.5) for hour in (1, 2)] + [(NOW, 95.0)]
    return type_paper_log(act(person=person), room=Room.objects.get(), rows=rows)


def probed(person=None) -> ProbeReading:
    intake = builders.make_lot(at=NOW - timedelta(hours=1), pulp_c=None).intake
    return probe(act(person=person), intake=intake, celsius=Decimal(12))


def test_two_probes_of_one_moment_are_both_kept_and_one_sent_twice_is_one():
    intake, first = probed().intake, ProbeReading.objects.get()
    other = act()
    second = probe(other, intake=intake, celsius=Decimal(11))
    assert (first.at, second.at) == (NOW, NOW + timedelta(seconds=1))
    assert probe(other, intake=intake, celsius=Decimal(11)) == second
    with refused(Conflict("sent-before")):
        probe(other, intake=intake, celsius=Decimal(10))
    assert list(intake.probes.values_list("temperature_c", flat=True)) == [12, 11]
    take_back_probe(act(), probe=first)
    assert probe(act(), intake=intake, celsius=Decimal(9)).at == NOW


def checked(person=None, hour=0, celsius=3.0, **seen) -> RoomCheck:
    at = act(NOW + timedelta(hours=hour), person=person)
    look = {"door_shut": True, "odd": ""} | seen
    return check_room(at, room=Room.objects.get(), celsius=celsius, **look)


TAKING_BACK = [
    (paper_log, lambda by, log: take_back_paper_log(by, log=log)),
    (probed, lambda by, probe: take_back_probe(by, probe=probe)),
    (checked, lambda by, check: take_back_check(by, check=check)),
]


@pytest.mark.parametrize(("do", "take_back"), TAKING_BACK, ids=["paper", "probe", "check"])
def test_a_doing_is_taken_back_by_whoever_did_it_that_day_or_by_the_owner(do, take_back):
    ben, cyd = builders.make_crew(), builders.make_crew("Cyd")
    done, tomorrow = do(person=ben), NOW + timedelta(days=1)
    with refused(Refused("owner-only")):
        take_back(act(tomorrow, person=ben), done)
    with refused(Refused("owner-only")):
        take_back(act(person=cyd), done)
    soon = NOW + timedelta(hours=1)
    take_back(act(soon, person=ben), done)
    take_back(act(tomorrow), done)
    done.refresh_from_db()
    assert (done.taken_back_by, done.taken_back_at) == (ben, soon)
    other = do() if do is not paper_log else None
    if other is not None:
        take_back(act(tomorrow), other)
        other.refresh_from_db()
        assert other.taken_back_by == builders.owner()


def test_a_paper_log_goes_whole_but_for_what_was_there_before_it():
    room = Room.objects.get()
    type_reading(act(), room=room, celsius=4.0, moment=NOW - timedelta(hours=1))
    log = paper_log()
    assert (log.added, log.already_there, log.set_aside) == (1, 1, 1)
    take_back_paper_log(act(NOW + timedelta(hours=1)), log=log)
    rows = Reading.objects.order_by("at").values_list("temperature_c", "set_aside")
    assert list(rows) == [(3.5, "wrong"), (4.0, ""), (95.0, "wrong")]
    assert room.log_changes.latest("pk").since == NOW - timedelta(hours=2)
    again = paper_log()
    assert (again.added, again.already_there, again.set_aside) == (1, 1, 1)


def test_the_same_paper_log_again_adds_nothing_though_it_was_taken_back():
    room, entry, rows = Room.objects.get(), act(), [(NOW, 3.5)]
    log = type_paper_log(entry, room=room, rows=rows)
    take_back_paper_log(act(), log=log)
    again = type_paper_log(entry, room=room, rows=rows)
    assert again == log
    assert Reading.objects.count() == 1
    ben = builders.make_crew()
    with refused(Conflict("sent-before")):
        type_paper_log(act(person=ben, id=entry.id), room=room, rows=rows)


def test_a_check_goes_with_its_temperature_and_what_it_replaced_stands_again():
    first = checked(opens_from_inside=False, celsius=None)
    second = checked(hour=1, door_shut=False, odd="ice")
    assert RoomCheck.objects.standing().get() == second
    assert second.opens_from_inside is False
    with refused(Conflict("check-replaced")):
        take_back_check(act(NOW + timedelta(hours=2)), check=first)
    take_back_check(act(NOW + timedelta(hours=2)), check=second)
    assert RoomCheck.objects.standing().get() == first
    reading = Reading.objects.get()
    assert (reading.set_aside, reading.taken_back_by) == ("wrong", builders.owner())
    take_back_check(act(NOW + timedelta(hours=2)), check=first)
    assert not RoomCheck.objects.standing().exists()
    assert RoomCheck.objects.count() == 2


def test_the_same_check_again_stays_taken_back_and_with_another_word_is_refused():
    entry, room = act(), Room.objects.get()
    look = {"room": room, "celsius": 3.0, "door_shut": True, "odd": ""}
    check = check_room(entry, **look)
    take_back_check(act(), check=check)
    assert check_room(entry, **look) == check
    assert not RoomCheck.objects.standing().exists()
    with refused(Conflict("sent-before")):
        check_room(entry, **look | {"door_shut": False})


def test_what_a_check_said_of_a_crate_goes_with_it_unless_something_came_after():
    lot = builders.make_lot(at=NOW - timedelta(days=5))
    judged = judge_crate(act(), lot=lot.pk, answer="fine")
    check = checked(judged=judged)
    move_lots(act(NOW + timedelta(hours=1)), lots=[lot.pk], position=builders.place("A2"))
    blocker = lot.movements.latest("pk").action
    with refused(Conflict("undo-blocked", blocker=blocker)):
        take_back_check(act(NOW + timedelta(hours=2)), check=check)
    other = judge_crate(act(NOW + timedelta(hours=3)), lot=lot.pk, answer="fine")
    take_back_check(act(NOW + timedelta(hours=4)), check=checked(hour=3, judged=other))
    assert other.undone_by
    assert RoomCheck.objects.standing().get() == check


@pytest.mark.parametrize("moment", [NOW - OLDEST_READING, NOW + CLOCKS_DIFFER])
def test_a_reading_at_the_edge_of_what_can_be_is_taken(moment):
    type_reading(act(), room=Room.objects.get(), celsius=3.5, moment=moment)
    assert Reading.objects.get().at == moment


def test_two_sensors_at_work_have_two_names():
    room = Room.objects.get()
    made = make_sensor(act(), name="P1", room=room)
    first = Sensor.objects.get(token_hash=hash_token(token_of(made)))
    with refused(Refused("sensor-exists", field="name")):
        make_sensor(act(), name="p1", room=room)
    revoke_sensor(act(), sensor=first)
    make_sensor(act(), name="p1", room=room)
    assert Sensor.objects.count() == 2


def test_two_figures_typed_in_one_second_are_both_kept():
    room = Room.objects.get()
    for celsius in (3.0, 4.5, 3.0):
        type_reading(act(), room=room, celsius=celsius, moment=None)
    kept = Reading.objects.filter(room=room).order_by("at").values_list("at", "temperature_c")
    assert list(kept) == [(NOW, 3.0), (NOW + timedelta(seconds=1), 4.5)]


def test_an_alarm_is_closed_with_what_was_done():
    spell = {"started_at": 0.0, "ended_at": 7200.0, "side": "warm", "peak_c": 9.0}
    with refused(Refused("alarm-done", field="done")):
        close_alarm(act(), room=Room.objects.get(), **spell, done="")
