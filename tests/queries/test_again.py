"""What counts as done a moment ago, so that a form reached by Back is asked about."""

from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest

from inventory.actions.movements import take_out
from inventory.actions.people import pair_phone
from inventory.actions.quality import discard
from inventory.actions.temperatures import set_reading_aside, type_reading
from inventory.actions.undo import undo
from inventory.models import Action, Reading, Room
from inventory.queries.again import RECENT, Like, doing_of, done_just_now, is_known
from tests import builders
from tests.builders import NOW, act, crop, make_lot, make_lots, owner

SECOND = timedelta(seconds=1)
KALE_IN = Action.Kind.BRING_IN


def kale() -> Like:
    return Like(KALE_IN, crop=crop())


def test_the_like_doing_is_found_for_ten_minutes(farm):
    made = make_lot().intake.action
    assert done_just_now(kale(), owner(), None, NOW) == made
    assert done_just_now(kale(), owner(), None, NOW + RECENT - SECOND) == made
    assert done_just_now(kale(), owner(), None, NOW + RECENT) is None


def test_of_several_the_latest_is_meant(farm):
    make_lot()
    second = make_lots(12, 12, at=NOW + SECOND)[0].intake.action
    assert done_just_now(kale(), owner(), None, NOW + RECENT / 2) == second


def test_another_crop_or_kind_or_crate_is_not_like_it(farm):
    lot, other = make_lots(12, 12)
    out = take_out(act(), lot=lot.pk, portion="half", purpose="own use")
    taken = Action.Kind.TAKE_OUT
    assert done_just_now(Like(taken, lot=lot.pk), owner(), None, NOW) == out
    assert done_just_now(Like(taken, lot=other.pk), owner(), None, NOW) is None
    assert done_just_now(Like(Action.Kind.DISCARD, lot=lot.pk), owner(), None, NOW) is None
    assert done_just_now(Like(KALE_IN, crop=crop("basil")), owner(), None, NOW) is None


def test_what_was_undone_stands_no_more(farm):
    made = make_lot().intake.action
    undo(act(), action=made)
    assert done_just_now(kale(), owner(), None, NOW) is None
    assert doing_of(made.pk) is None
    assert is_known(made.pk)


def test_another_persons_counts_only_from_the_same_phone(farm):
    ben, phone = builders.make_crew(), pair_phone(owner(), "the shared one", NOW)
    lot = make_lot()
    gone = {"lot": lot.pk, "portion": "half", "reason": "wilted", "destination": "compost"}
    thrown_out = discard(act(person=ben, phone=phone), **gone)
    like = Like(Action.Kind.DISCARD, lot=lot.pk)
    assert done_just_now(like, ben, None, NOW) == thrown_out
    assert done_just_now(like, owner(), phone, NOW) == thrown_out
    assert done_just_now(like, owner(), None, NOW) is None
    assert done_just_now(like, owner(), pair_phone(owner(), "another", NOW), NOW) is None


def typed(at=NOW, moment=None, **changes) -> Reading:
    entry = act(at, **changes)
    type_reading(entry, room=Room.objects.get(), celsius=4.2, moment=moment)
    return Reading.objects.get(entry_id=entry.id)


def test_a_temperature_typed_now_is_found_and_one_told_late_is_not(farm):
    like = Like(room=Room.objects.get())
    typed(moment=NOW - timedelta(hours=2))
    assert done_just_now(like, owner(), None, NOW) is None
    reading = typed()
    assert done_just_now(like, owner(), None, NOW + RECENT - SECOND) == reading
    assert done_just_now(like, owner(), None, NOW + RECENT) is None
    assert done_just_now(like, builders.make_crew(), None, NOW) is None
    assert doing_of(reading.entry_id) == reading
    set_reading_aside(act(), reading=reading)
    assert done_just_now(like, owner(), None, NOW) is None
    assert doing_of(reading.entry_id) is None
    assert is_known(reading.entry_id)


@pytest.mark.parametrize("look", [doing_of, is_known])
def test_nothing_was_done_under_an_unused_id(farm, look):
    make_lot(pulp_c=Decimal(2))
    assert not look(uuid4())
