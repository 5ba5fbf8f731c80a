"""Putting tags on and taking them off is part of what happened, and stands in no one's way."""

from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.utils import timezone

from inventory.actions.movements import move_lots, take_out
from inventory.actions.reshape import split_lot
from inventory.actions.tags import MOST_TAGS, bind_tag, make_tags, take_tag_off
from inventory.actions.undo import undo
from inventory.errors import Conflict, Refused
from inventory.models import Action, Lot, Movement, Tag, TagBinding
from inventory.queries.ledger import blocking_action
from tests import builders
from tests.builders import NOW, act, make_crew, make_lot, make_lots, make_tag, place
from tests.refusing import refused

HOUR = timedelta(hours=1)

pytestmark = pytest.mark.usefixtures("farm")


def bind(tag: Tag, lot: Lot, at=NOW, **changes) -> Action:
    return bind_tag(act(at, **changes), tag=tag.pk, lot=lot.pk)


def free(tag: Tag, at=NOW) -> Action:
    return take_tag_off(act(at), tag=tag.pk)


def entries(action: Action) -> list[tuple]:
    return list(action.movements.values_list("lot_id", "kind", "detail__tag"))


def test_putting_a_tag_on_is_an_entry_of_its_crate():
    tag, lot, crew = make_tag(), make_lot(), make_crew()
    action = bind(tag, lot, NOW + HOUR, person=crew)
    assert entries(action) == [(lot.pk, "tag on", tag.pk)]
    assert (action.kind, action.person) == ("tag", crew)
    binding = TagBinding.objects.get()
    assert (binding.at, binding.person, binding.taken_off_at) == (NOW + HOUR, crew, None)
    assert tag.current_lot() == lot
    assert Lot.objects.get(pk=lot.pk).quantity == 12


def test_taking_a_tag_off_is_an_entry_of_its_crate():
    tag, lot = make_tag(), make_lot()
    bind(tag, lot)
    assert entries(free(tag, NOW + HOUR)) == [(lot.pk, "tag off", tag.pk)]
    assert TagBinding.objects.get().taken_off_at == NOW + HOUR
    assert tag.current_lot() is None


def test_what_changes_nothing_writes_no_entry():
    tag, lot = make_tag(), make_lot()
    assert entries(free(tag)) == []
    bind(tag, lot)
    assert entries(bind(tag, lot)) == []
    assert TagBinding.objects.count() == 1


def test_a_tag_of_a_crate_that_went_out_is_taken_off_there_and_put_on_here():
    tag, gone, filled = make_tag(), make_lot(), make_lot()
    bind(tag, gone)
    take_out(act(), lot=gone.pk, portion="all", purpose="own use")
    action = bind(tag, filled)
    assert entries(action) == [(gone.pk, "tag off", tag.pk), (filled.pk, "tag on", tag.pk)]
    assert tag.current_lot() == filled


def test_a_tag_in_use_goes_on_no_second_crate():
    tag, first, second = make_tag(), make_lot(), make_lot()
    bind(tag, first)
    with refused(Conflict("tag-in-use", code=tag.pk, lot=first.pk)):
        bind(tag, second)


def test_a_code_that_is_no_tag_or_no_crate_is_refused():
    tag, lot = make_tag(), make_lot()
    with refused(Refused("unknown-code", code=lot.pk)):
        bind_tag(act(), tag=lot.pk, lot=lot.pk)
    with refused(Refused("unknown-code", code=tag.pk)):
        bind_tag(act(), tag=tag.pk, lot=tag.pk)
    with refused(Refused("unknown-code", code=lot.pk)):
        take_tag_off(act(), tag=lot.pk)


def test_a_crate_that_is_not_here_gets_no_tag():
    tag, gone = make_tag(), make_lot()
    take_out(act(), lot=gone.pk, portion="all", purpose="own use")
    with refused(Conflict("not-here", code=gone.pk, state="out")):
        bind(tag, gone)


def test_tags_never_block_an_undo():
    """Put on, taken off and put on again after it: what was done before is still undone."""
    tag, lot = make_tag(), make_lot()
    moved = move_lots(act(), lots=[lot.pk], position=place("A2"))
    bind(tag, lot)
    free(tag)
    bind(tag, lot)
    assert blocking_action(moved) is None
    undo(act(), action=moved)
    assert Lot.objects.get(pk=lot.pk).position == place("A1")
    assert tag.current_lot() == lot


def test_undoing_an_intake_frees_its_tags_and_says_so():
    tags, lots = [make_tag() for _ in range(3)], make_lots(12, 12)
    other = make_lot()
    for tag, lot in zip(tags, [*lots, other], strict=True):
        bind(tag, lot)
    undone = undo(act(NOW + HOUR), action=lots[0].intake.action)
    assert [tag.current_lot() for tag in tags] == [None, None, other]
    off = undone.movements.filter(kind="tag off")
    assert {(entry.lot_id, entry.detail["tag"]) for entry in off} == {
        (lot.pk, tag.pk) for tag, lot in zip(tags, lots, strict=False)
    }
    assert not TagBinding.objects.filter(lot__in=lots, taken_off_at=None).exists()
    assert set(Lot.objects.filter(pk__in=lots).values_list("state", flat=True)) == {"void"}
    bind(tags[0], other, NOW + HOUR)


def test_a_tag_put_on_by_mistake_is_off_again_by_undo():
    tag, lot = make_tag(), make_lot()
    undo(act(NOW + HOUR), action=bind(tag, lot))
    assert tag.current_lot() is None
    assert TagBinding.objects.get().taken_off_at == NOW + HOUR


def test_a_tag_taken_off_by_mistake_is_on_again_by_undo():
    tag, lot = make_tag(), make_lot()
    bind(tag, lot)
    undo(act(NOW + HOUR), action=free(tag))
    assert tag.current_lot() == lot
    assert TagBinding.objects.filter(taken_off_at=None).count() == 1


def test_undoing_a_rebinding_puts_the_tag_back_where_it_was():
    tag, gone, filled = make_tag(), make_lot(), make_lot()
    bind(tag, gone)
    take_out(act(), lot=gone.pk, portion="all", purpose="own use")
    undo(act(), action=bind(tag, filled))
    assert tag.current_lot() == gone


def test_a_swap_takes_every_other_tag_off_the_crate_and_its_undo_puts_them_back():
    lot, other = make_lot(), make_lot()
    old, older, new, apart = make_tag(), make_tag(), make_tag(), make_tag()
    for tag in (older, old):
        bind(tag, lot)
    bind(apart, other)
    action = bind_tag(act(), tag=new.pk, lot=lot.pk, swap=True)
    assert entries(action) == [
        (lot.pk, "tag off", older.pk),
        (lot.pk, "tag off", old.pk),
        (lot.pk, "tag on", new.pk),
    ]
    assert [tag.current_lot() for tag in (old, older, new)] == [None, None, lot]
    undo(act(NOW + HOUR), action=action)
    assert [tag.current_lot() for tag in (old, older, new)] == [lot, lot, None]
    assert apart.current_lot() == other


def test_nothing_is_swapped_unasked():
    lot, old, new = make_lot(), make_tag(), make_tag()
    bind(old, lot)
    bind(new, lot)
    assert (old.current_lot(), new.current_lot()) == (lot, lot)


def test_a_tag_that_hangs_elsewhere_by_now_is_not_put_back():
    tag, first, second = make_tag(), make_lot(), make_lot()
    bind(tag, first)
    freed = free(tag)
    bind(tag, second)
    with refused(Conflict("tag-in-use", code=tag.pk, lot=second.pk)):
        undo(act(), action=freed)


def test_undoing_a_binding_takes_no_tag_off_another_crate():
    tag, first, second = make_tag(), make_lot(), make_lot()
    bound = bind(tag, first)
    free(tag)
    bind(tag, second)
    undo(act(), action=bound)
    assert tag.current_lot() == second


def test_a_binding_sent_twice_counts_once():
    tag, lot, made = make_tag(), make_lot(), act()
    for _ in range(2):
        bind_tag(made, tag=tag.pk, lot=lot.pk)
    assert Movement.objects.filter(kind="tag on").count() == 1


def test_what_happened_shows_tags_put_on_and_taken_off(client):
    builders.sign_in(client)
    lot = make_lot(at=timezone.now())
    tag = make_tag()
    bind(tag, lot, timezone.now())
    client.post(f"/tag/{tag.pk}/free", {"entry": uuid4()})
    for path in ("/ledger", f"/L/{lot.pk}"):
        page = client.get(path).content.decode()
        assert "tag put on" in page
        assert "tag taken off" in page


def test_a_split_crate_with_a_tag_can_be_put_together_again_by_undo():
    tag, lot = make_tag(), make_lot()
    action = split_lot(act(), lot=lot.pk, quantity=Decimal(5))
    child = Lot.objects.get(parents=lot)
    bind(tag, child)
    undo(act(), action=action)
    assert Lot.objects.get(pk=child.pk).state == "void"
    assert tag.current_lot() is None
    bind(tag, lot)
    assert tag.current_lot() == lot


def test_tags_are_made_by_the_sheet_not_by_the_thousand():
    for count in (0, MOST_TAGS + 1):
        with refused(Refused("tag-count", field="count", most=MOST_TAGS)):
            make_tags(act(), count=count)
    made = make_tags(act(), count=MOST_TAGS)
    assert Tag.objects.filter(made_in=made).count() == MOST_TAGS


def test_a_tag_on_a_crate_that_is_here_stays_there():
    tag = make_tag()
    one, other = make_lots(12, 12)
    bind_tag(act(), tag=tag.pk, lot=one.pk)
    with refused(Conflict("tag-in-use", code=tag.pk, lot=one.pk)):
        bind_tag(act(), tag=tag.pk, lot=other.pk)
    take_out(act(), lot=one.pk, portion="all", purpose="own use")
    bind_tag(act(), tag=tag.pk, lot=other.pk)
    assert tag.current_lot() == other


def test_a_tag_goes_on_no_crate_that_is_gone():
    tag = make_tag()
    lot = make_lot(12)
    take_out(act(), lot=lot.pk, portion="all", purpose="own use")
    with refused(Conflict("not-here", code=lot.pk, state="out")):
        bind_tag(act(), tag=tag.pk, lot=lot.pk)


def test_a_tag_and_a_crate_are_told_from_one_another():
    tag = make_tag()
    lot = make_lot(12)
    with refused(Refused("unknown-code", code=lot.pk)):
        bind_tag(act(), tag=lot.pk, lot=lot.pk)
    with refused(Refused("unknown-code", code=tag.pk)):
        bind_tag(act(), tag=tag.pk, lot=tag.pk)
