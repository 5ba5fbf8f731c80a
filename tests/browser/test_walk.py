"""A crate's whole life on a phone of 360 by 740 pixels."""

from playwright.sync_api import expect

from inventory.models import Action, Lot, Movement
from tests import builders
from tests.browser.conftest import Thumb, sign_in_by_hand


def posts_of(page) -> list[str]:
    """Return a list that grows with whatever the page posts."""
    posts: list[str] = []
    page.on("request", lambda request: posts.append(request.url) if request.method == "POST" else 0)
    return posts


def let_the_tap_arrive(page) -> None:
    """Wait until the page has done all it does about a tap at once: a post would be on its way."""
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => setTimeout(done)))")


def sign_in_and_check(thumb: Thumb) -> None:
    thumb.open("/")
    thumb.type("Your name", "Ada")
    thumb.type("Password", builders.PASSWORD)
    thumb.tap("Sign in")
    thumb.taps = 0


def harvest_twelve(thumb):
    thumb.open("/")
    thumb.tap("Bring in a harvest", role="link")
    thumb.tap("Kale", role="link")
    thumb.type("How many crates?", "12")
    thumb.type("In each crate", "10")
    thumb.page.get_by_text("1 h ago").click()
    thumb.tap("Bring in")


def test_from_the_field_to_the_stall_and_back(new_thumb):
    thumb = new_thumb()
    sign_in_and_check(thumb)
    harvest_twelve(thumb)
    assert "12 crates: Kale" in thumb.text
    thumb.tap("Put away", role="link")
    thumb.tap("A2 5 free", exact=False)
    assert Lot.objects.filter(position=builders.place("A2")).count() == 12

    code = Lot.objects.first().pk
    thumb.open(f"/L/{code}")
    thumb.tap("Take out", role="link")
    thumb.page.get_by_text("half (5)").click()
    thumb.page.get_by_label("Buyer").select_option("Market")
    thumb.tap("Take out")
    assert Lot.objects.get(pk=code).quantity == 5

    thumb.tap("Back to the crate", role="link")
    thumb.tap("Bring back", role="link")
    thumb.type("How much came back?", "3")
    thumb.tap("Bring back")
    child = Lot.objects.get(parents__pk=code)
    assert child.quantity == 3

    thumb.open(f"/L/{child.pk}")
    thumb.tap("Discard", role="link")
    thumb.page.get_by_text("wilted").click()
    thumb.tap("Discard")
    child.refresh_from_db()
    assert child.state == "empty"
    thumb.tap("Undo")
    child.refresh_from_db()
    assert (child.state, child.quantity) == ("to put away", 3)
    assert Movement.objects.filter(kind="undone").count() == 1


def test_last_times_kale_again_takes_at_most_six_taps(thumb):
    harvest_twelve(thumb)
    thumb.open("/")
    thumb.taps = 0
    thumb.tap("Bring in a harvest", role="link")
    thumb.tap("Kale", role="link")
    thumb.type("How many crates?", "9")
    thumb.taps += 1
    thumb.page.get_by_text("half an hour ago").click()
    thumb.tap("Bring in")
    assert thumb.taps <= 6
    assert Lot.objects.count() == 21
    assert set(Lot.objects.values_list("quantity", flat=True)) == {10}


def test_the_same_in_the_dark(new_thumb):
    thumb = new_thumb(color_scheme="dark")
    sign_in_and_check(thumb)
    harvest_twelve(thumb)


def test_an_order_is_fetched_without_a_reload(thumb):
    builders.make_lots(10, 10, at=builders.timezone_now())
    thumb.open("/pull")
    thumb.type("Name, if new", "Tamberlow Inn")
    thumb.page.locator(".want input").first.fill("15")
    thumb.tap("Show the crates")
    thumb.page.evaluate("window.stillTheSamePage = true")
    posts = posts_of(thumb.page)
    for left in (1, 0):
        button = thumb.page.get_by_role("button", name="Taken").first
        spot = button.bounding_box()
        button.click()
        expect(thumb.page.get_by_role("button", name="Taken")).to_have_count(left)
        # A second tap at the same place meets the crate that was taken, not the next one.
        thumb.page.mouse.click(spot["x"] + 20, spot["y"] + 20)
        let_the_tap_arrive(thumb.page)
    assert len(posts) == 2
    assert Action.objects.filter(kind=Action.Kind.TAKE_OUT).count() == 2
    assert thumb.page.evaluate("window.stillTheSamePage")
    assert "Nothing more to fetch." in thumb.text
    assert sum(entry.amount for entry in Movement.objects.filter(kind="out")) == 15


def test_a_crate_that_is_not_there_keeps_its_place_on_the_order(thumb):
    builders.make_lots(10, 10, 10, at=builders.timezone_now())
    thumb.open("/pull")
    thumb.type("Name, if new", "Tamberlow Inn")
    thumb.page.locator(".want input").first.fill("20")
    thumb.tap("Show the crates")
    button = thumb.page.get_by_role("button", name="Not there").first
    spot = button.bounding_box()
    posts = posts_of(thumb.page)
    button.click()
    expect(thumb.page.get_by_text("✗ Not there")).to_have_count(1)
    thumb.page.mouse.click(spot["x"] + 20, spot["y"] + 20)
    let_the_tap_arrive(thumb.page)
    assert len(posts) == 1
    expect(thumb.page.get_by_text("✗ Not there")).to_have_count(1)
    expect(thumb.page.get_by_role("button", name="Taken")).to_have_count(2)
    thumb.check()


def test_counting_by_looking_swaps_just_the_row(thumb):
    lot = builders.make_lots(10, 10, at=builders.timezone_now())[0]
    thumb.open(f"/count/{builders.place().pk}")
    row = thumb.page.locator(f"#row-{lot.pk}")
    row.locator("summary").click()
    row.get_by_label("How much is in it?").fill("x")
    row.get_by_role("button", name="It holds this much").click()
    row.locator(".error").wait_for()
    row.get_by_label("How much is in it?").fill("7")
    row.get_by_role("button", name="It holds this much").click()
    row.get_by_role("status").wait_for()
    lot.refresh_from_db()
    assert lot.quantity == 7
    assert "should hold 10 bunches" in thumb.text


def test_all_of_it_works_without_javascript(new_thumb):
    thumb = new_thumb(java_script_enabled=False)
    page = thumb.page
    page.goto(thumb.address)
    sign_in_by_hand(page)
    page.get_by_role("link", name="Bring in a harvest").click()
    page.get_by_role("link", name="Kale").first.click()
    page.get_by_label("How many crates?").fill("3")
    page.get_by_label("In each crate").fill("10")
    page.get_by_role("button", name="Bring in").first.click()
    page.get_by_role("link", name="Put away").click()
    page.get_by_role("button", name="A1").first.click()
    page.goto(thumb.address + "/pull")
    page.get_by_label("Name, if new").fill("Inn")
    page.locator(".want input").first.fill("10")
    page.get_by_role("button", name="Show the crates").click()
    page.get_by_role("button", name="Taken").click()
    page.goto(f"{thumb.address}/count/{builders.place().pk}")
    page.locator(".count summary").first.click()
    page.get_by_role("button", name="Not there").first.click()
    states = sorted(Lot.objects.values_list("state", flat=True))
    assert states == ["empty", "in place", "out"]
