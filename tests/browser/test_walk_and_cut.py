"""From the walk through the field to what is cut of it and brought in, on a phone."""

import re
from datetime import timedelta
from decimal import Decimal

from playwright.sync_api import expect

from inventory.actions.field import say_walk
from inventory.actions.orders import say_order
from inventory.models import Crop, Estimate, Lot, Outlet, Source
from inventory.queries.book import Wanted
from inventory.queries.field import Seen
from tests.builders import act, crop, make_lots, timezone_now

DAY = timedelta(days=1)


def today():
    return act().local_day(timezone_now())


def order(quantity: int, due) -> str:
    heron, _made = Outlet.objects.get_or_create(name="The Heron", defaults={"minimum_days": 1})
    wanted = Wanted(crop(), "bunch", Decimal(quantity))
    said = say_order(act(timezone_now()), outlet=heron, lines=[wanted], due=due)
    return f"/pull/{said.order_entry.order_id}"


def test_what_the_walk_saw_is_offered_cut_for_an_order_and_brought_in(thumb):
    make_lots(24, 24, at=timezone_now() - 6 * DAY, position=None)
    Lot.objects.update(quantity=0, state="empty")
    thumb.open("/walk")
    box = thumb.page.get_by_label("Kale (bunches) Bed 3", exact=True)
    expect(box).to_have_value("48")  # what came in the week before
    box.fill("100")
    thumb.tap("Write it down")
    assert "The field: 1 crop written down" in thumb.text
    assert thumb.taps == 1

    thumb.open("/available")
    assert "+ 100 bunches" in thumb.text
    expect(thumb.page.get_by_label("To send")).to_have_value(
        re.compile("Kale: 100 bunches to be cut")
    )

    ordered = order(60, today())
    thumb.open(ordered)
    assert f"60 bunches to be cut {today():%A}" in thumb.text
    thumb.open("/orders")
    assert "To cut for them" in thumb.text
    thumb.open("/available")
    assert "+ 40 bunches" in thumb.text
    thumb.open("/cut")
    assert "60 bunches\n3 crates" in thumb.text
    assert "The Heron" in thumb.text

    thumb.taps = 0
    thumb.open("/in/harvest")
    thumb.tap("Kale, Bed 3 60 bunches, 3 crates", role="link")
    expect(thumb.page.get_by_label("How many crates?")).to_have_value("3")
    expect(thumb.page.get_by_label("In each crate")).to_have_value("24")
    thumb.page.get_by_label("How many crates?").fill("2")
    thumb.tap("Bring in")
    assert "2 crates: Kale" in thumb.text
    assert thumb.taps == 2
    thumb.open("/in/harvest")
    assert "12 bunches, 1 crate" in thumb.text


def test_a_walk_of_twenty_crops_is_one_form_and_is_taken_back_in_one_tap(thumb):
    bed = Source.objects.get(name="Bed 3")
    some = list(Crop.objects.order_by("pk")[:20])
    Crop.objects.filter(pk__in=[one.pk for one in some]).update(grown=True)
    seen = [Seen(one, bed, "kg", Decimal(10), today()) for one in some]
    say_walk(act(timezone_now() - 7 * DAY), rows=[
        Seen(one.crop, one.block, one.unit, one.quantity, today() - 7 * DAY) for one in seen
    ])  # fmt: skip
    thumb.open("/walk")
    boxes = thumb.page.locator(".walked input")
    expect(boxes).to_have_count(20)
    boxes.nth(3).fill("")
    boxes.nth(4).fill("12")
    thumb.tap("Write it down")
    assert "The field: 20 crops written down" in thumb.text
    assert "said 10, so far 0" in thumb.text
    assert sorted(Estimate.objects.standing().values_list("quantity", flat=True))[-1] == 12
    thumb.tap("Undo")
    assert "Undone" in thumb.text
    assert set(Estimate.objects.standing().values_list("quantity", flat=True)) == {10}


def test_what_is_typed_wrong_is_said_beside_its_box_and_the_rest_is_kept(thumb):
    make_lots(24, at=timezone_now() - 6 * DAY)
    thumb.open("/walk")
    box = thumb.page.get_by_label("Kale (bunches) Bed 3", exact=True)
    box.fill("lots")
    thumb.tap("Write it down")
    expect(thumb.page.locator(".walked .error")).to_contain_text("is not a number")
    expect(box).to_have_value("lots")
    assert not Estimate.objects.exists()
