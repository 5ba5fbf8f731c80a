"""Permanent tags on reusable crates: making them, putting them on, taking them off."""

from django.db.models import QuerySet

from inventory.actions.owner import note
from inventory.errors import Conflict, Refused
from inventory.ledger.book import Book, need, need_owner, recorded
from inventory.models import Action, Lot, Movement, Tag, TagBinding
from inventory.queries.tags import others_on
from inventory.rotation.fit import Doing

MOST_TAGS = 200


@recorded(Action.Kind.CHANGE)
def make_tags(book: Book, *, count: int) -> None:
    """Make permanent tags to be printed and fixed to crates.

    Raises Refused("owner-only", "tag-count").
    """
    need_owner(book.act)
    if not 1 <= count <= MOST_TAGS:
        raise Refused("tag-count", field="count", most=MOST_TAGS)
    made = [
        Tag.objects.create(code=book.new_code(), made_at=book.act.at, made_in=book.action)
        for _ in range(count)
    ]
    note(book, made[0], "tags_made", "", str(count))


@recorded(Action.Kind.TAG)
def bind_tag(book: Book, *, tag: str, lot: str, swap: bool = False) -> None:
    """Put a free tag on a crate filling. One whose filling went out whole is free.

    One on another crate that is here is in use. swap: a tag the crate carries already comes off.

    Raises Refused("unknown-code"), Conflict("not-here", "tag-in-use").
    """
    locked = _lock_tag(tag)
    filling = book.lock_one(lot)
    need(filling, Doing.TAG)
    current = locked.current_lot()
    if current == filling:
        return
    if current is not None and current.state != Lot.State.OUT:
        raise Conflict("tag-in-use", code=tag, lot=current.pk)
    for other in others_on(filling, locked) if swap else ():
        _take_off(book, other)
    _take_off(book, tag)
    _put_on(book, tag, filling)


@recorded(Action.Kind.TAG)
def take_tag_off(book: Book, *, tag: str) -> None:
    """Free a tag of the crate filling it is on, if it is on any. Raises Refused("unknown-code")."""
    _lock_tag(tag)
    _take_off(book, tag)


def take_back_tags(book: Book, action: Action, locked: dict[str, Lot]) -> None:
    """Undo what an action did with tags; undone crates let their tags go.

    Raises Conflict("tag-in-use").
    """
    for movement in action.movements.order_by("-number"):
        tag = movement.detail.get("tag")
        if movement.kind == Movement.Kind.TAG_ON:
            _on(tag).filter(lot=movement.lot_id).update(taken_off_at=book.act.at)
        elif movement.kind == Movement.Kind.TAG_OFF:
            _put_back(book, tag, locked[movement.lot_id])
        elif movement.kind == Movement.Kind.BROUGHT_IN:
            for binding in TagBinding.objects.filter(lot=movement.lot_id, taken_off_at=None):
                _take_off(book, binding.tag_id)


def _lock_tag(tag: str) -> Tag:
    locked = Tag.objects.select_for_update(of=("self",)).filter(pk=tag).first()
    if locked is None:
        raise Refused("unknown-code", code=tag)
    return locked


def _on(tag: str) -> QuerySet[TagBinding]:
    return TagBinding.objects.filter(tag=tag, taken_off_at__isnull=True)


def _put_on(book: Book, tag: str, lot: Lot) -> None:
    TagBinding.objects.create(tag_id=tag, lot=lot, at=book.moment(lot), person=book.act.person)
    book.write(lot, Movement.Kind.TAG_ON, detail={"tag": tag})


def _take_off(book: Book, tag: str) -> None:
    """Free a tag; one that was put on only afterwards comes off as of now."""
    binding = _on(tag).first()
    if binding is None:
        return
    lot = book.lock_one(binding.lot_id)
    if binding.at > book.moment(lot):
        book.as_of_now(lot)
    binding.taken_off_at = book.moment(lot)
    binding.save(update_fields=["taken_off_at"])
    book.write(lot, Movement.Kind.TAG_OFF, detail={"tag": tag})


def _put_back(book: Book, tag: str, lot: Lot) -> None:
    """Put a tag back on the crate it was taken off, unless it hangs on another by now."""
    current = _on(tag).first()
    if current is not None:
        raise Conflict("tag-in-use", code=tag, lot=current.lot_id)
    person, at = book.act.person, book.act.at
    TagBinding.objects.create(tag_id=tag, lot=lot, at=at, person=person)
