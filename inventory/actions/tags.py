"""Permanent tags on reusable crates: making them, putting them on, taking them off."""

from django.db import transaction

from inventory.errors import Conflict, Refused
from inventory.ledger.book import Act, new_code
from inventory.models import Lot, Tag, TagBinding

MOST_TAGS = 200


def make_tags(act: Act, *, count: int) -> list[Tag]:
    """Make permanent tags to be printed and fixed to crates."""
    if not 1 <= count <= MOST_TAGS:
        raise Refused("tag-count", field="count", most=MOST_TAGS)
    with transaction.atomic():
        return [Tag.objects.create(code=new_code(act.choose), made_at=act.at) for _ in range(count)]


def bind_tag(act: Act, *, tag: str, lot: str) -> TagBinding:
    """Put a free tag on a crate filling. Raises Conflict while it is on another that is here.

    One whose filling went out whole is free: the crate it hangs on came back empty.
    """
    with transaction.atomic():
        locked = Tag.objects.select_for_update(of=("self",)).filter(pk=tag).first()
        if locked is None:
            raise Refused("unknown-code", code=tag)
        filling = Lot.objects.select_for_update(of=("self",)).filter(pk=lot).first()
        if filling is None:
            raise Refused("unknown-code", code=lot)
        if not filling.is_here:
            raise Conflict("not-here", code=lot, state=filling.state)
        current = locked.current_lot()
        if current == filling:
            return locked.bindings.latest("at", "pk")
        if current is not None and current.state != Lot.State.OUT:
            raise Conflict("tag-in-use", code=tag, lot=current.pk)
        locked.bindings.filter(taken_off_at=None).update(taken_off_at=act.at)
        return TagBinding.objects.create(tag=locked, lot=filling, at=act.at, person=act.person)


def take_tag_off(act: Act, *, tag: str) -> None:
    """Free a tag of the crate filling it is on, if it is on any."""
    on = TagBinding.objects.filter(tag=tag, taken_off_at__isnull=True)
    on.update(taken_off_at=act.at)
