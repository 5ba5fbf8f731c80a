"""From an order to its slip on a phone: got, driven, handed over, and taken back."""

from datetime import time, timedelta
from decimal import Decimal

from inventory.actions.orders import say_order
from inventory.labels.read import open_picture, read_symbols
from inventory.models import Farm, Handover, Order
from inventory.queries.book import Wanted
from inventory.queries.empties import crates_with
from tests import builders
from tests.builders import act
from tests.deliveries import got, handed, kitchen


def farm_with_two_stops(now):
    """A kitchen that has a crate of ours already, and one driven to before it."""
    lots = builders.make_lots(12, 12, 12, at=now - timedelta(hours=3))
    house = kitchen(by_time=time(11), fridge_c=Decimal(4))
    handed(got(house, (lots[0], 12), at=now - timedelta(hours=2)), at=now - timedelta(hours=2))
    say_order(
        act(now), outlet=house, lines=[Wanted(builders.crop(), "bunch", Decimal(14))],
        due=now.astimezone(builders.Farm.objects.get().zone).date(),
    )  # fmt: skip
    got(kitchen("Inn", by_time=time(9)), (lots[2], 12), at=now)
    return house


def test_got_driven_handed_over_and_withdrawn(thumb):
    now = builders.timezone_now()
    house = farm_with_two_stops(now)
    thumb.open("/orders")
    thumb.tap("Get for Lantern House")
    thumb.tap("Taken")
    thumb.open("/run")
    thumb.taps = 0
    assert thumb.text.index("1. Inn") < thumb.text.index("2. Lantern House")
    stop = thumb.page.locator(f"#stop-{house.pk}")
    assert "1 crate of ours there" in stop.inner_text()
    assert "2 bunches missing" in stop.inner_text()

    # One number for the empties, and one tap: who took it the last time stands there.
    order = Order.objects.get(outlet=house, closed_at=None)
    thumb.page.locator(f"#back-{order.pk}").fill("1")
    stop.get_by_role("button", name="Handed over").click()
    thumb.wait_for_the_answer()
    thumb.page.wait_for_url("**/slip/2**")
    thumb.check()
    assert "Delivery slip 2" in thumb.page.inner_text("h1")
    assert "Chef Ana" in thumb.text
    assert "at 1 to 4 °C" in thumb.text
    assert "Our crates left with you: 1, brought back: 1" in thumb.text
    assert crates_with(house) == 1

    thumb.page.get_by_text("As text").click()
    assert "Delivery slip 2" in thumb.page.inner_text("pre")
    thumb.check()

    thumb.tap("Undo")
    assert "Delivery slip 2 (withdrawn)" in thumb.page.inner_text("h1")
    assert Handover.objects.get(number=2).is_withdrawn
    assert Order.objects.get(pk=order.pk).is_open


def test_the_stops_are_put_in_another_order_with_one_tap(thumb):
    farm_with_two_stops(builders.timezone_now())
    thumb.open("/run")
    thumb.tap("↑ Earlier Lantern House")
    assert thumb.text.index("1. Lantern House") < thumb.text.index("2. Inn")


def test_empties_are_brought_back_and_washed(thumb):
    house = farm_with_two_stops(builders.timezone_now())
    thumb.open("/more")
    thumb.tap("Our crates out", role="link")
    thumb.page.get_by_label("From whom?").select_option("Lantern House")
    thumb.type("How many came back?", "1")
    thumb.tap("They came back")
    assert crates_with(house) == 0
    thumb.tap("Washed")
    assert "No crate waits to be washed." in thumb.text


def test_a_slip_on_paper_is_the_slip_alone(thumb):
    farm_with_two_stops(builders.timezone_now())
    thumb.open("/slip/1")
    thumb.page.emulate_media(media="print")
    seen = thumb.page.locator(
        ".bar:visible, .top:visible, button:visible, .button:visible, .noprint:visible"
    )
    assert seen.count() == 0
    assert "Delivery slip 1" in thumb.page.inner_text("h1")


def test_the_code_on_a_printed_slip_is_read_and_its_page_is_fit_for_a_phone(thumb):
    farm_with_two_stops(builders.timezone_now())
    Farm.objects.update(label_address=thumb.address)
    thumb.open("/slip/1")
    thumb.page.emulate_media(media="print", color_scheme="dark")
    paper = thumb.page.screenshot(full_page=True)
    token = Handover.objects.get().page_token
    assert read_symbols(open_picture(paper)) == [f"{thumb.address.upper()}/D/{token}"]
    thumb.page.emulate_media(media="screen")
    thumb.tap("Look at it", role="link")
    assert "Kale: 12 bunches" in thumb.text


def test_what_a_kitchen_says_afterwards_is_three_taps_from_the_slip(thumb):
    now = builders.timezone_now()
    first, second = builders.make_lots(12, 12, at=now - timedelta(hours=3))
    handed(got(kitchen(), (first, 12), (second, 12), at=now), at=now)
    thumb.open("/slip/1")
    thumb.tap("They say something was not right", role="link")
    thumb.taps += 1
    thumb.page.get_by_text(f"Kale {first.pk}").click()
    thumb.tap("Soft")
    assert thumb.taps == 3
    assert f"Kale {first.pk}, 12 bunches: soft (Lantern House, slip 1)" in thumb.text
    thumb.open(f"/L/{first.pk}")
    assert "soft (Lantern House, slip 1)" in thumb.text
