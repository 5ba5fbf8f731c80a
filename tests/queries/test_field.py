"""What the field should give: for how long it counts, what came of it, and what is left."""

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.actions.field import say_walk
from inventory.actions.undo import undo
from inventory.models import Crop, Source
from inventory.queries.field import TurnedOut, read_field, read_walk
from tests.actions.test_field import seen
from tests.builders import NOW, act, crop, make_cases, make_lot, make_lots

DAY = timedelta(days=1)
HOUR = timedelta(hours=1)
TODAY = NOW.date()


def left(farm, at=NOW) -> list[tuple[str, str, Decimal]]:
    return [(now.block.name, now.unit, now.left) for now in read_field(farm, at)]


def test_what_was_said_counts_for_eight_days(farm):
    say_walk(act(NOW), rows=[seen("60")])
    assert left(farm, NOW + 8 * DAY - HOUR) == [("Bed 3", "bunch", 60)]
    assert left(farm, NOW + 8 * DAY) == []
    assert read_field(farm, NOW)[0].until == TODAY + 7 * DAY


def test_the_latest_said_of_a_crop_block_and_unit_counts(farm):
    bed = Source.objects.create(kind="block", name="Bed 4")
    say_walk(act(NOW), rows=[seen("60"), seen("20", block=bed), seen("5", unit="kg")])
    say_walk(act(NOW + DAY), rows=[seen("30", from_day=TODAY + DAY)])
    expected = [("Bed 3", "bunch", 30), ("Bed 3", "kg", 5), ("Bed 4", "bunch", 20)]
    assert sorted(left(farm, NOW + DAY)) == expected


def test_nothing_is_left_where_there_is_nothing_any_more(farm):
    say_walk(act(NOW), rows=[seen("60")])
    say_walk(act(NOW + HOUR), rows=[seen("0")])
    assert left(farm, NOW + HOUR) == []


def test_what_came_in_since_is_no_longer_in_the_field(farm):
    make_lots(5, at=NOW - HOUR)
    say_walk(act(NOW), rows=[seen("60")])
    make_lots(12, 12, at=NOW + HOUR)
    make_cases(7, at=NOW + HOUR, crop=crop(), unit="bunch")
    wrong = make_lot(9, at=NOW + HOUR)
    undo(act(NOW + HOUR), action=wrong.intake.action)
    assert left(farm, NOW + DAY) == [("Bed 3", "bunch", 36)]
    make_lots(40, at=NOW + DAY)
    assert left(farm, NOW + DAY) == []


def rows_of(farm, at=NOW):
    return {(row.crop.reference_key, row.block.name, row.unit): row for row in read_walk(farm, at)}


def test_a_row_for_what_was_cut_or_walked_for_of_late(farm):
    make_lot(12, at=NOW - 59 * DAY)
    make_lot(12, at=NOW - 61 * DAY, crop=crop("basil"))
    make_cases(18, at=NOW)
    say_walk(act(NOW), rows=[seen(crop=crop("salad-mix"), unit="kg")])
    assert set(rows_of(farm)) == {("kale", "Bed 3", "bunch"), ("salad-mix", "Bed 3", "kg")}


def test_no_row_for_what_is_not_grown_or_a_block_not_in_use(farm):
    make_lot(12, at=NOW)
    Crop.objects.filter(pk=crop().pk).update(grown=False)
    assert rows_of(farm) == {}
    Crop.objects.filter(pk=crop().pk).update(grown=True)
    Source.objects.filter(name="Bed 3").update(in_use=False)
    assert rows_of(farm) == {}


def test_the_start_is_what_was_said_last_else_what_came_in_the_week_before(farm):
    make_lots(12, 12, at=NOW - 6 * DAY)
    make_lot(5, at=NOW - 8 * DAY)
    (row,) = read_walk(farm, NOW)
    assert (row.start, row.from_day, row.before) == (24, None, ())
    say_walk(act(NOW - DAY), rows=[seen("30", from_day=TODAY)])
    (row,) = read_walk(farm, NOW)
    assert (row.start, row.from_day) == (30, TODAY)


@pytest.mark.parametrize(("at", "over"), [(8 * DAY - HOUR, False), (8 * DAY, True)])
def test_beside_it_stands_how_earlier_ones_turned_out(farm, at, over):
    say_walk(act(NOW), rows=[seen("60")])
    make_lots(24, at=NOW + HOUR)
    make_lots(24, at=NOW + 7 * DAY)
    (row,) = read_walk(farm, NOW + at)
    assert row.before == (TurnedOut(Decimal(60), Decimal(48), over),)
    make_lots(12, at=NOW + 8 * DAY + HOUR)
    (row,) = read_walk(farm, NOW + 9 * DAY)
    assert row.before == (TurnedOut(Decimal(60), Decimal(48), over=True),)
