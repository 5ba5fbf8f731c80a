"""What a box of a drawn shelf says to who can't see it."""

from datetime import timedelta

import pytest
from django.utils import translation

from inventory.actions.quality import hold, inspect
from inventory.queries.rooms import read_rooms
from inventory.queries.shelves import Box, Mark, bays_of, draw_crates, draw_rack
from inventory.words.crates import box_words, key_words
from tests import builders
from tests.builders import NOW, act, make_lot

DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def _in_english():
    with translation.override("en"):
        yield


def only_box(farm) -> Box:
    ((room,), _waiting) = read_rooms(farm, NOW)
    bays = [bay for rack in room.racks for bay in bays_of(draw_rack(rack))]
    (box,) = [box for bay in bays for box in bay.boxes if box.crate]
    return box


def test_a_box_names_crop_days_place_and_the_end_of_the_code(farm):
    lot = make_lot()
    box = only_box(farm)
    days = box.crate.days_left
    assert box_words(box) == f"Kale, {days} days left, A1, {lot.pk[-4:]}"


def test_a_box_says_first_part_and_past_in_words(farm):
    lot = make_lot(at=NOW - 8 * DAY)
    builders.take(lot, "half")
    box = only_box(farm)
    told = f"Kale, {box.crate.days_left} days left, sell first, part crate, A1, {lot.pk[-4:]}"
    assert box_words(box) == told


def test_a_box_past_its_time_says_for_how_long_and_once(farm):
    lot = make_lot(at=NOW - 20 * DAY)
    box = only_box(farm)
    over = f"Kale, {box.crate.days_over} days over"
    assert box_words(box) == f"{over}, A1, {lot.pk[-4:]}"
    inspect(act(), lot=lot.pk, days=2, seen="firm")
    assert box_words(only_box(farm)) == f"{over}, looked at, kept, A1, {lot.pk[-4:]}"


def test_a_box_on_hold_says_so_instead_of_days(farm):
    lot = make_lot()
    hold(act(), lot=lot.pk, reason="a doubt")
    assert box_words(only_box(farm)) == f"Kale, on hold, A1, {lot.pk[-4:]}"


def test_a_box_in_no_place_says_that_it_waits(farm):
    lot = make_lot(position=None)
    ((box,),) = (bay.boxes for bay in draw_crates(read_rooms(farm, NOW)[1]))
    assert box_words(box).endswith(f"days left, to put away, {lot.pk[-4:]}")


def test_room_is_no_crate_and_every_sample_of_the_key_has_words():
    assert box_words(Box(0)) == ""
    assert key_words(Box(0)) == "room for one"
    assert key_words(Box(0, figure="9", part=True)) == "part crate"
    told = {key_words(Box(0, mark=mark, figure="1")) for mark in Mark if mark}
    assert len(told) == len(Mark) - 1
