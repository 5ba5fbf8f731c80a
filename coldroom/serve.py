"""The web server of a farm, and the watch beside it.

Imports no Django at first: other processes start from this file alone.
"""

import multiprocessing
import signal
from pathlib import Path

from granian import Granian
from granian.constants import Interfaces

THREADS = 4


def serve(host: str, port: int, certificate: Path | None = None, key: Path | None = None) -> None:
    """Serve with one worker process and a few threads, until interrupted."""
    Granian(
        "coldroom.wsgi:application",
        address=host,
        port=port,
        interface=Interfaces.WSGI,
        workers=1,
        blocking_threads=THREADS,
        log_level="warning",
        ssl_cert=certificate,
        ssl_key=key,
    ).serve()


def start_watch() -> None:
    """Keep the watch in a process of its own, which ends with this one.

    Not in a thread: the server forks its workers, and a fork takes a thread's locks along for ever.
    """
    multiprocessing.get_context("spawn").Process(target=_watch, daemon=True).start()


def _watch() -> None:
    # Ctrl-C goes to the whole group; the watch ends when the server has.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    from django.core.management import execute_from_command_line

    execute_from_command_line(["manage.py", "watch"])
