"""What a crew member sees of What now before they scroll, at 360 by 740 pixels."""

from datetime import timedelta

import pytest

from inventory.actions.movements import take_out
from inventory.actions.orders import take_for_order
from inventory.actions.temperatures import record_readings
from inventory.keeping import life_days
from inventory.models import Outlet, Person, Room
from inventory.queries.book import Wanted
from tests import builders
from tests.builders import planned, say_order

HEIGHT = 740


@pytest.fixture
def full_room(thumb):
    """Crates to sell first in five harvests, one past its time, and something of all that waits."""
    now = builders.timezone_now()
    room = Room.objects.get()
    record_readings(room, [(now, 3.2)], kind="sensor", at=now, sensor="P1")
    life = life_days(builders.crop().reference, 2)
    for number in range(5):
        builders.make_lots(10 + number, 12, at=now - timedelta(days=life * (0.7 + number / 100)))
    builders.make_lots(9, 9, at=now - timedelta(days=life + 4))
    builders.make_cases(18, at=now, position=None)
    young = builders.make_lot(at=now)
    take_out(
        builders.act(now), lot=young.pk, portion="half", purpose="market",
        outlet=builders.market(),
    )  # fmt: skip
    wanted = Wanted(builders.crop(), "bunch", builders.Decimal(99))
    inn = Outlet.objects.create(name="Inn")
    order = say_order(builders.act(now), outlet=inn, lines=[wanted])
    code = planned(order, now)[-1][0]
    take_for_order(builders.act(now), order=order.pk, lot=code, quantity=builders.Decimal(1))
    return thumb


def in_first_view(thumb, locator) -> bool:
    """Whether all of it stands between the top of the screen and the bar, nothing scrolled."""
    box = locator.bounding_box()
    bar = thumb.page.locator(".bar").bounding_box()["y"]
    return box["y"] >= 0 and box["y"] + box["height"] <= bar and box["x"] + box["width"] <= 360


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_first_view_holds_what_matters(full_room, language):
    Person.objects.update(language=language)
    full_room.open("/")
    page = full_room.page
    assert page.evaluate("scrollY") == 0
    assert in_first_view(full_room, page.locator(".tile"))
    assert page.locator(".tile").inner_text().split() == ["Cold", "room", "3.2", "°C", "✓"]
    urgent = page.locator("main > .tags > li")
    assert urgent.count() == 3
    for number in range(3):
        row = urgent.nth(number)
        assert in_first_view(full_room, row)
        assert row.locator(".spot").inner_text()
        assert row.locator(".left b").inner_text().isdigit()
    waiting = page.locator(".wait")
    numbers = waiting.locator("b").all_inner_texts()
    assert numbers == ["4", "2", "1", "½", "1", "○"]
    for number in range(len(numbers)):
        assert in_first_view(full_room, waiting.nth(number)), waiting.nth(number).inner_text()
    bar = page.locator(".bar a")
    assert bar.count() == 5
    for number in range(5):
        assert bar.nth(number).bounding_box()["y"] + 64 <= HEIGHT


def test_what_waits_opens_where_it_stands(full_room):
    full_room.open("/")
    past = full_room.page.locator(".wait.discard")
    past.click()
    rows = full_room.page.locator("details[open] .tag")
    assert rows.count() == 1
    assert rows.locator(".left").inner_text().split("\n")[1] == "days over"
    full_room.check()


def test_an_opened_tile_pushes_the_others_down(full_room):
    full_room.open("/")
    tiles = full_room.page.locator("main .tiles").nth(1).locator(":scope > li")
    for number in range(tiles.count()):
        fold = tiles.nth(number).locator("summary.wait")
        if not fold.count():
            continue
        fold.click()
        assert fold.bounding_box()["height"] <= 96
        boxes = [tiles.nth(each).bounding_box() for each in range(tiles.count())]
        inner = tiles.nth(number).locator("details.fold").bounding_box()
        end = inner["y"] + inner["height"]
        last = tiles.nth(number).locator(".tag").last.bounding_box()
        assert last["y"] + last["height"] <= end + 1
        assert all(box["y"] >= end - 1 for box in boxes if box["y"] > boxes[number]["y"] + 1)
        fold.click()
