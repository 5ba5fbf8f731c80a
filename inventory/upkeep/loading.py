"""Loggers' files taken up beside the server, so that nobody who scans waits for it.

Whoever holds a lock of the data folder takes the next piece. That is the watch for as long as it
runs, whether anybody has the page of a file open or not; without a watch it is that page.
"""

import logging
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime

from django.conf import settings
from django.db import connections

from inventory.actions.imports import next_file, note_failure, take_up_chunk
from inventory.models import Farm
from inventory.upkeep.watch import lock_file, take

log = logging.getLogger(__name__)

LOOK_S = 1.0
# Between two pieces the crew's entries are let in: at least so long, and four times as long as a
# piece took, so that a slow or busy machine has a fifth of its time taken up at most.
PAUSE_S = 0.05
PAUSE_TO_PIECE = 4
AFTER_A_FAULT_S = 60.0


def keep_loading(clock: Callable[[], datetime], ended: Callable[[float], bool]) -> None:
    """Take up whatever file there is, until told that it has ended.

    clock: the time now, in UTC. ended: waits so many seconds and returns whether to go home.
    After a fault it lets go for a while: the page of the file meets the fault then, and says it.
    """
    wait_s = LOOK_S
    while not ended(wait_s):
        wait_s = LOOK_S
        try:
            with turn() as ours:
                while ours:
                    begun = clock()
                    more = load_piece(begun)
                    pause_s = PAUSE_TO_PIECE * (clock() - begun).total_seconds()
                    if ended(max(pause_s, PAUSE_S) if more else LOOK_S):
                        return
        except Exception:
            log.exception("a file could not be taken up; it is tried again")
            wait_s = AFTER_A_FAULT_S
        finally:
            connections.close_all()


@contextmanager
def turn() -> Iterator[bool]:
    """Give whether it is on this process to take files up now."""
    with lock_file(settings.DATA_DIR, "imports.lock") as lock:
        yield take(lock)


def load_piece(at: datetime) -> bool:
    """Take up the next piece of whichever file is soonest done; return whether there was one.

    Of one that fails each time the others do not wait for ever.
    """
    file = next_file(at)
    if file is None:
        connections.close_all()
        return False
    try:
        take_up_chunk(file.pk, Farm.objects.get(), at)
    except Exception as error:
        note_failure(file, error, at)
        raise
    return True
