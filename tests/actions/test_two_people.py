"""Two people at one crate in the same moment, on a real database with real threads."""

import threading
from datetime import timedelta
from decimal import Decimal
from itertools import count
from uuid import uuid4

import pytest
from django.db import connection, transaction

from inventory.actions import undo as undo_module
from inventory.actions.intakes import bring_in_harvest
from inventory.actions.movements import Settling, close_market, move_lots, take_out
from inventory.actions.owner import Habit, save_row, set_habits
from inventory.actions.quality import discard, judge_crate
from inventory.actions.temperatures import check_room, record_readings, take_back_check
from inventory.errors import Conflict
from inventory.models import Action, Lot, MarketDay, MarketHabit, Movement, Room, RoomCheck, Source
from inventory.models.lots import NO_STAMP
from inventory.upkeep.refold import differences
from tests import builders
from tests.builders import NOW, act, make_lot, make_lots, place, take
from tests.serving import LIMIT_S

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(*doings):
    """Run callables in threads that start together; return their answers or exceptions."""
    barrier = threading.Barrier(len(doings))
    answers = [None] * len(doings)

    def run(index, doing):
        try:
            barrier.wait(timeout=LIMIT_S)
            answers[index] = doing()
        except Exception as error:
            answers[index] = error
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(doings)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=LIMIT_S)
    return answers


@pytest.fixture
def busy_farm():
    builders.make_farm()
    builders.make_crew()


def taking(lot, portion, made=None):
    made = made or act()
    return lambda: take_out(made, lot=lot.pk, portion=portion, purpose="own use")


@pytest.mark.parametrize("_round", range(5))
@pytest.mark.usefixtures("busy_farm")
def test_the_second_to_take_a_whole_crate_is_refused(_round):
    lot = make_lot(12)
    answers = at_once(taking(lot, "all"), taking(lot, "all"))
    assert sorted(type(answer) for answer in answers if isinstance(answer, Conflict)) == [Conflict]
    assert sum(isinstance(answer, Action) for answer in answers) == 1
    lot = Lot.objects.get(pk=lot.pk)
    assert lot.quantity == 0
    assert list(differences(lot, lot.movements.order_by("pk"))) == []


@pytest.mark.usefixtures("busy_farm")
def test_many_small_takes_never_go_below_zero_and_none_is_lost():
    lot = make_lot(5)
    answers = at_once(*(taking(lot, Decimal(1)) for _ in range(8)))
    taken = [answer for answer in answers if isinstance(answer, Action)]
    refused = [answer for answer in answers if isinstance(answer, Conflict)]
    assert (len(taken), len(refused)) == (5, 3)
    assert Movement.objects.filter(kind="out").count() == 5
    assert Lot.objects.get(pk=lot.pk).quantity == 0


@pytest.mark.usefixtures("busy_farm")
def test_both_may_do_what_is_still_possible():
    lot = make_lot(12)
    moving = act()
    answers = at_once(
        taking(lot, Decimal(5)),
        lambda: move_lots(moving, lots=[lot.pk], position=place("B2")),
    )
    assert all(isinstance(answer, Action) for answer in answers), answers
    lot = Lot.objects.get(pk=lot.pk)
    assert (lot.quantity, lot.position) == (7, place("B2"))


@pytest.mark.parametrize("_round", range(5))
@pytest.mark.usefixtures("busy_farm")
def test_the_same_id_twice_at_once_is_one_movement(_round):
    lot = make_lot(12)
    same = act()
    answers = at_once(taking(lot, "half", same), taking(lot, "half", same))
    assert answers[0] == answers[1]
    assert isinstance(answers[0], Action)
    assert Movement.objects.filter(kind="out").count() == 1
    assert Lot.objects.get(pk=lot.pk).quantity == 6


@pytest.mark.usefixtures("busy_farm")
def test_crossing_moves_of_the_same_crates_do_not_deadlock():
    codes = [lot.pk for lot in make_lots(1, 1, 1, 1)]
    made = [act(id=uuid4()) for _ in range(4)]
    answers = at_once(
        *(
            lambda one=one, order=order: move_lots(one, lots=order, position=place("B1"))
            for one, order in zip(made, (codes, codes[::-1], codes, codes[::-1]), strict=True)
        )
    )
    assert all(isinstance(answer, Action) for answer in answers), answers


@pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite lets one write at a time")
@pytest.mark.usefixtures("busy_farm")
def test_a_place_that_goes_to_another_room_waits_for_a_crate_and_holds_no_later_one():
    """Crates of its past are locked by code, though those of later codes were made first."""
    drawn = count()
    falling = act(choose=lambda letters: letters[-1 - next(drawn) // 6])  # six make a code
    bring_in_harvest(
        falling, crop=builders.crop(), source=Source.objects.get(name="Bed 3"),
        quantities=[Decimal(1)] * 4, unit="bunch", position=place(),
    )  # fmt: skip
    crates = Lot.objects.order_by("pk")
    there, made, held, changed = place(), act(), threading.Event(), threading.Event()
    there.room = Room.objects.create(name="Bench", target_c=12)

    def at_the_first():
        with transaction.atomic():
            first = crates.select_for_update().first()
            crates.filter(pk=first.pk).update(stamp=NO_STAMP + 1)
            held.set()
            while not (somebody_waits() or changed.is_set()):
                pass
            return len(crates.exclude(pk=first.pk).select_for_update(nowait=True))

    def change():
        held.wait(timeout=LIMIT_S)
        try:
            return save_row(made, row=there, values={"room": there.room})
        finally:
            changed.set()

    counted, action = at_once(at_the_first, change)
    assert counted == 3
    assert isinstance(action, Action), action
    assert set(crates.values_list("stamp", flat=True)) == {NO_STAMP}


@pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite lets one write at a time")
@pytest.mark.usefixtures("busy_farm")
def test_a_sensor_posts_while_a_place_goes_to_its_room():
    """It holds its room and waits for the farm's row; the place's new room is looked up last."""
    there, made = place(), act()
    there.room = Room.objects.create(name="Bench", target_c=12)
    changed, posted = threading.Event(), threading.Event()

    def change():
        with transaction.atomic():
            action = save_row(made, row=there, values={"room": there.room})
            changed.set()
            while not (somebody_waits() or posted.is_set()):
                pass
        return action

    def post():
        changed.wait(timeout=LIMIT_S)
        try:
            return record_readings(
                there.room, [(NOW, 4.0)], kind="sensor", at=NOW, sensor="fan"
            ).added
        finally:
            posted.set()

    action, added = at_once(change, post)
    assert isinstance(action, Action), action
    assert added == 1


@pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite lets one write at a time")
@pytest.mark.usefixtures("busy_farm")
def test_a_check_of_a_crate_is_taken_back_while_the_next_look_is_written():
    lot, room = make_lot(), Room.objects.get()
    judged, told = threading.Event(), threading.Event()

    def look(made):
        answer = judge_crate(made, lot=lot.pk, answer="fine")
        judged.set()
        while made is again and not (somebody_waits() or told.is_set()):
            pass
        return check_room(made, room=room, celsius=3.0, door_shut=True, odd="", judged=answer)

    def look_again():
        with transaction.atomic():
            return look(again)

    def take_back():
        judged.wait(timeout=LIMIT_S)
        try:
            take_back_check(act(), check=first)
        finally:
            told.set()

    again = act(NOW + timedelta(hours=1))
    first = look(act())
    judged.clear()
    second, refusal = at_once(look_again, take_back)
    assert isinstance(second, RoomCheck), second
    assert isinstance(refusal, Conflict), refusal


def somebody_waits() -> bool:
    """Whether another connection waits for what this one has locked."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1 FROM pg_locks WHERE pg_backend_pid() = ANY(pg_blocking_pids(pid))")
        return cursor.fetchone() is not None


@pytest.mark.usefixtures("busy_farm")
def test_taking_and_discarding_the_last_of_a_crate():
    lot = make_lot(4)
    throwing = act()
    answers = at_once(
        taking(lot, Decimal(3)),
        lambda: discard(
            throwing, lot=lot.pk, portion=Decimal(3), reason="wilted", destination="compost"
        ),
    )
    assert sum(isinstance(answer, Action) for answer in answers) == 1
    assert Lot.objects.get(pk=lot.pk).quantity == 1


@pytest.mark.parametrize("_round", range(5))
@pytest.mark.usefixtures("busy_farm")
def test_a_new_block_typed_twice_at_once_is_one(_round):
    def bringing(made, name):
        return lambda: bring_in_harvest(
            made, crop=builders.crop(), source=Source(kind="block", name=name),
            quantities=[Decimal(1)], unit="bunch",
        )  # fmt: skip

    answers = at_once(bringing(act(), "Tunnel 2"), bringing(act(), "tunnel 2"))
    assert all(isinstance(answer, Action) for answer in answers), answers
    assert Source.objects.filter(name__iexact="tunnel 2").count() == 1


@pytest.mark.parametrize("_round", range(3))
@pytest.mark.usefixtures("busy_farm")
def test_what_a_market_sells_set_twice_at_once_is_one_row(_round):
    def setting(made, usually):
        habit = Habit(builders.crop(), "bunch", Decimal(usually), None)
        return lambda: set_habits(made, outlet=builders.market(), habits=[habit])

    answers = at_once(setting(act(), 30), setting(act(), 40))
    assert all(isinstance(answer, Action) for answer in answers), answers
    assert MarketHabit.objects.count() == 1


@pytest.mark.usefixtures("busy_farm")
def test_a_closing_taken_back_while_the_rest_is_closed_is_in_no_day(monkeypatch):
    """The rest is closed, if it can be, as soon as nothing stood in the way of taking it back."""
    lots, there = make_lots(12, 7), builders.at_market()
    for lot in lots:
        take(lot, "all")
    rows = [[Settling(lot.pk, lot.quantity)] for lot in lots]
    earlier = close_market(act(), market=there, rows=rows[0])
    closing, looked, closed = act(), threading.Event(), threading.Event()
    free = undo_module.blocking_action

    def look(action):
        found = free(action)
        looked.set()
        closed.wait(timeout=0.3)
        return found

    def close_the_rest():
        looked.wait(timeout=LIMIT_S)
        close_market(closing, market=there, rows=rows[1])
        closed.set()

    undoing = act()
    monkeypatch.setattr(undo_module, "blocking_action", look)
    answers = at_once(lambda: undo_module.undo(undoing, action=earlier), close_the_rest)
    assert isinstance(answers[0], Action), answers
    assert MarketDay.objects.standing().get().sales.get().sold == 7
