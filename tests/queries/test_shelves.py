"""Racks drawn: which boxes stand where, what is marked on them, and how much room shows."""

from datetime import timedelta

import pytest

from inventory.actions.movements import move_lots
from inventory.actions.quality import hold, inspect
from inventory.actions.temperatures import record_readings
from inventory.models import Code, Crop, Position
from inventory.queries.rooms import read_rooms
from inventory.queries.shelves import (
    BAY_BOXES,
    BOX_WIDTH,
    CELL,
    MOST_EMPTY,
    Mark,
    bays_of,
    draw_crates,
    draw_rack,
    key_of,
)
from tests import builders
from tests.builders import NOW, act, make_lot, make_lots, place

DAY = timedelta(days=1)


def drawn(farm, name: str):
    ((room,), _waiting) = read_rooms(farm, NOW)
    shelves = [shelf for rack in room.racks for shelf in draw_rack(rack)]
    return next(shelf for shelf in shelves if shelf.position.name == name)


def boxes_of(shelf) -> list:
    return [box for bay in shelf.bays for box in bay.boxes]


def test_a_rack_is_drawn_from_the_top_shelf_down(farm):
    Position.objects.filter(pk=place("A1").pk).update(walk=99)  # walked last, still on top
    ((room,), _waiting) = read_rooms(farm, NOW)
    assert [[shelf.position.name for shelf in draw_rack(rack)] for rack in room.racks] == [
        ["A1", "A2", "A3"],
        ["B1", "B2", "B3"],
    ]


def test_places_on_one_shelf_stand_in_the_order_of_their_names(farm):
    for name in ("b", "a"):
        Position.objects.create(
            code=Code.objects.create(text=f"PLACE{name}"),
            room=place().room,
            rack="C",
            shelf=1,
            place=name,
            walk=90,
        )
    rack = next(rack for rack in read_rooms(farm, NOW)[0][0].racks if rack.name == "C")
    assert [shelf.position.name for shelf in draw_rack(rack)] == ["C1a", "C1b"]


def test_crates_stand_first_and_what_is_left_of_the_shelf_is_room(farm):
    lots = make_lots(12, 12)
    shelf = drawn(farm, "A1")
    assert [box.crate.code if box.crate else None for box in boxes_of(shelf)] == [
        *sorted(lot.pk for lot in lots), None, None, None,
    ]  # fmt: skip
    assert (shelf.over, shelf.more) == (0, 0)
    assert [box.kind for box in boxes_of(shelf)] == ["none", "none", "room", "room", "room"]


def test_boxes_stand_side_by_side_in_bays_of_four_and_never_touch(farm):
    make_lots(*[12] * 5)
    first, second = drawn(farm, "A1").bays
    assert [box.x for box in first.boxes] == [0, CELL, 2 * CELL, 3 * CELL]
    assert [box.x for box in second.boxes] == [0]
    assert BOX_WIDTH < CELL
    assert all(box.x + box.width <= first.width for box in first.boxes)
    assert (first.board, second.board) == (4 * CELL, CELL)
    assert all(box.y + box.height < first.board_y < first.names_y for box in first.boxes)


def test_a_crowded_shelf_shows_every_crate(farm):
    make_lots(*[12] * 7)
    shelf = drawn(farm, "A1")
    assert len(boxes_of(shelf)) == 7
    assert all(box.crate for box in boxes_of(shelf))
    assert (shelf.over, shelf.more) == (2, 0)


def test_the_room_of_a_long_shelf_is_drawn_so_far_and_then_told(farm):
    Position.objects.filter(pk=place().pk).update(capacity=99)
    make_lots(12)
    shelf = drawn(farm, "A1")
    assert (len(boxes_of(shelf)), shelf.more) == (MOST_EMPTY, 99 - MOST_EMPTY)
    make_lots(*[12] * MOST_EMPTY)
    shelf = drawn(farm, "A1")
    assert (len(boxes_of(shelf)), shelf.more) == (MOST_EMPTY + 1, 99 - MOST_EMPTY - 1)


def test_a_place_given_up_is_drawn_for_as_long_as_something_stands_there(farm):
    lot = make_lot()
    Position.objects.filter(pk=place().pk).update(in_use=False)
    assert boxes_of(drawn(farm, "A1"))[0].crate.code == lot.pk
    move_lots(act(), lots=[lot.pk], position=place("A2"))
    ((room,), _waiting) = read_rooms(farm, NOW)
    assert "A1" not in [shelf.position.name for rack in room.racks for shelf in draw_rack(rack)]


# Kale at 2 °C, by the handbook: days since it was cut, and what its box says of it.
MARKS = [(0, Mark.NONE), (8, Mark.FIRST), (20, Mark.PAST)]


@pytest.mark.parametrize(("age", "mark"), MARKS)
def test_a_box_says_the_days_and_the_list_of_its_crate(farm, age, mark):
    make_lot(at=NOW - age * DAY)
    box = boxes_of(drawn(farm, "A1"))[0]
    over = box.crate.days_over
    assert box.mark == mark
    assert box.figure == (f"−{over}" if mark == Mark.PAST else str(box.crate.days_left))
    assert (over > 0) == (mark == Mark.PAST)
    assert not box.part


def test_a_crate_on_hold_has_its_mark_and_no_days(farm):
    hold(act(), lot=make_lot(at=NOW - 20 * DAY).pk, reason="a doubt")
    box = boxes_of(drawn(farm, "A1"))[0]
    assert (box.mark, box.figure, box.kind) == (Mark.HELD, "", "held")


def test_a_crate_looked_at_and_kept_is_told_from_one_past(farm):
    inspect(act(), lot=make_lot(at=NOW - 20 * DAY).pk, days=2, seen="firm")
    box = boxes_of(drawn(farm, "A1"))[0]
    assert (box.mark, box.kind) == (Mark.KEPT, "kept")
    assert box.figure.startswith("−")


def test_a_crate_that_froze_is_to_be_looked_at_first(farm):
    make_lot(at=NOW - DAY)
    cold = [(NOW - timedelta(hours=hours), -4.0) for hours in range(6)]
    record_readings(place().room, cold, kind="sensor", at=NOW, sensor="P1")
    box = boxes_of(drawn(farm, "A1"))[0]
    assert (box.mark, box.figure) == (Mark.LOOK, str(box.crate.days_left))


def test_a_part_crate_is_filled_half_from_below_and_its_figure_fits_in(farm):
    whole, part = make_lots(12, 12)
    builders.take(part, "half")
    boxes = {box.crate.code: box for box in boxes_of(drawn(farm, "A1")) if box.crate}
    assert boxes[part.pk].part
    assert 0.4 < boxes[part.pk].fill_height / boxes[part.pk].height < 0.7
    assert boxes[part.pk].kind == "none part"
    for box in boxes.values():
        assert box.fill_y + box.fill_height == box.y + box.height
    assert boxes[whole.pk].fill_height == boxes[whole.pk].height


def test_crops_are_named_under_their_boxes_and_cut_to_their_width(farm):
    make_lots(12, 12)
    make_lot(12, key="salad-mix", unit="kg")
    (first, _second) = drawn(farm, "A1").bays
    assert [(name.x, name.text) for name in first.names] == [(0, "Kale"), (2 * CELL, "Sala…")]


def test_the_more_boxes_the_more_of_a_name(farm):
    make_lots(12, 12, key="salad-mix", unit="kg")
    Crop.objects.filter(reference_key="salad-mix").update(name="Salad mix of spring")
    assert drawn(farm, "A1").bays[0].names[0].text == "Salad mix…"


def test_a_name_stands_again_in_the_next_bay(farm):
    make_lots(*[12] * 5)
    assert [[name.text for name in bay.names] for bay in drawn(farm, "A1").bays] == [
        ["Kale"],
        ["Kale"],
    ]


def test_what_waits_to_be_put_away_is_drawn_without_room(farm):
    make_lot()
    lots = make_lots(*[12] * 5, position=None)
    waiting = read_rooms(farm, NOW)[1]
    assert {crate.code for crate in waiting} == {lot.pk for lot in lots}
    bays = draw_crates(waiting)
    assert [len(bay.boxes) for bay in bays] == [BAY_BOXES, 1]
    assert draw_crates([]) == []


def key(farm) -> list[str]:
    ((room,), _waiting) = read_rooms(farm, NOW)
    bays = [bay for rack in room.racks for bay in bays_of(draw_rack(rack))]
    return [box.kind for box in key_of(bays)]


def test_the_key_explains_what_is_met_and_nothing_else(farm):
    past, part = make_lot(at=NOW - 20 * DAY), make_lot()
    assert key(farm) == ["past", "room"]
    builders.take(part, "half")
    hold(act(), lot=past.pk, reason="a doubt")
    assert key(farm) == ["held", "none part", "room"]
