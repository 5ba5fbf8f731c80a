"""A data folder of the test's own beside the test's database, and copies that open at once."""

import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from django.conf import settings as current

from inventory.upkeep import backup
from tests.serving import OURS, ROOT


@pytest.fixture
def data(settings, tmp_path):
    """The data folder, with something of everything that may lie in one."""
    settings.DATA_DIR = tmp_path / "data"
    for name, text in {
        "secret-key": "of this farm",
        "settings.env": "COLDROOM_PORT=8001",
        "photos/1.jpg": "a picture",
        "imports/1.csv": "half taken up",
        "imports/2.csv.part": "half written",
        "tls/authority-key.pem": "never leaves",
        "static/app.css": "made again",
        "lock": "17",
        "watch.lock": "",
    }.items():
        write(name, text)
    return settings.DATA_DIR


def write(name, text):
    file = current.DATA_DIR / name
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text, encoding="utf-8")


@pytest.fixture
def quick(monkeypatch):
    """Copies are not refolded in a process of their own: other tests do that."""
    monkeypatch.setattr(backup, "refold_apart", lambda about, where: None)
    monkeypatch.setattr(backup, "can_open", lambda connection: connection.vendor == "sqlite")


def lots_brought_to(folder: Path, command: str, file: Path) -> int:
    """Return how many crates are there after a command took a file up where nothing ever ran."""
    folder.mkdir()
    environment = {name: value for name, value in os.environ.items() if name not in OURS}
    subprocess.run(
        [sys.executable, "manage.py", command, str(file)],
        cwd=ROOT, env=environment | {"COLDROOM_DATA": str(folder)}, check=True,
    )  # fmt: skip
    with closing(sqlite3.connect(folder / "coldroom.sqlite3")) as opened:
        return opened.execute("SELECT count(*) FROM inventory_lot").fetchone()[0]
