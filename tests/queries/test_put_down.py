"""What is minded once crates were put down, whether by a form or by a scan.

Basil is hurt below 12 °C (ucd, as in crops.csv); apples age kale: NC State Extension, HIL-803
Mixed Loads (1995).
"""

from decimal import Decimal

import pytest

from inventory.actions.movements import bring_back, move_lots
from inventory.actions.reshape import split_lot
from inventory.models import Action, Position
from inventory.queries.put_down import ToMind, put_down_by, read_to_mind
from tests.builders import NOW, act, make_cases, make_lot, make_lots, place, take
from tests.queries.test_rooms import cold_spots, other_room

pytestmark = pytest.mark.usefixtures("farm")


def minded(action: Action) -> ToMind:
    return read_to_mind(put_down_by(action, action.movements.all()))


def moved(lot, name: str) -> ToMind:
    return minded(move_lots(act(NOW), lots=[lot.pk], position=place(name)))


def hurts(found: ToMind) -> list[tuple[str, str]]:
    return [(hurt.position.name, hurt.harm) for hurt in found.hurts]


def test_a_good_place_has_nothing_to_mind():
    assert not moved(make_lot(), "B2")


def test_a_place_is_crowded_by_what_it_does_not_hold():
    Position.objects.update(capacity=2)
    one, two, three = make_lots(12, 12, 12)
    assert not moved(one, "B2").crowds
    assert not moved(two, "B2").crowds
    (crowd,) = moved(three, "B2").crowds
    assert (crowd.position, crowd.standing) == (place("B2"), 3)


def test_a_cold_spot_is_told_of_each_crate_put_there():
    cold_spots("A3")
    for lot in make_lots(12, 12):
        assert hurts(moved(lot, "A3")) == [("A3", "cold-spot")]


def test_a_cold_room_is_told_once_by_its_advice_and_then_by_the_place():
    """Nothing is gained by a move here, so the advice is news but once; the place goes on."""
    first, second = make_lots(12, 12, key="basil", position=None)
    told = moved(first, "B2")
    assert ([one.kind for one in told.advice], hurts(told)) == (["cold"], [])
    told = moved(second, "B2")
    assert (told.advice, hurts(told)) == ([], [("B2", "chills")])


def test_a_cold_room_names_the_warmer_one_each_time():
    other_room("B3", target_c=Decimal(13))
    for lot in make_lots(12, 12, key="basil"):
        told = moved(lot, "B2")
        assert [one.better for one in told.advice] == [place("B3")]
        assert hurts(told) == []


def test_bad_neighbours_are_told():
    make_lot(position=place("A1"))
    (told,) = moved(make_cases(18, position=None)[0], "B2").advice
    assert (told.kind, told.giver.reference_key) == ("ethylene", "apple")


def test_what_stood_there_before_was_not_put_down():
    cold_spots("A1")
    assert not minded(split_lot(act(NOW), lot=make_lot().pk, quantity=Decimal(5)))


def test_what_comes_back_is_put_down_and_what_leaves_is_not():
    cold_spots("A3")
    lot = make_lot()
    assert not minded(take(lot, "all"))
    back = bring_back(act(NOW), lot=lot.pk, quantity=Decimal(12), position=place("A3"))
    assert hurts(minded(back)) == [("A3", "cold-spot")]
