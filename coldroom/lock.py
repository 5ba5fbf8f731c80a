"""One server a data folder: two of them would answer every other tap with another program."""

import contextlib
import os
import time
from collections.abc import Iterator
from pathlib import Path

from coldroom.faults import CannotStart

try:
    import fcntl
except ImportError:  # Windows has no such locks
    fcntl = None  # type: ignore[assignment]

# Workers whose parent was killed let go of the folder within this time.
WAIT_S = 5.0


@contextlib.contextmanager
def serving(folder: Path, wait_s: float | None = None) -> Iterator[None]:
    """Hold the data folder for this process and those it forks. Raises CannotStart if it is held.

    The lock is the system's: it ends with the last of them, however that ends.
    """
    file = os.open(folder / "lock", os.O_RDWR | os.O_CREAT, 0o600)
    try:
        if not _take(file, WAIT_S if wait_s is None else wait_s):
            holder = os.pread(file, 20, 0).decode().strip()
            raise CannotStart(
                f"The log is served from {folder} already, by process {holder}. Stop that first.",
                f"El registro ya se sirve desde {folder}, por el proceso {holder}. "
                "Detenlo primero.",
            )
        os.ftruncate(file, 0)
        os.pwrite(file, f"{os.getpid()}\n".encode(), 0)
        yield
    finally:
        os.close(file)


def _take(file: int, wait_s: float) -> bool:
    until = time.monotonic() + wait_s
    while fcntl:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() >= until:
                return False
            time.sleep(0.1)
        else:
            break
    return True
