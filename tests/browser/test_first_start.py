"""The first of the README's two commands, as a newcomer runs it, up to the home page."""

import re
from collections.abc import Iterator

import pytest
from django.db import connection

from tests.browser.conftest import open_phone
from tests.commands.test_commands import is_a_season_with_something_of_everything
from tests.serving import Served, started

HOME_LIMIT_BYTES = 60_000


@pytest.fixture(scope="module")
def demo(tmp_path_factory) -> Iterator[Served]:
    with started(tmp_path_factory.mktemp("demo"), "--demo") as served:
        yield served


@pytest.fixture
def its_tables(demo, django_db_setup, django_db_blocker):
    """The demo's database in the place of the tests' own."""
    ours, kept = connection.settings_dict, connection.settings_dict["NAME"]
    connection.close()
    ours["NAME"] = str(demo.data / "coldroom.sqlite3")
    with django_db_blocker.unblock():
        yield
        connection.close()
    ours["NAME"] = kept


def test_the_demo_starts_and_the_home_page_is_light(chromium, demo):
    address, said = demo.address, demo.said.read_text()
    assert said.index("takes half a minute") < said.index("Demo farm loaded")
    password = re.search(r"Sign in as Odile with the password (\S+)", said).group(1)
    context = open_phone(chromium)
    page = context.new_page()
    page.goto(address)
    page.get_by_label("Your name").fill("Odile")
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("heading", name="Sell first").wait_for()

    state = context.storage_state()
    context.close()
    first_visit = open_phone(chromium, storage_state=state)
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


@pytest.mark.skipif(connection.vendor != "sqlite", reason="a newcomer's farm is on SQLite")
def test_the_demo_is_a_season_with_something_of_everything(its_tables):
    is_a_season_with_something_of_everything()
