"""The house as one walks along it: what to look at, and the sheet for the door."""

from datetime import timedelta

import pytest

from inventory.actions.quality import hold
from inventory.models import Farm
from inventory.queries import by_place
from tests.builders import NOW, act, make_lot, make_lots, place
from tests.deliveries import got, kitchen

pytestmark = pytest.mark.usefixtures("farm")
DAY = timedelta(days=1)


def codes(rows) -> list[tuple[str, list[str]]]:
    return [
        (row.position.name if row.position else "", [crate.code for crate in row.crates])
        for row in rows
    ]


def test_places_stand_in_the_order_one_walks_and_what_waits_comes_last():
    waits = make_lot(position=None)
    far, near = make_lot(position=place("B1")), make_lot(position=place("A2"))
    assert codes(by_place.read_all(Farm.objects.get(), NOW)) == [
        ("A2", [near.pk]), ("B1", [far.pk]), ("", [waits.pk]),
    ]  # fmt: skip


def test_a_page_holds_whole_places_but_for_one_that_no_page_could_hold(monkeypatch):
    monkeypatch.setattr(by_place, "MOST_AT_ONCE", 3)
    make_lots(*[12] * 7)
    make_lots(12, 12, position=place("A2"))
    make_lots(12, 12, position=place("A3"))
    pages = by_place.in_pages(by_place.read_all(Farm.objects.get(), NOW))
    sizes = [[(row.position.name, len(row.crates)) for row in page] for page in pages]
    assert sizes == [[("A1", 3)], [("A1", 3)], [("A1", 1), ("A2", 2)], [("A3", 2)]]


def test_only_what_is_past_its_time_is_looked_at_and_nothing_on_hold():
    """Kale keeps 10 to 14 days at 0 °C (USDA Handbook 66); forty are over at any end."""
    old, held = make_lots(12, 12, at=NOW - 40 * DAY)
    make_lot()
    hold(act(), lots=[held.pk], reason="a doubt")
    assert codes(by_place.read_to_look_at(Farm.objects.get(), NOW)) == [("A1", [old.pk])]


def test_the_sheet_has_room_for_so_many_and_says_how_many_it_left_out(monkeypatch):
    old = make_lot(at=NOW - 40 * DAY)
    soon = make_lots(12, 12, 12, at=NOW - 9 * DAY)
    got(kitchen(), (soon[2], 4))
    monkeypatch.setattr(by_place, "SHEET_ROWS", 4)
    sheet = by_place.read_sheet(Farm.objects.get(), NOW)
    assert [crate.code for crate in sheet.look] == [old.pk]
    assert len(sheet.first) == 2
    assert sheet.left_out == 1
    assert [now.order.outlet.name for now in sheet.orders] == ["Lantern House"]
