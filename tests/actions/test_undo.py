"""What was done is undone while nothing later stands on it."""

from datetime import timedelta

import pytest

from inventory.actions.movements import move_lots
from inventory.actions.undo import undo
from inventory.errors import Conflict, Refused
from tests import builders
from tests.builders import NOW, act, fresh, make_lot, make_lots, place, take
from tests.refusing import refusal, refused

pytestmark = pytest.mark.usefixtures("farm")


def test_an_undo_is_not_undone():
    lot = make_lot(12)
    undone = undo(act(), action=move_lots(act(), lots=[lot.pk], position=place("B2")))
    with refused(Refused("undo-of-undo")):
        undo(act(), action=undone)


def test_what_a_later_action_stands_on_is_not_undone_and_the_latest_is_named():
    lot = make_lot(12)
    move_lots(act(), lots=[lot.pk], position=place("B2"))
    latest = move_lots(act(), lots=[lot.pk], position=place("B1"))
    with refused(Conflict("undo-blocked", blocker=latest)):
        undo(act(), action=lot.intake.action)


def test_undo_reverses_and_can_not_be_done_twice():
    lot = make_lot(12)
    action = take(lot, "all")
    undo(act(), action=action)
    assert (fresh(lot).state, fresh(lot).quantity, fresh(lot).position) == ("in place", 12, place())
    with pytest.raises(Conflict, match="undone-already"):
        undo(act(), action=action)


def test_undo_of_an_intake_leaves_void_lots_with_their_codes():
    lots = make_lots(12, 12)
    undo(act(), action=lots[0].intake.action)
    assert {fresh(lot).state for lot in lots} == {"void"}
    assert {fresh(lot).quantity for lot in lots} == {0}


def test_undo_names_what_stands_in_the_way():
    lot = make_lot(12)
    moved = move_lots(act(NOW + timedelta(hours=1)), lots=[lot.pk], position=place("B2"))
    with pytest.raises(Conflict) as blocked:
        undo(act(NOW + timedelta(hours=2)), action=lot.intake.action)
    assert blocked.value.facts["blocker"] == moved
    undo(act(NOW + timedelta(hours=2)), action=moved)
    undo(act(NOW + timedelta(hours=2)), action=lot.intake.action)
    assert fresh(lot).state == "void"


def test_crew_undo_their_own_until_the_end_of_the_farms_day():
    crew, other = builders.make_crew("Ben"), builders.make_crew("Cai")
    lot = make_lot(12)
    action = move_lots(act(person=crew), lots=[lot.pk], position=place("B2"))
    with refusal("undo-not-yours"):
        undo(act(person=other), action=action)
    with refusal("undo-not-yours"):
        undo(act(NOW + timedelta(days=1), person=crew), action=action)
    undo(act(NOW + timedelta(hours=3), person=crew), action=action)
    assert fresh(lot).position == place()
