"""Who is at the phone: signing in, pairing, switching, and slowing guesses."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from threading import Lock

from django.db import transaction
from django.db.models import F

from inventory.actions.owner import ADDED, note
from inventory.errors import Refused
from inventory.ledger.book import Book, recorded
from inventory.models import Action, Guess, Person, Phone
from inventory.models.people import name_key

FREE_GUESSES = 3
LONGEST_WAIT = timedelta(minutes=5)
# Of what is guessed from anywhere: a stranger can hold a new phone off no longer than this.
LONGEST_WAIT_ANYWHERE = timedelta(seconds=30)
ANYWHERE = "*"
NOBODY = ""
FORGOTTEN_AFTER = timedelta(days=1)
# A right secret is never counted as a guess that is still being checked: they take turns.
_ONE_GUESS = Lock()


@dataclass(frozen=True)
class Door:
    """Where a secret is typed. address: empty where all strangers would have the same one."""

    phone: Phone | None = None
    address: str = ""


def pair_phone(person: Person, name: str, at: datetime) -> Phone:
    """Trust a phone on which somebody gave their password."""
    return Phone.objects.create(name=name[:60], paired_by=person, paired_at=at)


def share_phone(phone: Phone, person: Person) -> None:
    """Keep that somebody else than who paired it uses a phone."""
    if not phone.shared and phone.paired_by_id != person.pk:
        Phone.objects.filter(pk=phone.pk).update(shared=True)


@recorded(Action.Kind.CHANGE)
def unpair_phone(book: Book, *, phone: Phone) -> None:
    """End the trust in a phone, and all its sign-ins."""
    still = Phone.objects.filter(pk=phone.pk, unpaired_at__isnull=True)
    if still.update(unpaired_at=book.act.at):
        note(book, phone, "unpaired_at", "", book.act.at.isoformat())


@recorded(Action.Kind.CHANGE)
def note_sign_in(book: Book, *, phone: Phone, how: str) -> None:
    """Keep that somebody signed in with a secret. how: "password", "PIN", or "added" with it."""
    note(book, phone, ADDED if how == ADDED else "signed_in", "", how)


def wait_after(count: int, longest: timedelta = LONGEST_WAIT) -> timedelta:
    """Return how long to wait after this many wrong guesses in a row; never a lock-out."""
    if count < FREE_GUESSES:
        return timedelta(0)
    return min(timedelta(seconds=2 ** min(count - FREE_GUESSES + 1, 20)), longest)


def guess(door: Door, name: str, check: Callable[[], bool], clock: Callable[[], datetime]) -> bool:
    """Return whether a secret is right, checked slowly after wrong ones.

    A phone the person is known on counts for itself. All others count by address and together, so
    that neither a new pairing nor a new address gives fresh guesses; an address where nothing was
    wrong yet has one. name: whose secret it is, NOBODY where nobody is called so.

    Raises Refused("wait").
    """
    name = name_key(name)
    with _ONE_GUESS:
        known = door.phone is not None and _is_known(door.phone, name)
        here = f"phone-{door.phone.pk}" if known and door.phone else door.address
        _need_patience(here, name, known, clock())
        right = check()
        with transaction.atomic():
            if right:
                _begin_anew(door, here, name)
            else:
                _count_wrong(here, name, clock())
    return right


def _is_known(phone: Phone, name: str) -> bool:
    by_pairing = name_key(phone.paired_by.name) == name
    return by_pairing or Guess.objects.filter(device=f"phone-{phone.pk}", person_name=name).exists()


def _need_patience(here: str, name: str, known: bool, at: datetime) -> None:
    counted = Guess.objects.filter(device__in=[here, ANYWHERE], person_name=name)
    rows = {row.device: row for row in counted}
    waits = []
    if here and here in rows:
        waits.append(rows[here].last_at + wait_after(rows[here].count))
    if not known and ANYWHERE in rows and (here in rows or not here):
        row = rows[ANYWHERE]
        waits.append(row.last_at + wait_after(row.count, LONGEST_WAIT_ANYWHERE))
    ready_at = max(waits, default=at)
    if at < ready_at:
        raise Refused("wait", seconds=int((ready_at - at).total_seconds()) + 1)


def _count_wrong(here: str, name: str, at: datetime) -> None:
    for device in filter(None, (here, ANYWHERE)):
        key = {"device": device, "person_name": name}
        Guess.objects.get_or_create(**key, defaults={"last_at": at})
        Guess.objects.filter(**key).update(count=F("count") + 1, last_at=at)
    old = Guess.objects.filter(last_at__lt=at - FORGOTTEN_AFTER)
    old.exclude(device__startswith="phone-").delete()


def _begin_anew(door: Door, here: str, name: str) -> None:
    """Clear the counts after a right secret; the row of a phone stays, as a sign of being known."""
    Guess.objects.filter(device__in=[here, ANYWHERE], person_name=name).delete()
    if door.phone is not None:
        key = {"device": f"phone-{door.phone.pk}", "person_name": name}
        Guess.objects.get_or_create(**key, defaults={"last_at": door.phone.paired_at})
