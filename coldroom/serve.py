"""The web server of a farm. Imports no Django: a second process starts from this file alone."""

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
