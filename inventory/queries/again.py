"""What was done a moment ago that the same form, reached by Back, would do once more."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.db.models import Q

from inventory.models import Action, Crop, Order, Outlet, Person, Phone, Reading, Room

RECENT = timedelta(minutes=10)


@dataclass(frozen=True)
class Like:
    """What a form does, as far as it can be done twice by mistake.

    kind: an Action.Kind, of a crop, or to the crate of the code `lot`. room: where a temperature
    is typed.
    """

    kind: str = ""
    crop: Crop | None = None
    lot: str = ""
    room: Room | None = None


def done_just_now(
    like: Like, person: Person, phone: Phone | None, at: datetime
) -> Action | Reading | None:
    """Return the latest like doing of this person or phone that still stands, if it is recent."""
    if like.room is not None:
        return _typed_just_now(like.room, person, at)
    who = Q(person=person) | Q(phone=phone) if phone else Q(person=person)
    found = Action.objects.filter(
        who, kind=like.kind, recorded_at__gt=at - RECENT, undone_by__isnull=True
    )
    if like.crop is not None:
        found = found.filter(movements__lot__crop=like.crop)
    else:
        found = found.filter(movements__lot=like.lot)
    return found.select_related("person").order_by("-recorded_at").first()


def order_just_now(outlet: Outlet, person: Person, at: datetime) -> Order | None:
    """Return the order this person began for a buyer, if that is recent and it is still open."""
    begun = Order.objects.filter(outlet=outlet, said_by=person, closed_at=None, cancelled_at=None)
    return begun.filter(said_at__gt=at - RECENT).order_by("-said_at").first()


def _typed_just_now(room: Room, person: Person, at: datetime) -> Reading | None:
    """Return what this person typed of about this moment; a reading told late is like no other."""
    typed = Reading.objects.filter(room=room, person=person, kind=Reading.Kind.TYPED, set_aside="")
    recent = typed.filter(at__gt=at - RECENT, at__lt=at + RECENT, entry_id__isnull=False)
    return recent.select_related("person", "room").order_by("-at", "-pk").first()


def doing_of(key: UUID) -> Action | Reading | None:
    """Return what was done under an id and still stands."""
    actions = Action.objects.filter(pk=key, undone_by__isnull=True).select_related("person")
    readings = Reading.objects.filter(entry_id=key, set_aside="").select_related("person", "room")
    return actions.first() or readings.first()


def is_known(key: UUID) -> bool:
    """Return whether anything was ever written under an id."""
    actions, readings = Action.objects.filter(pk=key), Reading.objects.filter(entry_id=key)
    return actions.exists() or readings.exists()
