"""Crates of ours that stand with buyers."""

from datetime import timedelta

import pytest

from inventory.actions.empties import bring_empties
from inventory.actions.undo import undo
from inventory.queries.empties import WithBuyer, count_up, crates_out, crates_to_wash, crates_with
from tests.builders import NOW, act, make_lots
from tests.deliveries import got, handed, kitchen


@pytest.mark.parametrize(
    ("steps", "left"),
    [
        ([], 0),
        ([(3, 0)], 3),
        ([(3, 0), (2, 3)], 2),
        ([(3, 0), (2, 5)], 2),  # two went out before anybody wrote it down
        ([(0, 4), (3, 0)], 3),
        ([(3, 0), (0, 1), (0, 1)], 1),
    ],
)
def test_what_comes_back_is_taken_away_before_what_goes_is_added(steps, left):
    assert count_up(steps) == left


def test_each_buyer_has_their_own_and_who_has_most_is_first(farm):
    inn, house = kitchen("Inn"), kitchen("House")
    a, b, c = make_lots(12, 12, 12)
    handed(got(inn, (a, 12)))
    handed(got(house, (b, 12), (c, 12)))
    assert crates_out() == [WithBuyer(house, 2), WithBuyer(inn, 1)]
    bring_empties(act(NOW + timedelta(hours=1)), outlet=house, number=2)
    assert crates_out() == [WithBuyer(inn, 1)]
    assert (crates_with(house), crates_with(inn), crates_to_wash()) == (0, 1, 2)


def test_what_was_taken_back_of_a_handing_over_counts_for_nothing(farm):
    outlet = kitchen()
    first, second = make_lots(12, 12)
    handed(got(outlet, (first, 12)))
    made = handed(got(outlet, (second, 12)), crates_back=1, at=NOW + timedelta(hours=1))
    assert (crates_with(outlet), crates_to_wash()) == (1, 1)
    undo(act(NOW + timedelta(hours=2)), action=made.action)
    assert (crates_with(outlet), crates_to_wash()) == (1, 0)
