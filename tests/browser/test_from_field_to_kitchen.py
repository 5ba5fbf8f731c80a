"""One order's whole way on a phone: from the field to the kitchen, and what is said of it after."""

import re
from datetime import timedelta
from decimal import Decimal

from playwright.sync_api import expect

from inventory.actions.field import say_walk
from inventory.labels.read import open_picture, read_symbols
from inventory.models import Crop, Estimate, Farm, Handover, Lot, Order, Outlet, Source, Take
from inventory.queries.book import Wanted
from inventory.queries.empties import crates_with
from inventory.queries.field import Seen
from tests import builders
from tests.browser.conftest import Thumb, sign_in
from tests.builders import act, crop, fresh, make_crew, make_lot, say_order, timezone_now

DAY = timedelta(days=1)
OTHERS = ("swiss-chard", "spinach", "parsley", "leek", "watercress", "salad-mix", "arugula")
MESSAGE = """20 bu kale, 5 bu chard, 2 bu spinach, 2 bu parsley
2 bu leek, 2 bu watercress, 2 bu salad mix, 2 bu arugula
Thanks!"""


def today():
    return act().local_day(timezone_now())


class Stock:
    """All by the bunch: kale of three harvests, a crate more than will be asked for, and three
    of each other crop, so that two of chard will lack."""

    def __init__(self):
        now = timezone_now()
        Crop.objects.filter(reference_key__in=OTHERS).update(unit="bunch")
        self.old, self.new = make_lot(12, at=now - 2 * DAY), make_lot(12, at=now - DAY)
        self.wrong = make_lot(12, at=now, position=builders.place("A2"))
        self.others = [make_lot(3, key=key, at=now) for key in OTHERS]


def test_from_the_field_to_the_kitchen(thumb, new_thumb):
    stock = Stock()
    inn = Outlet.objects.create(
        name="Tamberlow Inn", telephone="555-0117", address="1 Mill Lane", fridge_c=Decimal(4)
    )
    walked_and_offered(thumb)
    order = pasted(thumb, inn)
    told_of_the_short(thumb, order)
    found_taken_by_another(new_thumb(), order)
    got_by_scans(thumb, order, stock)
    heron = say_order(
        act(timezone_now()), outlet=Outlet.objects.create(name="The Heron", minimum_days=1),
        lines=[Wanted(crop(), "bunch", Decimal(76))], due=order.due,
    )  # fmt: skip
    cut_and_brought_in(thumb, heron)
    got_another_amount(thumb, heron, stock)
    driven(thumb, inn)
    handed_over(thumb, inn, order)
    its_page_is_read_off_the_paper(thumb)
    said_afterwards(thumb, stock.old)
    empties_come_back(thumb, inn)


def walked_and_offered(thumb: Thumb) -> None:
    """The field is walked in one tap, with no more chard in it, and what it gives is offered."""
    thumb.open("/walk")
    box = thumb.page.get_by_label("Kale (bunches) Bed 3", exact=True)
    expect(box).to_have_value("36")  # what came in the week before
    box.fill("100")
    thumb.page.get_by_label("Chard (bunches) Bed 3", exact=True).fill("")
    thumb.tap("Write it down")
    assert "The field: 8 crops written down" in thumb.text
    assert thumb.taps == 1
    thumb.open("/available")
    assert "+ 100 bunches" in thumb.text
    expect(thumb.page.get_by_label("To send")).to_have_value(
        re.compile("Kale: .*100 bunches to be cut")
    )


def pasted(thumb: Thumb, inn: Outlet) -> Order:
    """A message of eight lines is read, and nothing is written before it was seen."""
    thumb.open(f"/pull?outlet={inn.pk}")
    thumb.page.get_by_text("Paste a message, or something that is not here").click()
    thumb.page.get_by_label("Or paste their message").fill(MESSAGE)
    thumb.tap("Read it")
    expect(thumb.page.locator("ul.read li", has_text="✓")).to_have_count(8)
    assert not Order.objects.exists()
    thumb.tap("Show the crates")
    return Order.objects.get()


def told_of_the_short(thumb: Thumb, order: Order) -> None:
    """A short is told in two taps."""
    thumb.open("/")
    waiting = thumb.page.get_by_role("list", name="Waiting")
    expect(waiting).to_contain_text("Tamberlow Inn: Chard missing, not told yet")
    thumb.open(f"/pull/{order.pk}")
    thumb.taps = 0
    thumb.tap_on("summary:has-text('Tell them before you walk')")
    link = thumb.page.get_by_role("link", name="Write to them")
    assert link.get_attribute("href").startswith("sms:5550117?body=For%20")
    thumb.tap("They know now")
    assert thumb.taps <= 2
    assert "They know." in thumb.text


def found_taken_by_another(second: Thumb, order: Order) -> None:
    """Who comes to the same order with another phone is sent to none of these crates."""
    sign_in(second, make_crew())
    second.open(f"/pull/{order.pk}")
    assert "Somebody else is on the way to 9 crates." in second.text
    assert second.page.get_by_role("button", name="Taken").count() == 0


def got_by_scans(thumb: Thumb, order: Order, stock: Stock) -> None:
    """Eight lines, one crate a wrong one: a tap beyond the scans."""
    page, heard = thumb.page, thumb.page.locator("#said")
    thumb.taps = 0
    thumb.tap("Scan crate after crate", role="link")
    box = page.get_by_label("Scan, or type the code")
    box.fill(stock.wrong.pk)
    box.press("Enter")
    expect(heard).to_contain_text("is planned for this order")
    for lot in (stock.old, stock.new, *stock.others):
        box.fill(lot.pk)
        box.press("Enter")
        expect(heard.locator("[data-result=done]").first).to_contain_text(lot.pk[-4:])
    assert thumb.taps <= 1
    thumb.check()
    taken = dict(Take.objects.filter(line__order=order).values_list("lot_id", "quantity"))
    two = {lot.pk: 2 for lot in stock.others[1:]}
    assert taken == {stock.old.pk: 12, stock.new.pk: 8, stock.others[0].pk: 3, **two}
    thumb.open(f"/pull/{order.pk}")
    assert "Nothing more to fetch." in thumb.text


def cut_and_brought_in(thumb: Thumb, heron: Order) -> None:
    """What another order lacks is cut, and brought in with two taps."""
    thumb.open(f"/pull/{heron.pk}")
    assert f"60 bunches to be cut {heron.due:%A}" in thumb.text
    thumb.open("/cut")
    assert "60 bunches" in thumb.text
    assert "The Heron" in thumb.text
    thumb.open("/in/harvest")
    thumb.taps = 0
    thumb.tap("Kale, Bed 3 60 bunches", role="link", exact=False)
    thumb.page.get_by_label("How many crates?").fill("2")
    thumb.page.get_by_label("In each crate").fill("24")
    thumb.tap("Bring in")
    assert "2 crates: Kale" in thumb.text
    assert thumb.taps == 2


def got_another_amount(thumb: Thumb, heron: Order, stock: Stock) -> None:
    thumb.open("/orders")
    assert "To cut for them" in thumb.text
    thumb.tap("Get for The Heron")
    step = thumb.page.locator("ol.tags li", has_text=stock.wrong.pk[-4:])
    step.get_by_text("Another amount").click()
    step.get_by_label("instead of 12").fill("11")
    step.get_by_role("button", name="Taken").click()
    expect(thumb.page.locator("#pull")).to_contain_text("11 of 76 bunches taken")
    assert fresh(stock.wrong).quantity == 1
    thumb.check()


def driven(thumb: Thumb, inn: Outlet) -> None:
    """Two stops; one of them is put first with one tap."""
    thumb.open("/run")
    assert thumb.text.index("1. Tamberlow Inn") < thumb.text.index("2. The Heron")
    thumb.tap("↑ Earlier The Heron")
    assert thumb.text.index("1. The Heron") < thumb.text.index("2. Tamberlow Inn")
    assert "2 bunches missing" in thumb.page.locator(f"#stop-{inn.pk}").inner_text()


def handed_over(thumb: Thumb, inn: Outlet, order: Order) -> None:
    """A name and one tap; then the slip, to read, to send and on paper."""
    stop = thumb.page.locator(f"#stop-{inn.pk}")
    thumb.page.locator(f"#who-{order.pk}").fill("Chef Ana")
    stop.get_by_role("button", name="Handed over").click()
    thumb.page.wait_for_url("**/slip/1**")
    assert "Delivery slip 1" in thumb.page.inner_text("h1")
    assert "Chef Ana" in thumb.text
    assert "at 1 to 4 °C" in thumb.text
    thumb.page.get_by_text("As text").click()
    assert "Delivery slip 1" in thumb.page.inner_text("pre")
    thumb.check()
    thumb.page.emulate_media(media="print")
    seen = thumb.page.locator(
        ".bar:visible, .top:visible, button:visible, .button:visible, .noprint:visible"
    )
    assert seen.count() == 0
    assert "Delivery slip 1" in thumb.page.inner_text("h1")
    thumb.page.emulate_media(media="screen")


def its_page_is_read_off_the_paper(thumb: Thumb) -> None:
    """The code on a printed slip, also from a dark phone, opens the delivery's own page."""
    Farm.objects.update(label_address=thumb.address)
    thumb.page.reload()
    thumb.page.emulate_media(media="print", color_scheme="dark")
    paper = open_picture(thumb.page.screenshot(full_page=True))
    token = Handover.objects.get().page_token
    assert read_symbols(paper) == [f"{thumb.address.upper()}/D/{token}"]
    thumb.page.emulate_media(media="screen", color_scheme="light")
    thumb.tap("Look at it", role="link")
    assert "Kale: 12 bunches" in thumb.text
    thumb.page.go_back()


def said_afterwards(thumb: Thumb, lot: Lot) -> None:
    """What the kitchen says is three taps from the slip, and stands on the crate."""
    thumb.taps = 0
    thumb.tap("They say something was not right", role="link")
    thumb.tap_on(f"label:has-text('Kale {lot.pk}')")
    thumb.tap("Soft")
    assert thumb.taps == 3
    assert f"Kale {lot.pk}, 12 bunches: soft (Tamberlow Inn, slip 1)" in thumb.text


def empties_come_back(thumb: Thumb, inn: Outlet) -> None:
    there = crates_with(inn)
    assert there
    thumb.open("/more")
    thumb.tap("Our crates out", role="link")
    thumb.page.get_by_label("From whom?").select_option(inn.name)
    thumb.type("How many came back?", str(there))
    thumb.tap("They came back")
    assert crates_with(inn) == 0
    thumb.tap("Washed")
    assert "No crate waits to be washed." in thumb.text


def test_a_repeat_order_is_five_taps_and_is_skipped_for_a_week(thumb):
    make_lot(12, at=timezone_now())
    inn = Outlet.objects.create(name="Tamberlow Inn")
    said = say_order(
        act(timezone_now()), lines=[Wanted(crop(), "bunch", Decimal(7))], outlet=inn, repeats=True
    )
    thumb.open("/")
    thumb.tap("Orders", role="link")
    thumb.tap("Write an order", role="link")
    thumb.tap("Tamberlow Inn", role="link")
    thumb.tap("Write it down")
    assert thumb.taps <= 5
    assert Order.objects.latest("said_at").lines.get().quantity == 7
    thumb.open("/orders")
    address = thumb.page.locator("ul.cards a").last.get_attribute("href")
    thumb.open(address)
    thumb.tap("Not this week")
    assert "This order is cancelled." in thumb.text
    thumb.open("/orders")
    card = thumb.page.locator(f"ul.cards a[href='{address}']")
    expect(card).to_have_count(0)
    expect(thumb.page.locator(f"ul.cards a[href='/pull/{said.pk}']")).to_have_count(1)
    thumb.open(address)
    thumb.tap("Open it again")
    thumb.open("/orders")
    expect(card).to_have_count(1)


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
