"""Pictures take turns: each costs memory and a core, and pages must not wait for them."""

from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock

from inventory.labels.read import NoPicture

# One is looked at and one may wait; a server answers few at once, the others are for pages.
MOST_AT_ONCE = 2
PHOTO_WAITS_S = 10.0
# A camera sends the next frame anyway.
FRAME_WAITS_S = 0.5


class Turns:
    """Who looks at a picture, and who waits for that."""

    def __init__(self) -> None:
        self._one = Lock()
        self._counting = Lock()
        self._here = 0

    @contextmanager
    def take(self, patience_s: float) -> Iterator[bool]:
        """Wait for a turn; yields whether nobody else waits. Raises NoPicture("busy")."""
        with self._counting:
            if self._here == MOST_AT_ONCE:
                raise NoPicture("busy")
            self._here += 1
        try:
            if not self._one.acquire(timeout=patience_s):
                raise NoPicture("busy")
            try:
                yield self._here == 1
            finally:
                self._one.release()
        finally:
            with self._counting:
                self._here -= 1


pictures = Turns()
