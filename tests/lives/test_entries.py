"""What memory keeps of crates is what the ledger says, whoever wrote and whatever came of it."""

import secrets
from datetime import timedelta
from decimal import Decimal

from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from inventory.actions.movements import move_lots
from inventory.actions.owner import save_row
from inventory.actions.quality import inspect
from inventory.actions.reshape import split_lot
from inventory.actions.setup import Shelving, add_room
from inventory.actions.undo import undo
from inventory.lives import entries
from inventory.lives.entries import forget, read_pasts, read_pasts_unfilled
from inventory.lives.reader import read_clocks
from inventory.models import Lot, Position, Room
from inventory.models.lots import NO_STAMP
from tests import builders
from tests.builders import NOW, act, make_lot, make_lots, place

HOUR = timedelta(hours=1)


def remembered() -> dict:
    return read_pasts({lot.pk: lot for lot in Lot.objects.all()})


def as_the_ledger_says() -> dict:
    forget()
    return remembered()


def elsewhere() -> Position:
    """A place in another room."""
    return add_room(Shelving("Bench", Decimal(12), 1, 1), 1, secrets.choice).positions.get()


def tables_asked() -> list[str]:
    with CaptureQueriesContext(
        connection,
    ) as captured:
        remembered()
    return [query["sql"].split('FROM "inventory_')[1].split('"')[0] for query in captured]


def test_entries_of_crates_that_nobody_touched_are_not_read_again(farm):
    one, _other = make_lots(12, 12)
    remembered()
    assert tables_asked() == ["lot"]
    move_lots(act(NOW + HOUR), lots=[one.pk], position=place("A2"))
    assert "movement" in tables_asked()
    assert tables_asked() == ["lot"]


def test_whatever_is_done_is_known_at_the_next_look(farm):
    lot = make_lot()
    found = remembered()
    moved = move_lots(act(NOW + HOUR), lots=[lot.pk], position=elsewhere())
    for do, changes in (
        (lambda: None, True),
        (lambda: undo(act(NOW + 2 * HOUR), action=moved), True),
        (lambda: inspect(act(NOW + 3 * HOUR), lot=lot.pk, days=2, seen="firm"), True),
        (lambda: builders.take(lot, "half", at=NOW + 4 * HOUR), False),  # it stands where it stood
        (lambda: split_lot(act(NOW + 5 * HOUR), lot=lot.pk, quantity=Decimal(4)), True),
        (lambda: builders.take(lot, "all", at=NOW + 6 * HOUR), True),
    ):
        do()
        before, found = found, remembered()
        assert found == as_the_ledger_says()
        assert (found != before) == changes


def test_what_was_rolled_back_is_not_remembered(farm):
    """Read by who held the crate's row from before it, and by who read it while it stood."""
    lot = make_lot()
    stands = read_pasts({lot.pk: lot})
    old = Lot.objects.get(pk=lot.pk)
    forget()
    with transaction.atomic():
        move_lots(act(NOW + HOUR), lots=[lot.pk], position=elsewhere())
        assert remembered() != stands
        assert read_pasts({old.pk: old}) != stands
        transaction.set_rollback(True)
    assert read_pasts({old.pk: Lot.objects.get(pk=old.pk)}) == stands


def test_from_shelf_to_shelf_of_a_room_is_no_step_and_what_stood_alike_has_one_record(farm):
    bench = elsewhere()
    stays, shelved, went, back = made = make_lots(12, 12, 12, 12)
    move_lots(act(NOW + HOUR), lots=[shelved.pk], position=place("B2"))
    move_lots(act(NOW + HOUR), lots=[went.pk, back.pk], position=bench)
    move_lots(act(NOW + 2 * HOUR), lots=[back.pk], position=place("A2"))
    found = remembered()
    rooms = {lot.pk: [step.room_id for step in found[lot.pk].steps] for lot in made}
    cold, warm = place().room_id, bench.room_id
    assert rooms == {
        stays.pk: [cold], shelved.pk: [cold], went.pk: [cold, warm], back.pk: [cold, warm, cold]
    }  # fmt: skip
    records = read_clocks(Lot.objects.all(), farm).records
    assert records[stays.pk] is records[shelved.pk]
    assert len({id(records[lot.pk]) for lot in made}) == 3


def test_a_place_that_goes_to_another_room_takes_its_crates_along(farm):
    lot = make_lot()
    remembered()
    there = place("A1")
    there.room = Room.objects.create(name="Bench", target_c=12)
    save_row(act(), row=there, values={"room": there.room})
    assert remembered()[lot.pk].steps[-1].room_id == there.room_id
    assert Lot.objects.get(pk=lot.pk).stamp == NO_STAMP


def test_of_crates_that_are_gone_only_those_are_kept_that_others_were_filled_from(farm):
    gone, whole = make_lots(12, 12)
    split_lot(act(NOW + HOUR), lot=whole.pk, quantity=Decimal(4))
    builders.take(whole, "all", at=NOW + 2 * HOUR)
    builders.take(gone, "all", at=NOW + 2 * HOUR)
    forget()
    remembered()
    assert gone.pk not in entries._kept
    assert whole.pk in entries._kept


def harvests() -> dict:
    return read_pasts_unfilled(dict(Lot.objects.values_list("pk", "stamp")))


def test_of_a_weeks_harvests_what_left_is_kept_too_until_it_is_another(
    farm, django_assert_num_queries
):
    lot = make_lot()
    taken = builders.take(lot, "all", at=NOW + 2 * HOUR)
    left = harvests()
    with django_assert_num_queries(1):  # the stamps
        assert harvests() == left
    undo(act(NOW + 3 * HOUR), action=taken)
    back = harvests()
    assert len(back[lot.pk].steps) < len(left[lot.pk].steps)
    there = place("A1")
    there.room = Room.objects.create(name="Bench", target_c=12)
    save_row(act(), row=there, values={"room": there.room})
    for _ in range(2):
        assert harvests()[lot.pk].steps[-1].room_id == there.room_id
    assert harvests() == as_the_ledger_says()


def test_memory_is_bounded(farm, monkeypatch):
    monkeypatch.setattr(entries, "MOST_KEPT", 3)
    make_lots(12, 12)
    assert remembered() == as_the_ledger_says()
    make_lots(12, 12)
    assert remembered() == as_the_ledger_says()
    assert len(entries._kept) <= 4
