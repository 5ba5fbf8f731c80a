"""A whole installation of its own, served as a newcomer starts it."""

import os
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
OURS = {"DATABASE_URL", "DJANGO_SETTINGS_MODULE"}


@dataclass(frozen=True)
class Served:
    """Where it answers, its data folder, and what `start` printed."""

    port: int
    https_port: int
    data: Path
    said: Path

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@contextmanager
def started(folder: Path, *options: str) -> Iterator[Served]:
    """Run `manage.py start` on a data folder of its own until it is done with."""
    served = Served(free_port(), free_port(), folder / "data", folder / "said.txt")
    environment = {name: value for name, value in os.environ.items() if name not in OURS}
    environment |= {
        "COLDROOM_DATA": str(served.data),
        "COLDROOM_HTTPS_PORT": str(served.https_port),
    }
    command = [sys.executable, "manage.py", "start", "--host", "127.0.0.1"]
    with served.said.open("w") as out:
        server = subprocess.Popen(
            [*command, "--port", str(served.port), *options],
            cwd=ROOT, env=environment, stdout=out, stderr=subprocess.STDOUT,
        )  # fmt: skip
    try:
        answer(f"{served.address}/healthz", alive=lambda: server.poll() is None)
        yield served
    finally:
        server.terminate()
        server.wait(timeout=30)


def answer(address: str, context=None, alive=lambda: True) -> bytes:
    """Return what an address answers, waiting for it for a minute."""
    for _ in range(240):
        try:
            with urllib.request.urlopen(address, timeout=2, context=context) as found:
                return found.read()
        except OSError:
            assert alive(), f"{address}: the server ended"
            time.sleep(0.25)
    raise AssertionError(f"{address} never answered")
