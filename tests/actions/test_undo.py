"""Actions that can't be undone."""

import pytest

from inventory.actions.movements import move_lots
from inventory.actions.undo import undo
from inventory.errors import Conflict, Refused
from tests.builders import act, make_lot, place
from tests.refusing import refused

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
