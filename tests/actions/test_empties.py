"""Crates of ours that come back are counted, washed, and counted again where that is undone."""

from datetime import timedelta

import pytest

from inventory.actions.empties import bring_empties, wash_empties
from inventory.actions.undo import undo
from inventory.errors import Conflict
from inventory.queries.empties import crates_to_wash, crates_with, wrong_counts
from tests.builders import NOW, act, make_lots
from tests.deliveries import got, handed, kitchen
from tests.refusing import refused

pytestmark = pytest.mark.usefixtures("farm")
HOUR = timedelta(hours=1)
LATER = NOW + 2 * HOUR


def test_crates_stay_with_a_buyer_until_they_come_back_and_wait_to_be_washed():
    outlet = kitchen()
    lots = make_lots(12, 12, 12)
    handed(got(outlet, *((lot, 12) for lot in lots)))
    assert (crates_with(outlet), crates_to_wash()) == (3, 0)
    back = bring_empties(act(LATER), outlet=outlet, number=2)
    assert (crates_with(outlet), crates_to_wash()) == (1, 2)
    washed = wash_empties(act(LATER), number=5)
    assert (washed.empties.number, crates_to_wash()) == (2, 0)
    undo(act(LATER), action=washed)
    assert crates_to_wash() == 2
    undo(act(LATER), action=back)
    assert (crates_with(outlet), crates_to_wash()) == (3, 0)


def test_nothing_is_washed_where_nothing_came_back():
    with refused(Conflict("nothing-to-wash")):
        wash_empties(act(), number=1)


def test_what_is_kept_is_what_went_and_came_whatever_comes_late_or_is_undone():
    inn, house = kitchen("Inn"), kitchen("House")
    first, second, third = make_lots(12, 12, 12)
    doings = [handed(got(inn, (first, 12))).action]
    doings.append(bring_empties(act(LATER), outlet=inn, number=3))
    doings.append(handed(got(inn, (second, 12)), at=LATER + HOUR, crates_back=1).action)
    doings.append(handed(got(house, (third, 12)), at=LATER + HOUR, crates_out=2).action)
    doings.append(wash_empties(act(LATER + 2 * HOUR), number=1))
    # Told after the others, happened before them.
    doings.append(bring_empties(act(NOW + HOUR), outlet=house, number=1))
    assert (crates_with(inn), crates_with(house), crates_to_wash()) == (1, 2, 4)
    assert wrong_counts() == []
    for doing in (doings[1], doings[2], doings[5], doings[4], doings[3], doings[0]):
        undo(act(LATER + 3 * HOUR), action=doing)
        assert wrong_counts() == [], doing.kind
    assert (crates_with(inn), crates_with(house), crates_to_wash()) == (0, 0, 0)
