"""What is done every night: each chore once, by whichever watch claims it first."""

import logging
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime

from inventory.actions.imports import drop_unconfirmed
from inventory.ledger.weeks import CalendarChanged, count_up_to
from inventory.models import Chore, Farm
from inventory.upkeep.backup import nightly_copy
from inventory.upkeep.due import Done, is_due, last_night
from inventory.upkeep.mail import drop_sent, queue_differences
from inventory.upkeep.photos import drop_old
from inventory.upkeep.refold import refold_ledger

log = logging.getLogger(__name__)

MOST_LINES = 50


def _ledger(at: datetime) -> str:
    """Recount the weeks that are marked, refold the ledger; mail and return what differs."""
    farm = Farm.objects.get()
    with suppress(CalendarChanged):
        count_up_to(farm, farm.week_of(at))
    wrong = refold_ledger().differences
    found = "\n".join(wrong[:MOST_LINES])
    if wrong:
        queue_differences(found, at)
    return found


CHORES: dict[str, Callable[[datetime], object]] = {
    "copy": nightly_copy,
    "ledger": _ledger,
    "photos": drop_old,
    "uploads": drop_unconfirmed,
    "mail": drop_sent,
}
"""In the order they are done: the copy first, of the farm as it was."""


def do_chore(name: str, at: datetime) -> None:
    """Do a chore and note how it went. One that fails is logged, and tried again in an hour."""
    if not _claimed(name, at):
        return
    row = Chore.objects.filter(pk=name)
    try:
        found = CHORES[name](at)
    except Exception as error:
        log.exception("the nightly chore %r failed and will be tried again", name)
        row.update(trouble=str(error) or type(error).__name__)
    else:
        row.update(done_at=at, trouble="", found=found if isinstance(found, str) else "")


def _claimed(name: str, at: datetime) -> bool:
    """Return whether a chore is still to be done, and by us: of two watches one is first."""
    row, fresh = Chore.objects.get_or_create(pk=name, defaults={"tried_at": at})
    if fresh:
        return True
    night = last_night(at, Farm.objects.get().zone)
    if not is_due(Done(row.tried_at, row.done_at), night, at):
        return False
    stands = Chore.objects.filter(pk=name, tried_at=row.tried_at, done_at=row.done_at)
    return bool(stands.update(tried_at=at))
