"""The door to the ledger lets nothing through that can't have been."""

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.actions.movements import move_lots, take_out
from inventory.actions.undo import undo
from inventory.errors import Conflict
from inventory.ledger.book import CLOCK_OFF, CLOCKS_DIFFER, Book
from inventory.models import Lot
from inventory.upkeep.refold import differences
from tests import builders
from tests.builders import NOW, act, fresh, make_lot, place
from tests.refusing import refusal, refused

pytestmark = pytest.mark.usefixtures("farm")


def test_a_clock_far_behind_the_last_entry_of_a_crate_is_refused():
    lot = make_lot(12)
    moved = move_lots(act(), lots=[lot.pk], position=place("B1"))
    behind = NOW - CLOCK_OFF - timedelta(seconds=1)
    with refused(Conflict("later-entry", code=lot.pk)):
        move_lots(act(behind), lots=[lot.pk], position=place("B2"))
    # Undone it is all the same, and what is done then has its own time.
    undo(act(behind), action=moved)
    assert list(differences(Lot.objects.get(pk=lot.pk), lot.movements.order_by("pk"))) == []


def test_what_was_written_a_day_ahead_blocks_nothing_that_comes_after():
    """The clock was a day ahead for a while: the order of what was done stays true."""
    lot = make_lot(12, at=NOW)
    ahead, now = NOW + timedelta(days=1), NOW + timedelta(hours=1)
    wrong = move_lots(act(ahead), lots=[lot.pk], position=place("B1"))
    move_lots(act(now), lots=[lot.pk], position=place("B2"))
    kept = lot.movements.filter(kind="moved").order_by("pk")
    assert [entry.occurred_at for entry in kept] == [ahead, ahead]
    assert Lot.objects.get(pk=lot.pk).position == place("B2")
    with refused(Conflict("undo-blocked", blocker=kept[1].action)):
        undo(act(now), action=wrong)
    undo(act(now), action=kept[1].action)
    undo(act(now), action=wrong)
    later = move_lots(act(now), lots=[lot.pk], position=place("A2"))
    assert later.movements.get().occurred_at == now
    assert list(differences(Lot.objects.get(pk=lot.pk), lot.movements.order_by("pk"))) == []


def test_a_clock_a_little_behind_takes_the_time_of_the_last_entry():
    lot = make_lot(12)
    move_lots(act(NOW - CLOCKS_DIFFER), lots=[lot.pk], position=place("B2"))
    lot = Lot.objects.get(pk=lot.pk)
    assert (lot.position, lot.seen_at) == (place("B2"), NOW)


def test_a_crate_can_not_fall_below_nothing_whoever_writes():
    lot = make_lot(12)
    book = Book(act(), lot.intake.action)
    book.lock([lot.pk])
    with refused(Conflict("more-than-there", code=lot.pk, left=Decimal(12), unit="bunch")):
        book.write(lot, "out", change=Decimal(-13), amount=Decimal(13))


def test_what_was_wrong_before_does_not_stand_in_the_way_of_what_is_told_late():
    lot = make_lot(12, at=NOW - timedelta(hours=8))
    other = make_lot(5, at=NOW - timedelta(hours=4))
    book = Book(act(NOW - timedelta(hours=4)), other.intake.action)
    # The number of that action's own entry is taken.
    book._count = 1
    book.write(book.lock_one(lot.pk), "released")
    late = act(NOW, told_at=NOW - timedelta(hours=5))
    move_lots(late, lots=[lot.pk], position=place("B2"))
    assert Lot.objects.get(pk=lot.pk).position == place("B2")


def test_the_same_id_again_is_the_same_answer():
    lot = make_lot(12)
    again = act()
    content = {"lot": lot.pk, "portion": "half", "purpose": "own use"}
    assert take_out(again, **content) == take_out(again, **content)
    assert fresh(lot).quantity == 6


def test_the_same_id_with_other_content_or_by_somebody_else_is_refused():
    lot = make_lot(12)
    first = act()
    take_out(first, lot=lot.pk, portion="half", purpose="own use")
    with pytest.raises(Conflict, match="sent-before"):
        take_out(first, lot=lot.pk, portion="all", purpose="own use")
    stranger = act(id=first.id, person=builders.make_crew())
    with pytest.raises(Conflict, match="sent-before"):
        take_out(stranger, lot=lot.pk, portion="half", purpose="own use")
    assert fresh(lot).quantity == 6


def test_an_unknown_code_is_refused():
    with refusal("unknown-code"):
        take_out(act(), lot="ZZZZZZZ", portion="all", purpose="own use")
