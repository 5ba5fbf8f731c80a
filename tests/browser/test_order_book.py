"""An order from a chef's message to the last crate, by scans, on one phone and on two."""

from datetime import timedelta
from decimal import Decimal

from playwright.sync_api import expect

from inventory.models import Crop, Lease, Lot, Order, Outlet, StandingOrder, Take
from inventory.queries.book import Wanted
from tests import builders
from tests.browser.conftest import sign_in
from tests.builders import act, fresh, make_lot, make_lots, say_order, timezone_now

DAY = timedelta(days=1)


def kale(quantity: int) -> Wanted:
    return Wanted(builders.crop(), "bunch", Decimal(quantity))


def inn(**changes) -> Outlet:
    return Outlet.objects.create(name="Tamberlow Inn", **changes)


def order(quantity: int, **changes) -> Order:
    return say_order(act(timezone_now()), lines=[kale(quantity)], **changes)


def test_a_pasted_message_is_read_written_and_got_by_scans(thumb):
    """One wrong crate, one other amount, one short: 1 tap beyond the scans."""
    Crop.objects.filter(reference_key="kale").update(unit="bunch", piece_weight_kg=Decimal("0.25"))
    old, new = make_lot(12, at=timezone_now() - 2 * DAY), make_lot(12, at=timezone_now())
    (salad,) = make_lots(3, key="salad-mix", unit="kg", at=timezone_now())
    outlet = inn()
    thumb.open(f"/pull?outlet={outlet.pk}")
    thumb.page.get_by_text("Paste a message, or something that is not here").click()
    thumb.page.get_by_label("Or paste their message").fill("5 kg kale, 2 kg salad mix\nThanks!")
    thumb.tap("Read it")
    assert "20 bunches (5 kg)" in thumb.text
    assert not Order.objects.exists()
    thumb.check()
    thumb.tap("Show the crates")
    said = Order.objects.get()
    expect(thumb.page.locator("#pull")).to_contain_text("Fetch, in this order")
    assert {lease.lot for lease in Lease.objects.all()} == {old, new, salad}

    # Scanned: first the younger crate, which the order gets only a part of.
    thumb.open("/scan/order")
    page, box = thumb.page, thumb.page.get_by_label("Scan, or type the code")
    heard = page.locator("#said")
    thumb.taps = 0
    for code in (old.pk, salad.pk):
        box.fill(code)
        box.press("Enter")
        expect(heard.locator("[data-result=done]").first).to_contain_text(code[-4:])
    wrong = make_lot(12, at=timezone_now(), position=builders.place("A2"))
    box.fill(wrong.pk)
    box.press("Enter")
    expect(heard).to_contain_text(f"{new.pk} in A1 is planned for this order")
    thumb.tap("Take it all the same")
    expect(heard.locator("[data-result=done]").first).to_contain_text(wrong.pk[-4:])
    assert thumb.taps <= 1
    taken = dict(Take.objects.filter(line__order=said).values_list("lot_id", "quantity"))
    assert taken == {old.pk: 12, salad.pk: 2, wrong.pk: 8}

    thumb.open(f"/pull/{said.pk}")
    expect(page.locator("#pull")).to_contain_text("Nothing more to fetch.")
    thumb.tap("Done with this order")
    assert "order done" in thumb.text
    thumb.tap("Undo")
    assert "Undone" in thumb.text
    assert Order.objects.get().is_open


def test_another_amount_a_short_and_what_the_buyer_is_told(thumb):
    lot = make_lot(12, at=timezone_now())
    said = order(15, outlet=inn(telephone="555-0117"))
    thumb.open("/")
    waiting = thumb.page.get_by_role("list", name="Waiting")
    expect(waiting).to_contain_text("Tamberlow Inn: Kale missing, not told yet")
    thumb.open(f"/pull/{said.pk}")
    thumb.taps = 0
    thumb.page.get_by_text("Tell them before you walk").click()
    link = thumb.page.get_by_role("link", name="Write to them")
    assert link.get_attribute("href").startswith("sms:5550117?body=For%20")
    thumb.tap("They know now")
    assert thumb.taps <= 1  # the fold besides
    assert "They know." in thumb.text

    thumb.page.get_by_text("Another amount").click()
    thumb.page.get_by_label("instead of 12").fill("11")
    thumb.tap("Taken")
    expect(thumb.page.locator("#pull")).to_contain_text("11 of 15 bunches taken")
    assert fresh(lot).quantity == 1
    thumb.check()


def test_two_phones_on_one_order_are_sent_to_different_crates(new_thumb):
    lots = make_lots(12, 12, at=timezone_now())
    said = order(24, outlet=inn())
    first, second = new_thumb(), new_thumb()
    for each in (first, second):
        sign_in(each)
    first.open(f"/pull/{said.pk}")
    first.page.get_by_role("button", name="Taken").first.click()
    first.wait_for_the_answer()
    Lease.objects.update(person=builders.make_crew())
    left = next(lot for lot in lots if Lot.objects.get(pk=lot.pk).state == "in place")
    second.open(f"/pull/{said.pk}")
    assert "Somebody else is on the way to 1 crate." in second.text
    assert second.page.get_by_role("button", name="Taken").count() == 0
    assert left.pk[-4:] not in second.page.locator("ol.tags").inner_text()


def test_an_order_that_repeats_is_skipped_for_a_week_and_comes_back(thumb):
    make_lot(12, at=timezone_now())
    said = order(5, outlet=inn(), repeats=True)
    StandingOrder.objects.get()
    thumb.open("/orders")
    week_after = thumb.page.locator("ul.cards a").nth(1)
    address = week_after.get_attribute("href")
    week_after.click()
    thumb.tap("Not this week")
    assert "This order is cancelled." in thumb.text
    thumb.open("/orders")
    assert thumb.page.locator(f"ul.cards a[href='{address}']").count() == 0
    assert thumb.page.locator(f"ul.cards a[href='/pull/{said.pk}']").count() == 1
    thumb.open(address)
    thumb.tap("Open it again")
    thumb.open("/orders")
    assert thumb.page.locator(f"ul.cards a[href='{address}']").count() == 1
    thumb.check()


def test_a_repeat_order_is_written_in_five_taps(thumb):
    make_lot(12, at=timezone_now())
    outlet = inn()
    order(7, outlet=outlet)
    thumb.open("/")
    thumb.tap("Orders", role="link")
    thumb.tap("Write an order", role="link")
    thumb.tap("Tamberlow Inn", role="link")
    thumb.tap("Write it down")
    assert thumb.taps <= 5
    assert Order.objects.count() == 2
    assert Order.objects.latest("said_at").lines.get().quantity == 7
