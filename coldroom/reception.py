"""How requests come in: received whole, then answered a few at a time.

A phone with one bar of signal sends a photo for a minute. Were it answered while it comes, four of
them would hold the whole server.
"""

import io
from collections.abc import Callable, Iterable
from contextlib import nullcontext
from threading import Semaphore
from typing import Any

Environ = dict[str, Any]
Application = Callable[[Environ, Callable[..., Any]], Iterable[bytes]]

# So many are received at once, and so many answered.
RECEIVED, ANSWERED = 16, 4
# Of those with a file or picture, which may take long to look at, so many: pages come between.
LARGE_ANSWERED = 2
LARGE_BYTES = 10_000
# More than any form of ours takes is left to whoever reads it, who refuses it.
MOST_BYTES = 25_000_000
_PIECE_BYTES = 65_536


class Reception:
    """The program behind a door: nobody stands in it while a request is still on its way."""

    def __init__(self, answer: Application) -> None:
        self._answer = answer
        self._turns = Semaphore(ANSWERED)
        self._large = Semaphore(LARGE_ANSWERED)

    def __call__(self, environ: Environ, start_response: Callable[..., Any]) -> Iterable[bytes]:
        length = _length(environ)
        if 0 < length <= MOST_BYTES:
            environ["wsgi.input"] = _received(environ["wsgi.input"], length)
        with self._large if length > LARGE_BYTES else nullcontext(), self._turns:
            return self._answer(environ, start_response)


def _length(environ: Environ) -> int:
    said = environ.get("CONTENT_LENGTH") or ""
    return int(said) if said.isdecimal() and len(said) < 12 else 0


def _received(sent: Any, length: int) -> io.RawIOBase | io.BytesIO:
    """Return a request's body once all of it is here; one that broke off fails where it is read."""
    body = io.BytesIO()
    while body.tell() < length:
        try:
            piece = sent.read(min(length - body.tell(), _PIECE_BYTES))
        except OSError as error:
            return _BrokenOff(str(error))
        if not piece:
            return _BrokenOff("the request broke off")
        body.write(piece)
    body.seek(0)
    return body


class _BrokenOff(io.RawIOBase):
    """A body of which the end never came."""

    def __init__(self, why: str) -> None:
        self._why = why

    def read(self, size: int = -1) -> bytes:
        raise OSError(self._why)
