"""Who is at the phone: signing in, pairing, switching, and slowing guesses."""

from datetime import datetime, timedelta

from django.db import transaction

from inventory.errors import Refused
from inventory.models import Guess, Person, Phone

FREE_GUESSES = 3
LONGEST_WAIT = timedelta(minutes=5)


def pair_phone(person: Person, name: str, at: datetime) -> Phone:
    """Trust a phone on which somebody gave their password."""
    return Phone.objects.create(name=name[:60], paired_by=person, paired_at=at)


def unpair_phone(phone: Phone, at: datetime) -> None:
    Phone.objects.filter(pk=phone.pk, unpaired_at__isnull=True).update(unpaired_at=at)


def wait_after(count: int) -> timedelta:
    """Return how long to wait after this many wrong guesses in a row; never a lock-out."""
    if count < FREE_GUESSES:
        return timedelta(0)
    return min(timedelta(seconds=2 ** min(count - FREE_GUESSES + 1, 20)), LONGEST_WAIT)


def begin_guess(device: str, person_name: str, at: datetime) -> None:
    """Count a guess before it is checked, so that many at once can't slip through.

    Raises Refused("wait") while the delay after the last wrong one runs.
    """
    with transaction.atomic():
        guess = _guess(device, person_name, at)
        ready_at = guess.last_at + wait_after(guess.count)
        if at < ready_at:
            raise Refused("wait", seconds=int((ready_at - at).total_seconds()) + 1)
        guess.count += 1
        guess.last_at = at
        guess.save()


def forget_guesses(device: str, person_name: str) -> None:
    """Clear the count after a right password or PIN."""
    Guess.objects.filter(device=device, person_name=person_name.lower()).delete()


def _guess(device: str, person_name: str, at: datetime) -> Guess:
    key = {"device": device, "person_name": person_name.lower()[:60]}
    Guess.objects.get_or_create(**key, defaults={"last_at": at})
    return Guess.objects.select_for_update().get(**key)
