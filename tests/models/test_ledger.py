from decimal import Decimal
from uuid import uuid4

import pytest

from inventory.ledger.fold import SENT_BACK, Kind, State
from inventory.models import Action, Change, FinalAction, FirstInLine, Lot, Movement
from tests.builders import NOW, make_lot, make_lots, market, owner
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


def test_what_is_sent_back_names_its_supplier(lot, refused):
    sent = {"kind": "out", "purpose": "sent back"}
    new_entry(lot, other_party="Orchard", **sent).save()
    for unnamed in ({}, {"other_party": "Market", "outlet": market()}):
        with refused():
            new_entry(lot, **sent, **unnamed).save()
    new_entry(lot, kind="out", purpose="own use").save()
    new_entry(lot, kind="out", purpose="market", other_party="Market", outlet=market()).save()


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


def test_the_first_itself_passes_nobody(lot, refused):
    older, action = make_lots(4)[0], make_action()
    told = [{"days_apart": 1}, {"why_not": "refused"}, {"reachable": False}]
    entries = [new_entry(lot, action, number=number) for number in range(1, 9)]
    for entry in entries:
        entry.save()
    FirstInLine.objects.create(movement=entries[0])
    for entry, facts in zip(entries[1:4], told, strict=True):
        FirstInLine.objects.create(movement=entry, first=older, **facts)
    FirstInLine.objects.create(movement=entries[4], first=older)
    for entry, facts in zip(entries[5:8], told, strict=True):
        row = FirstInLine(movement=entry, first=None, **facts)
        assert unclean(row) == {"Constraint “the_first_itself_passes_nobody” is violated."}
        with refused():
            row.save()


def test_firstinline_movement_is_unique(lot, refused):
    entry = lot.movements.get()
    FirstInLine.objects.create(movement=entry)
    with refused():
        FirstInLine.objects.create(movement=entry)


def test_a_field_is_set_once_an_action(farm, refused):
    action = make_action(kind="change")
    told = {"action": action, "subject": "room", "key": "1", "name": "Cold room", "field": "name"}
    Change.objects.create(**told)
    Change.objects.create(**told | {"field": "target_c"})
    Change.objects.create(**told | {"key": "2"})
    Change.objects.create(**told | {"subject": "outlet"})
    Change.objects.create(**told | {"action": make_action(kind="change")})
    with refused():
        Change.objects.create(**told | {"after": "another"})


def test_the_tables_and_the_rules_call_states_and_kinds_alike():
    assert set(Lot.State.values) == set(State)
    assert set(Movement.Kind.values) == set(Kind)


def test_the_fold_calls_what_is_sent_back_as_the_table_does():
    assert SENT_BACK == Movement.Purpose.SENT_BACK
