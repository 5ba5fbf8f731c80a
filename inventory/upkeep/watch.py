"""The watch: goes its rounds beside the server, and does what is due without being asked.

One process of a data folder holds it, by a lock on a file there that ends with the process. Where
several servers share one PostgreSQL each has a watch of its own: that does no harm, since whatever
must be done once is claimed in the tables first (mail.send_waiting, chores.do_chore).
"""

import logging
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import IO

from django.conf import settings
from django.db import connections

from inventory.models import Farm
from inventory.upkeep.chores import CHORES, do_chore
from inventory.upkeep.due import Task, due
from inventory.upkeep.facts import note_round, read_facts
from inventory.upkeep.mail import (
    queue_alarms,
    queue_silence,
    queue_unchecked,
    queue_week,
    send_waiting,
)

log = logging.getLogger(__name__)

ROUND_S = 60
FIRST_ROUND_S = 5  # by then the server answers, which the first round is not to hold up

_DOES: dict[str, Callable[[str, datetime], None]] = {
    "alarm": lambda _key, at: queue_alarms(at),
    "silent": queue_silence,
    "unchecked": queue_unchecked,
    "week": queue_week,
    "mail": lambda _none, at: send_waiting(at),
    "chore": do_chore,
}


def keep_watch(clock: Callable[[], datetime], ended: Callable[[float], bool]) -> None:
    """Go round after round, until told that it has ended.

    clock: the time now, in UTC. ended: waits so many seconds and returns whether to go home.
    A round without the lock does nothing: it takes over from a watch that died.
    """
    with lock_file(settings.DATA_DIR) as lock:
        wait = FIRST_ROUND_S
        while not ended(wait):
            wait = ROUND_S
            try:
                if take(lock):
                    go_round(clock())
            except Exception:
                log.exception("a round of the watch failed; the next one tries again")
            finally:
                connections.close_all()


def go_round(at: datetime) -> list[Task]:
    """Do what is due, one thing after the other; what fails is logged and comes up again."""
    farm = Farm.objects.first()
    if farm is None:
        return []
    note_round(at)
    tasks = due(at, read_facts(farm, at, CHORES))
    for task in tasks:
        try:
            _DOES[task.kind](task.about, at)
        except Exception:
            log.exception("the watch could not do %s", task)
    return tasks


@contextmanager
def lock_file(folder: Path, name: str = "watch.lock") -> Iterator[IO[bytes]]:
    with (folder / name).open("ab") as file:
        yield file


def take(file: IO[bytes]) -> bool:
    """Return whether this process holds a lock, taking it where nobody does."""
    try:
        _lock(file.fileno())
    except OSError:
        return False
    return True


def _lock(descriptor: int) -> None:
    """Lock a file without waiting. Raises OSError where another has it."""
    try:
        import fcntl
    except ImportError:  # not a system of the Unix kind
        import msvcrt

        msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined, unused-ignore]
    else:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
