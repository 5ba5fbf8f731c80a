"""The web server of a farm, and the watch beside it.

Imports no Django at first: other processes start from this file alone.
"""

import _thread
import gc
import logging
import multiprocessing
import os
import signal
import socket
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any

from granian import Granian
from granian.constants import Interfaces

from coldroom import env
from coldroom.reception import RECEIVED, Reception

# As Django writes its own lines.
_LINE = {"format": "{asctime} {levelname} {message}", "style": "{"}
LOG = {"formatters": {"generic": _LINE, "access": _LINE}}
# How long a worker may still answer what it was asked when it is told to stop.
STOPPING_S = 10
AGAIN_AFTER_S = 3.0
LOOK_FOR_PARENT_S = 0.5
# After half a minute of silence it is asked three times, ten seconds apart; an answer of ours is
# sent again for a minute. [s, s, times, ms]
_STILL_THERE = {
    "TCP_KEEPIDLE": 30, "TCP_KEEPINTVL": 10, "TCP_KEEPCNT": 3, "TCP_USER_TIMEOUT": 60_000,
}  # fmt: skip
GARBAGE_AFTER = 100_000  # objects more than before


class _Server(Granian):
    """Granian, which a second signal in the same instant does not hold up for ever.

    A service manager and a closed terminal tell one both to a process and to its group. The event
    that is set then has a lock, and who tells may have come upon it being held.
    """

    def signal_handler_interrupt(self, *args: Any, **kwargs: Any) -> None:
        self.interrupt_signal = True
        _thread.start_new_thread(self.main_loop_interrupt.set, ())


def serve(host: str, port: int, certificate: Path | None = None, key: Path | None = None) -> None:
    """Serve with one worker process and its threads, until a signal ends it.

    A worker that is killed comes back. Closing the terminal ends all of it, as Ctrl-C does.
    """
    server = _Server(
        "coldroom.wsgi:application",
        address=host,
        port=port,
        interface=Interfaces.WSGI,
        workers=1,
        blocking_threads=RECEIVED,
        log_level="warning",
        log_dictconfig=LOG,
        ssl_cert=certificate,
        ssl_key=key,
        respawn_failed_workers=True,
        workers_kill_timeout=STOPPING_S,
    )
    _end_with_the_terminal(server)
    logging.getLogger("_granian").addFilter(_is_news)
    server.serve(target_loader=partial(_application, os.getpid()), wrap_loader=False)


def _is_news(line: logging.LogRecord) -> bool:
    """Return whether a line of the server's is any: not that there are many threads, which wait."""
    return "Python threads" not in line.getMessage()


def _end_with_the_terminal(server: _Server) -> None:
    """Make a hangup stop the server, which would else only reload, unless it is ignored."""
    hangup = getattr(signal, "SIGHUP", None)
    if hangup is None:
        return
    ignored = signal.getsignal(hangup) == signal.SIG_IGN  # as nohup does
    then = signal.SIG_IGN if ignored else server.signal_handler_interrupt
    server.on_startup(lambda: signal.signal(hangup, then))


def _application(parent: int) -> Callable[..., Any]:
    end_with(parent)
    threading.Thread(target=notice_who_left, daemon=True).start()
    from coldroom.wsgi import application

    look_for_garbage_seldom()
    return Reception(application)


def look_for_garbage_seldom() -> None:
    """Let a process that has loaded what it needs look seldom for objects to drop.

    A page makes some thousand rows and drops them: to look after each seven hundred costs a tenth
    of it. What is loaded by now is never garbage.
    """
    gc.freeze()
    gc.set_threshold(GARBAGE_AFTER)


def end_with(parent: int) -> None:
    """End this process when the one that made it is gone, killed perhaps: nothing serves on."""

    def look() -> None:
        while os.getppid() == parent:
            time.sleep(LOOK_FOR_PARENT_S)
        os._exit(1)

    threading.Thread(target=look, daemon=True).start()


def notice_who_left() -> None:
    """Let the system look, once this process listens, whether who is connected is still there.

    A phone that went out of reach in the middle of a photo says nothing, and whoever waits for the
    rest of it would wait until the next start. Linux alone; elsewhere the system's own hours count.
    """
    while sys.platform == "linux" and not any(map(_looks_after, os.listdir("/proc/self/fd"))):
        time.sleep(LOOK_FOR_PARENT_S)


def _looks_after(file: str) -> bool:
    """Return whether an open file was the socket we listen at; what it lets in takes after it."""
    with suppress(OSError):
        if not os.readlink(f"/proc/self/fd/{file}").startswith("socket:"):
            return False  # to try would leave another one open
        with socket.fromfd(int(file), socket.AF_INET, socket.SOCK_STREAM) as found:
            if found.getsockopt(socket.SOL_SOCKET, socket.SO_ACCEPTCONN):
                found.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
                for name, value in _STILL_THERE.items():
                    found.setsockopt(socket.IPPROTO_TCP, getattr(socket, name), value)
                return True
    return False


class Beside:
    """What runs beside the server in a process of its own, made again if killed, until stopped.

    Not in a thread: the server forks its workers, and a fork takes a thread's locks along for ever.
    """

    def __init__(self, run: Callable[..., None], *args: Any) -> None:
        self._run = run
        self._args = args
        self._stopped = threading.Event()
        self._starting = threading.Lock()
        self._process: multiprocessing.process.BaseProcess | None = None
        self._thread = threading.Thread(target=self._keep, daemon=True)
        self._thread.start()

    def _keep(self) -> None:
        while process := self._start():
            process.join()
            self._stopped.wait(AGAIN_AFTER_S)

    def _start(self) -> multiprocessing.process.BaseProcess | None:
        with self._starting:
            if self._stopped.is_set():
                return None
            spawned = multiprocessing.get_context("spawn")
            self._process = spawned.Process(
                target=_beside, args=(os.getpid(), self._run, *self._args)
            )
            self._process.start()
            return self._process

    def stop(self) -> None:
        """Stop it and wait until it has ended."""
        self._stopped.set()
        with self._starting:
            if self._process is not None:
                self._process.terminate()
        self._thread.join()


def _beside(parent: int, run: Callable[..., None], *args: Any) -> None:
    end_with(parent)
    run(*args)


def serve_https(host: str, port: int, certificate: Path, key: Path) -> None:
    env.tell_workers("COLDROOM_OWN_HTTPS", "1")
    serve(host, port, certificate, key)


def watch() -> None:
    """Keep the watch: mail, copies, the nightly check."""
    # Ctrl-C goes to the whole group; the watch ends when the server has.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    from django.core.management import execute_from_command_line

    execute_from_command_line(["manage.py", "watch"])
