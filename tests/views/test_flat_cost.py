"""What a page costs does not grow with the farm's past.

Counted, not timed: queries, rows read, and the steps of SQLite's machine (progress handler), which
tell a scan of the past from a look at an index whatever the machine is doing.
"""

from collections.abc import Callable
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection, transaction
from django.test import Client

from inventory.lives import logs
from inventory.models import Order, OrderLine, Source
from inventory.queries import ledger
from inventory.queries.experience import sent_back
from inventory.queries.intakes import last_time
from tests import builders
from tests.bench import farms
from tests.bench.counted import Counted
from tests.bench.farms import Size

PAGES = (
    "home", "rooms", "room", "place", "crate", "crate gone lately", "crate of the first day",
    "take-out form",
    "bring-in form", "put-away", "scan page", "market", "count", "unseen",
    "ledger", "ledger crop", "ledger tail", "ledger person", "week", "crates out", "run", "slip",
    "ledger newcomer", "here", "lists", "combine form", "re-sort form", "choose crop",
    "choose bought", "delivery form", "checks month", "look round", "catch up", "door sheet", "cut",
    "available", "orders", "new order", "order", "order done", "intake", "done", "sensors",
    "scan order", "find tail", "labels", "count place",
    "form of a crop never cut",
)  # fmt: skip
ALLOWED = 1.25  # of the steps, as a table four times as long is a little deeper
on_sqlite = pytest.mark.skipif(
    connection.vendor != "sqlite", reason="its machine is asked for its steps"
)
LOOSER = {"week": 1.5}  # what it begins with is added up from a row a crop of each week before


@pytest.fixture
def small(monkeypatch):
    monkeypatch.setattr(farms, "RECENT_DEAD", 10)
    monkeypatch.setattr(farms, "RECENT", timedelta(days=60))  # what the week draws is the same
    monkeypatch.setattr(farms, "CROPS", farms.CROPS[:2])
    monkeypatch.setattr(farms, "BLOCKS", farms.BLOCKS[:1])  # a short past may miss one of more
    monkeypatch.setattr(farms, "READ_EVERY", timedelta(hours=8))
    monkeypatch.setattr(ledger, "RARE", 5)  # of a farm so small
    monkeypatch.setattr("django.utils.timezone.now", lambda: farms.NOW)


@on_sqlite
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
            "form of a crop never cut": f"/settings/crops/{builders.crop('garlic').pk}",
            "look round": "/look-round",
            "catch up": "/catch-up",
            "door sheet": "/door-sheet",
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


@on_sqlite
def test_what_kitchens_sent_back_is_not_looked_for_in_all_crates_there_were(farm):
    """A crop that nobody sent back is told so alike after 4 crates and after 84."""

    def ask() -> None:
        assert sent_back(builders.crop(), farm, builders.NOW + timedelta(days=1)) == []

    builders.make_lots(*[12] * 4)
    few = _steps(ask)
    for lot in builders.make_lots(*[12] * 80):
        builders.take(lot, "all")
    assert _steps(ask) <= ALLOWED * few


@on_sqlite
def test_how_a_crop_was_bought_is_not_looked_for_in_all_its_harvests(farm):
    """A crop that was never bought is told so alike after 4 harvests and after 84."""

    def ask() -> None:
        assert last_time(builders.crop(), Source.Kind.SUPPLIER) is None

    _harvests(4)
    few = _steps(ask)
    _harvests(80)
    assert _steps(ask) <= ALLOWED * few


def _harvests(number: int) -> None:
    for hour in range(number):
        builders.make_lot(at=builders.NOW - timedelta(hours=hour))


@on_sqlite
def test_who_buys_a_crop_is_not_looked_for_in_all_orders_there_were(farm, client, monkeypatch):
    """A load is worked out alike after 4 orders of last year and after 204."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: builders.NOW)
    builders.sign_in(client)
    builders.make_lots(12, 12)
    builders.market()

    def ask() -> None:
        assert client.get("/market/load").context["rows"]

    _closed_orders(4)
    ask()
    few = _steps(ask)
    _closed_orders(200)
    assert _steps(ask) <= ALLOWED * few


def _closed_orders(number: int) -> None:
    said = builders.NOW - timedelta(days=300)
    orders = Order.objects.bulk_create(
        Order(
            id=uuid4(), outlet=builders.market(), due=said.date(), said_by=builders.owner(),
            said_at=said, closed_at=said,
        )
        for _ in range(number)
    )  # fmt: skip
    OrderLine.objects.bulk_create(
        OrderLine(order=order, crop=builders.crop(), unit="bunch", quantity=2) for order in orders
    )


def _steps(ask: Callable[[], None]) -> int:
    with Counted(every=1) as counted:
        ask()
    return counted.steps
