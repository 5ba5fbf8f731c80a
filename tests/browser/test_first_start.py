"""The first of the README's two commands, as a newcomer runs it, up to the home page."""

import os
import re
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

from tests.browser.conftest import PHONE

ROOT = Path(__file__).resolve().parents[2]
HOME_LIMIT_BYTES = 60_000


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@pytest.fixture
def demo_server(tmp_path):
    """`manage.py start --demo` on a data folder of its own; its address and what it printed."""
    port = free_port()
    said = tmp_path / "said.txt"
    environment = {
        name: value
        for name, value in os.environ.items()
        if name not in {"DATABASE_URL", "DJANGO_SETTINGS_MODULE"}
    }
    environment["COLDROOM_DATA"] = str(tmp_path / "data")
    with said.open("w") as out:
        server = subprocess.Popen(
            [sys.executable, "manage.py", "start", "--demo", "--host", "127.0.0.1",
             "--port", str(port)],
            cwd=ROOT, env=environment, stdout=out, stderr=subprocess.STDOUT,
        )  # fmt: skip
    address = f"http://127.0.0.1:{port}"
    wait_for(address, server, said)
    yield address, said.read_text()
    server.terminate()
    server.wait(timeout=20)


def wait_for(address: str, server, said: Path) -> None:
    for _ in range(240):
        try:
            with urllib.request.urlopen(f"{address}/healthz", timeout=2) as answer:
                assert answer.read() == b"ok"
                return
        except OSError:
            assert server.poll() is None, said.read_text()
            time.sleep(0.25)
    raise AssertionError(said.read_text())


def test_the_demo_starts_and_the_home_page_is_light(chromium, demo_server):
    address, said = demo_server
    password = re.search(r"Sign in as Odile with the password (\S+)", said).group(1)
    context = chromium.new_context(**PHONE)
    page = context.new_page()
    page.goto(address)
    page.get_by_label("Your name").fill("Odile")
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("heading", name="Sell first").wait_for()

    state = context.storage_state()
    context.close()
    first_visit = chromium.new_context(**PHONE, storage_state=state)
    page = first_visit.new_page()
    network = first_visit.new_cdp_session(page)
    network.send("Network.enable")
    sizes: list[int] = []
    network.on("Network.loadingFinished", lambda event: sizes.append(event["encodedDataLength"]))
    elsewhere: list[str] = []
    page.on("request", lambda request: elsewhere.append(request.url))
    page.goto(address, wait_until="networkidle")
    assert page.get_by_text("Brindlemoor").first.is_visible()
    assert len(sizes) >= 3
    assert sum(sizes) < HOME_LIMIT_BYTES
    assert [url for url in elsewhere if not url.startswith((address, "data:"))] == []
    print(f"home page on a first visit: {sum(sizes)} bytes in {len(sizes)} files")
    first_visit.close()
