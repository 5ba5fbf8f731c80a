"""Where a crate was, from its entries; by hand, without a database.

Nobody measured a stall or a field: 25 and 20 °C are ours (common practice, no source).
"""

import pytest

from inventory.ledger.fold import State
from inventory.lives.stays import Link, Stay, before_c, oldest_content, stays
from tests.lives.hand import COLD, CORNER, NOW_S, came, record, seconds, step

OUT = State.OUT


def told(*records, until: float, first_room: int | None = COLD) -> list[tuple]:
    """(part, from, to in hours, room or °C) of the first of these crates."""
    known = {one.code: one for one in records}
    return [_told(stay) for stay in stays(known, records[0], seconds(until), first_room)]


def _told(stay: Stay) -> tuple:
    start, end = ((moment - NOW_S) / 3600 for moment in (stay.start, stay.end))
    where = f"{stay.celsius:g} °C" if stay.room_id is None else stay.room_id
    return stay.part, start, end, where


def test_a_crate_moved_is_in_one_room_and_then_in_the_other():
    lot = record(steps=[step(0), step(5, room=CORNER)])
    assert told(lot, until=8) == [("room", 0, 5, COLD), ("room", 5, 8, CORNER)]


def test_what_is_yet_to_come_is_no_stay():
    lot = record(steps=[step(0), step(5, room=CORNER)])
    assert told(lot, until=3) == [("room", 0, 3, COLD)]


def test_what_was_done_twice_at_one_moment_leaves_no_empty_span():
    lot = record(steps=[step(0), step(5, room=CORNER), step(5)])
    assert told(lot, until=8) == [("room", 0, 5, COLD), ("room", 5, 8, COLD)]


def test_a_crate_not_put_away_stands_in_the_first_room():
    lot = record(steps=[step(0, State.TO_PUT_AWAY, room=None), step(4, room=CORNER)])
    assert told(lot, until=6) == [("room", 0, 4, COLD), ("room", 4, 6, CORNER)]


def test_out_of_the_corner_and_back_the_rest_of_the_time_counts_as_in_the_corner():
    """Three hours on a stall of eight away; five of them as in the room it left, not the first."""
    back = step(18, room=COLD, warm_hours=3)
    lot = record(steps=[step(0, room=CORNER), step(10, OUT, room=None), back])
    assert told(lot, until=20) == [
        ("room", 0, 10, CORNER),
        ("out", 10, 13, "25 °C"),
        ("out", 13, 18, CORNER),
        ("room", 18, 20, COLD),
    ]


@pytest.mark.parametrize(("warm_hours", "until"), [(None, 18), (8, 18), (30, 18), (None, 12)])
def test_a_stall_is_warm_all_the_time_where_nobody_said_how_long(warm_hours, until):
    """So too while it is out still, and where the hours said are more than it was away."""
    back = step(18, warm_hours=warm_hours)
    lot = record(steps=[step(0), step(10, OUT, room=None), back])
    away = told(lot, until=until)[1:]
    assert away == [("out", 10, until, "25 °C")]


def test_what_came_back_of_a_part_was_out_and_then_in_the_room_the_whole_crate_stood_in():
    """Left the corner at hour 10, came back at 18 after three warm hours."""
    whole = record(code="A", steps=[step(0), step(4, room=CORNER), step(12)])
    part = record(
        code="B", came=None, links=[Link("A", seconds(10))],
        steps=[step(18, State.TO_PUT_AWAY, room=None, warm_hours=3)],
    )  # fmt: skip
    assert told(part, whole, until=19) == [
        ("out", 10, 13, "25 °C"),
        ("out", 13, 18, CORNER),
        ("room", 18, 19, CORNER),
    ]


def test_what_was_split_off_is_out_until_it_is_said_to_be_anywhere():
    part = record(code="B", came=None, steps=[step(9)], links=[Link("A", seconds(5))])
    assert told(part, record(), until=8) == [("out", 5, 8, "25 °C")]


def test_what_was_split_off_at_the_moment_of_a_move_left_the_new_room():
    parent = record(steps=[step(0), step(5, room=CORNER)])
    part = record(code="B", came=None, links=[Link("A", seconds(5))], steps=[step(9, warm_hours=1)])
    assert told(part, parent, until=9) == [("out", 5, 6, "25 °C"), ("out", 6, 9, CORNER)]


def test_a_part_of_a_part_left_the_room_its_grandparent_stood_in():
    whole = record(code="A", steps=[step(0, room=CORNER)])
    part = record(code="B", came=None, links=[Link("A", seconds(5))], steps=[])
    again = record(
        code="C", came=None, links=[Link("B", seconds(6))],
        steps=[step(8, State.TO_PUT_AWAY, room=None, warm_hours=0)],
    )  # fmt: skip
    assert told(again, part, whole, until=9) == [
        ("out", 6, 8, CORNER),
        ("room", 8, 9, CORNER),
    ]


def test_a_crate_of_several_leaves_the_first_of_them_that_was_poured_in():
    one = record(code="A", steps=[step(0)])
    other = record(code="B", steps=[step(0)])
    links = [Link("A", seconds(7)), Link("B", seconds(5))]
    both = record(code="C", came=None, links=links, steps=[step(9)])
    assert told(both, one, other, until=9) == [("out", 5, 9, "25 °C")]


def test_an_empty_crate_stays_nowhere():
    lot = record(steps=[step(0), step(5, State.EMPTY, room=None)])
    assert told(lot, until=9) == [("room", 0, 5, COLD)]


def test_the_field_counts_from_the_cut():
    lot = record(came=came(bought=False, packed_at=None, cut_at=seconds(-3), pulp_c=26.0))
    assert told(lot, until=1) == [("field", -3, 0, "26 °C"), ("room", 0, 1, COLD)]


@pytest.mark.parametrize(
    ("changes", "hours", "given"),
    [
        ({"cut_at": seconds(-3), "packed_at": seconds(-9)}, -3, True),
        ({"cut_at": None, "packed_at": seconds(-9)}, -9, True),
        # The longest of the quick answers of the form: two hours (ours, no source).
        ({"cut_at": None, "packed_at": None, "bought": False}, -2, False),
        ({"cut_at": None, "packed_at": None, "bought": True}, 0, False),
    ],
)
def test_when_it_was_cut_is_as_given_else_assumed(changes, hours, given):
    found = came(**changes)
    assert (found.harvested_at, found.time_given) == (seconds(hours), given)


@pytest.mark.parametrize(
    ("changes", "cold", "celsius"),
    [
        ({"bought": True, "pulp_c": None}, True, 0),  # kale's own best temperature
        ({"bought": True, "pulp_c": 9.0}, False, 0),  # it came cool; only since is it known
        ({"bought": False, "pulp_c": None}, False, 20),
        ({"bought": False, "pulp_c": 26.0}, False, 26),
    ],
)
def test_how_warm_it_was_before_is_by_probe_else_assumed(changes, cold, celsius):
    lot = record(came=came(**changes))
    assert (lot.came.came_cold, before_c(lot)) == (cold, celsius)


def test_the_oldest_content_of_a_mixed_crate_is_the_one_cut_first():
    young = record(code="A", came=came(packed_at=seconds(0)))
    old = record(code="B", came=came(packed_at=seconds(-40)))
    links = [Link("A", seconds(1)), Link("B", seconds(1))]
    mixed = record(code="C", came=None, links=links)
    records = {one.code: one for one in (young, old, mixed)}
    assert oldest_content(records, mixed) is old.came
