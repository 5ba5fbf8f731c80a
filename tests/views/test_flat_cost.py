"""What a page costs does not grow with the farm's past.

Counted, not timed: queries, rows read, and the steps of SQLite's machine (progress handler), which
tell a scan of the past from a look at an index whatever the machine is doing.
"""

from datetime import timedelta

import pytest
from django.db import connection, transaction
from django.test import Client

from inventory.lives import logs
from inventory.queries import ledger
from inventory.queries.experience import sent_back
from tests import builders
from tests.bench import farms
from tests.bench.counted import Counted
from tests.bench.farms import Size

PAGES = (
    "home", "rooms", "room", "place", "crate", "crate gone lately", "crate of the first day",
    "take-out form",
    "bring-in form", "put-away", "scan page", "market", "count", "unseen",
    "ledger", "ledger crop", "ledger tail", "ledger person", "week", "crates out", "run", "slip",
    "ledger newcomer", "here", "lists",
)  # fmt: skip
ALLOWED = 1.25  # of the steps, as a table four times as long is a little deeper
LOOSER = {"week": 1.5}  # what it begins with is added up from a row a crop of each week before


@pytest.fixture
def small(monkeypatch):
    monkeypatch.setattr(farms, "RECENT_DEAD", 10)
    monkeypatch.setattr(farms, "RECENT", timedelta(days=60))  # what the week draws is the same
    monkeypatch.setattr(farms, "CROPS", farms.CROPS[:2])
    monkeypatch.setattr(farms, "READ_EVERY", timedelta(hours=8))
    monkeypatch.setattr(ledger, "RARE", 5)  # of a farm so small
    monkeypatch.setattr("django.utils.timezone.now", lambda: farms.NOW)


@pytest.mark.skipif(connection.vendor != "sqlite", reason="its machine is asked for its steps")
@pytest.mark.django_db
def test_no_page_costs_more_on_a_farm_with_four_times_the_past(small):
    short, long = (costs(Size(days, lots, 12)) for days, lots in ((72, 90), (180, 260)))
    for page in PAGES:
        assert long[page][:2] == short[page][:2], page
        assert long[page][2] <= LOOSER.get(page, ALLOWED) * short[page][2], page


def costs(size: Size) -> dict[str, tuple[int, int, int]]:
    """Build a farm, count its pages, and leave nothing of it."""
    from tests.bench.farm_pages import addresses

    logs.forget()
    with transaction.atomic():
        farms.build(size)
        client = Client()
        builders.sign_in(client)
        newcomer, kale = builders.make_crew("Newcomer"), builders.crop("kale")
        paths = addresses() | {
            "ledger newcomer": f"/ledger?person={newcomer.pk}",
            "here": f"/week/{farms.NOW - timedelta(days=7):%Y-%m-%d}/here/{kale.pk}/{kale.unit}",
        }
        found = {page: _cost(client, paths[page]) for page in PAGES}
        transaction.set_rollback(True)
    logs.forget()
    return found


def _cost(client: Client, path: str) -> tuple[int, int, int]:
    client.get(path)
    with Counted(every=10) as counted:
        assert client.get(path).status_code == 200
    return counted.queries, counted.rows, counted.steps


@pytest.mark.skipif(connection.vendor != "sqlite", reason="its machine is asked for its steps")
def test_what_kitchens_sent_back_is_not_looked_for_in_all_crates_there_were(farm):
    """A crop that nobody sent back is told so alike after 4 crates and after 84."""
    builders.make_lots(*[12] * 4)
    few = _steps_to_ask_what_came_back(farm)
    for lot in builders.make_lots(*[12] * 80):
        builders.take(lot, "all")
    assert _steps_to_ask_what_came_back(farm) <= ALLOWED * few


def _steps_to_ask_what_came_back(farm) -> int:
    with Counted(every=1) as counted:
        assert sent_back(builders.crop(), farm, builders.NOW + timedelta(days=1)) == []
    return counted.steps
