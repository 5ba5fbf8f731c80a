"""How requests come in: received whole, then answered a few at a time.

A phone with one bar of signal sends a photo for a minute. Were it answered while it comes, four of
them would hold the whole server.
"""

import io
from collections.abc import Callable, Iterable
from contextlib import nullcontext
from threading import Semaphore
from typing import Any

Request = dict[str, Any]
Application = Callable[[Request, Callable[..., Any]], Iterable[bytes]]

# So many are received at once, and so many answered.
RECEIVED, ANSWERED = 24, 4
# Of those with a file or picture, which may take long to look at, so many: pages come between. One
# more than may look at pictures (labels/turns.py), so that who comes too many is told so.
LARGE_ANSWERED = 3
LARGE_BYTES = 10_000
# Of those that take much memory so many are let in at all.
HUGE_LET_IN = 4
HUGE_BYTES = 1_000_000
MOST_BYTES = 25_000_000  # more than any form of ours takes
_PIECE_BYTES = 65_536
_TOO_LARGE = (
    f"This is more than {MOST_BYTES // 1_000_000} MB, which nothing here takes. Nothing was "
    f"written.\nEsto pasa de {MOST_BYTES // 1_000_000} MB, y nada aquí lo acepta. No se guardó "
    "nada.\n"
)
_UNREADABLE = (
    "This could not be read. Nothing was written.\nEsto no se pudo leer. No se guardó nada.\n"
)
_PLAIN = [("Content-Type", "text/plain; charset=utf-8")]


class Reception:
    """The program behind a door: nobody stands in it while a request is still on its way."""

    def __init__(self, answer: Application) -> None:
        self._answer = answer
        self._turns = Semaphore(ANSWERED)
        self._large = Semaphore(LARGE_ANSWERED)
        self._huge = Semaphore(HUGE_LET_IN)

    def __call__(self, request: Request, start_response: Callable[..., Any]) -> Iterable[bytes]:
        length = _length(request)
        if length > MOST_BYTES:
            start_response("413 Content Too Large", _PLAIN)
            return [_TOO_LARGE.encode()]
        with self._huge if length > HUGE_BYTES else nullcontext():
            if length:
                request["wsgi.input"] = _received(request["wsgi.input"], length)
            with self._large if length > LARGE_BYTES else nullcontext(), self._turns:
                return self._ask(request, start_response)

    def _ask(self, request: Request, start_response: Callable[..., Any]) -> Iterable[bytes]:
        try:
            return self._answer(request, start_response)
        except (LookupError, UnicodeError):
            # Django reads a query in whatever code is named before anything of it may refuse.
            if "charset" not in request.get("CONTENT_TYPE", "").lower():
                raise
            start_response("400 Bad Request", _PLAIN)
            return [_UNREADABLE.encode()]


def _length(request: Request) -> int:
    said = request.get("CONTENT_LENGTH") or ""
    digits = said.lstrip("0") if said.isascii() and said.isdecimal() else ""
    return int(digits[:20] or 0)


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
