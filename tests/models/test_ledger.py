from decimal import Decimal
from uuid import uuid4

import pytest

from inventory.models import Action, FinalAction, Movement
from tests.builders import NOW, make_lot, owner
from tests.models.constraints import unclean


def make_action(**changes) -> Action:
    values = {"kind": "move", "fingerprint": "", "recorded_at": NOW, "occurred_at": NOW}
    return Action.objects.create(id=uuid4(), person=owner(), **values | changes)


def new_entry(lot, action=None, **changes) -> Movement:
    values = {"action": action or make_action(), "number": 1, "kind": "moved"}
    return Movement(lot=lot, occurred_at=NOW, **values | changes)


@pytest.fixture
def lot(farm):
    return make_lot()


def test_entries_are_numbered(lot, refused):
    action = make_action()
    new_entry(lot, action, number=1).save()
    new_entry(lot, action, number=2).save()
    new_entry(lot, number=1).save()
    again = new_entry(lot, action, number=2)
    assert unclean(again) == {"unique_together"}
    with refused():
        again.save()


def test_amount_is_not_negative(lot, refused):
    new_entry(lot, amount=0).save()
    with refused():
        new_entry(lot, amount=Decimal("-0.001")).save()


def test_only_an_undo_undoes(lot, refused):
    entry = lot.movements.get()
    with refused():
        new_entry(lot, kind="undone").save()
    with refused():
        new_entry(lot, kind="moved", undoes=entry).save()
    new_entry(lot, kind="moved").save()
    new_entry(lot, kind="undone", undoes=entry).save()


def test_movement_undoes_is_unique(lot, refused):
    entry = lot.movements.get()
    undoing = new_entry(lot, kind="undone", undoes=entry)
    undoing.save()
    new_entry(lot, kind="undone", undoes=undoing).save()
    with refused():
        new_entry(lot, kind="undone", undoes=entry).save()


def test_action_undoes_is_unique(farm, refused):
    first, second = make_action(), make_action()
    make_action(kind="undo", undoes=first)
    make_action(kind="undo", undoes=second)
    with refused():
        make_action(kind="undo", undoes=first)


def test_finalaction_action_is_unique(farm, refused):
    first, second = make_action(kind="discard"), make_action(kind="discard")
    FinalAction.objects.create(action=first, person=owner(), at=NOW)
    FinalAction.objects.create(action=second, person=owner(), at=NOW)
    with refused():
        FinalAction.objects.create(action=first, person=owner(), at=NOW)
