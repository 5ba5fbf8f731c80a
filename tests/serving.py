"""A whole installation of its own, served as a newcomer starts it."""

import os
import signal
import socket
import ssl
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

ROOT = Path(__file__).resolve().parent.parent
OURS = {"DATABASE_URL", "DJANGO_SETTINGS_MODULE"}
# Tests wait for what should happen, not for a time; this only ends a wait that is in vain.
LIMIT_S = 600


@dataclass(frozen=True)
class Served:
    """Where it answers, its data folder, what `start` printed, and its process."""

    port: int
    https_port: int
    data: Path
    said: Path
    process: subprocess.Popen

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def answer(self, address: str, context: ssl.SSLContext | None = None) -> bytes:
        """Return what an address answers, waiting for it for as long as the server lives."""
        until = time.monotonic() + LIMIT_S
        while self.process.poll() is None and time.monotonic() < until:
            try:
                with urllib.request.urlopen(address, timeout=LIMIT_S, context=context) as found:
                    return found.read()
            except OSError as error:
                if not isinstance(getattr(error, "reason", error), ConnectionError):
                    raise
            time.sleep(0.25)
        raise AssertionError(f"{address} never answered: {self.said.read_text()}")


def database_address() -> str:
    """Return the address of the tests' own PostgreSQL database, for another server on it."""
    from django.db import connection

    used = {name: quote(str(value), safe="") for name, value in connection.settings_dict.items()}
    return "postgres://{USER}:{PASSWORD}@{HOST}:{PORT}/{NAME}".format(**used)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def _as_from_a_terminal() -> None:
    """Let the end of the terminal be heard, also where the tests were begun with nohup."""
    signal.signal(signal.SIGHUP, signal.SIG_DFL)


@contextmanager
def started(folder: Path, *options: str, database: str = "") -> Iterator[Served]:
    """Run `manage.py start` on a data folder of its own until it is done with.

    database: the address of the one to serve, for a file in the data folder if it is empty.
    """
    port, https_port, data, said = free_port(), free_port(), folder / "data", folder / "said.txt"
    environment = {name: value for name, value in os.environ.items() if name not in OURS}
    environment |= {"COLDROOM_DATA": str(data), "COLDROOM_HTTPS_PORT": str(https_port)}
    environment |= {"DATABASE_URL": database} if database else {}
    command = [sys.executable, "manage.py", "start", "--host", "127.0.0.1"]
    with said.open("w") as out:
        process = subprocess.Popen(
            [*command, "--port", str(port), *options],
            cwd=ROOT, env=environment, stdout=out, stderr=subprocess.STDOUT,
            preexec_fn=_as_from_a_terminal,
        )  # fmt: skip
    served = Served(port, https_port, data, said, process)
    try:
        served.answer(f"{served.address}/healthz")
        yield served
    finally:
        process.terminate()
        process.wait(timeout=LIMIT_S)
