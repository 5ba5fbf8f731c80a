"""Crates of one harvest on one shelf are one row."""

from datetime import timedelta

from inventory.actions.movements import move_lots
from inventory.queries.crates import crates_here
from inventory.queries.groups import group_crates
from tests.builders import NOW, act, make_lots, place


def test_crates_of_one_harvest_on_one_shelf_are_one_row(farm):
    monday = make_lots(12, 12, 12, at=NOW)
    move_lots(act(NOW), lots=[monday[1].pk], position=place("B2"))
    tuesday = make_lots(10, at=NOW + timedelta(days=1))
    groups = group_crates(crates_here(farm, NOW + timedelta(days=2)))
    rows = {frozenset(crate.code for crate in group.crates): group.quantity for group in groups}
    assert rows == {
        frozenset([monday[0].pk, monday[2].pk]): 24,
        frozenset([monday[1].pk]): 12,
        frozenset([tuesday[0].pk]): 10,
    }


def test_a_row_stands_where_its_first_crate_does(farm):
    """Though a crate of another harvest goes between two of it."""
    older = make_lots(1, 2, at=NOW - timedelta(days=3))
    make_lots(3, at=NOW)
    crates = crates_here(farm, NOW)
    mixed = [crates[0], crates[2], crates[1]]
    groups = group_crates(mixed)
    assert [len(group.crates) for group in groups] == [2, 1]
    assert groups[0].first.code == crates[0].code
    assert {crate.code for crate in groups[0].crates} == {lot.pk for lot in older}
