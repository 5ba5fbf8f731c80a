"""The network cut under each kind of form and back: nothing is silent, lost or written twice."""

import json
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest
from playwright.sync_api import Page, expect

from inventory.actions.quality import discard
from inventory.actions.reshape import count_lots
from inventory.models import (
    Action,
    Intake,
    Lot,
    Movement,
    NotThere,
    Order,
    Outlet,
    Person,
    Reading,
    Room,
    Tag,
)
from inventory.queries.book import Wanted
from tests import builders
from tests.browser.conftest import Thumb, sign_in, sign_in_by_hand
from tests.builders import keep_for, say_order

NOW = builders.timezone_now


def line(thumb: Thumb):
    return thumb.page.locator("#queue")


def cut(thumb: Thumb) -> None:
    thumb.page.context.set_offline(True)


def mend(thumb: Thumb) -> None:
    thumb.page.context.set_offline(False)


def kept(page: Page) -> list[dict]:
    return json.loads(page.evaluate("sessionStorage.getItem('queue')") or "[]")


def lose_the_first_answer(page: Page) -> None:
    """Let posts arrive, and the answer to the first one not."""
    seen = []

    def lose(route):
        if route.request.method != "POST" or seen:
            return route.continue_()
        seen.append(route.request.url)
        route.fetch(max_redirects=0)
        return route.abort()

    page.route("**", lose)


def in_place(*quantities) -> list[Lot]:
    return builders.make_lots(*quantities, at=NOW() - timedelta(hours=3))


def an_order(lot: Lot, quantity: int) -> Order:
    act = builders.act(NOW())
    wanted = [Wanted(builders.crop(), "bunch", Decimal(quantity))]
    pull = say_order(act, outlet=Outlet.objects.create(name="Inn"), lines=wanted)
    keep_for(pull, (lot, quantity))
    return pull


def fill_harvest(thumb: Thumb, crates: str) -> None:
    thumb.page.goto(f"{thumb.address}/in/harvest/{builders.crop().pk}")
    thumb.page.get_by_label("How many crates?").fill(crates)
    thumb.page.get_by_label("In each crate").fill("10")
    thumb.page.get_by_label("From").first.select_option(label="Bed 3")
    thumb.page.get_by_text("1 h ago").click()


def send_harvest(thumb: Thumb) -> None:
    fill_harvest(thumb, "12")
    thumb.tap("Bring in")


def send_discard(thumb: Thumb) -> None:
    thumb.page.goto(f"{thumb.address}/L/{in_place(12)[0].pk}/discard")
    thumb.page.get_by_text("wilted").click()
    thumb.tap("Discard")


def send_count(thumb: Thumb) -> None:
    lot = in_place(12)[0]
    thumb.page.goto(f"{thumb.address}/count/{lot.position_id}")
    thumb.page.get_by_label("How much is in it?").fill("9")
    thumb.tap("It holds this much")


def send_not_there(thumb: Thumb) -> None:
    lot = in_place(12)[0]
    thumb.page.goto(f"{thumb.address}/count/{lot.position_id}")
    thumb.tap_on("summary:has-text('Not there')")
    thumb.tap("Not there")


def send_all_right(thumb: Thumb) -> None:
    lot = in_place(12)[0]
    thumb.page.goto(f"{thumb.address}/count/{lot.position_id}")
    thumb.tap("All right", exact=False)


def send_taken(thumb: Thumb) -> None:
    pull = an_order(in_place(12)[0], 5)
    thumb.page.goto(f"{thumb.address}/pull/{pull.pk}")
    thumb.tap("Taken")


def send_missing(thumb: Thumb) -> None:
    pull = an_order(in_place(12)[0], 5)
    thumb.page.goto(f"{thumb.address}/pull/{pull.pk}")
    thumb.tap("Not there")


def send_temperature(thumb: Thumb) -> None:
    thumb.page.goto(f"{thumb.address}/rooms/{Room.objects.get().pk}")
    thumb.page.locator("[name=temperature]").fill("3.5")
    thumb.tap("Write it down")


def send_scan(thumb: Thumb) -> None:
    lot = in_place(12)[0]
    thumb.page.goto(f"{thumb.address}/scan/put-away?here={builders.place('B3').pk}")
    thumb.page.get_by_label("Scan, or type the code").fill(lot.pk)
    thumb.tap("Send")


def brought_in() -> list:
    return [(intake.crop.shown_name, intake.lots.count()) for intake in Intake.objects.all()]


def entries(kind: str) -> Callable[[], list]:
    return lambda: list(Movement.objects.filter(kind=kind).values_list("change", flat=True))


# Each kind of form: what is tapped, the words it is named by, and what it writes, once.
FORMS = {
    "harvest": (send_harvest, "Bring in: Kale, 12 × 10", brought_in, [("Kale", 12)]),
    "discard": (send_discard, "Discard: Kale", entries("discarded"), [Decimal(-12)]),
    "count": (send_count, "Count: Kale", entries("counted"), [Decimal(-3)]),
    "not there": (send_not_there, "Count: Kale", entries("counted"), [Decimal(-12)]),
    "all right": (send_all_right, "All right", entries("counted"), [Decimal(0)]),
    "taken": (send_taken, "Taken: Kale", entries("out"), [Decimal(-5)]),
    "missing": (
        send_missing,
        "Not there: Kale",
        lambda: list(NotThere.objects.values_list("quantity", flat=True)),
        [Decimal(5)],
    ),
    "temperature": (
        send_temperature,
        "3.5°",
        lambda: [round(reading.temperature_c, 1) for reading in Reading.objects.all()],
        [3.5],
    ),
    "scan": (
        send_scan,
        "Put away or move here",
        lambda: [entry.position.name for entry in Movement.objects.filter(kind="moved")],
        ["B3"],
    ),
}


@pytest.mark.parametrize("name", FORMS)
def test_what_got_no_answer_is_named_kept_and_sent_once_by_itself(thumb, name):
    send, words, written, once = FORMS[name]
    # The page is fetched with signal; only what it sends is not.
    thumb.page.route("**", lambda route: (
        route.abort("internetdisconnected")
        if route.request.method == "POST"
        else route.continue_()
    ))  # fmt: skip
    send(thumb)
    expect(line(thumb)).to_contain_text("1 not sent")
    expect(line(thumb)).to_contain_text(words)
    assert written() == []
    thumb.check()
    thumb.page.unroute("**")
    thumb.page.evaluate("dispatchEvent(new Event('online'))")
    expect(line(thumb)).to_contain_text("✓ Sent")
    assert written() == once
    assert kept(thumb.page) == []


@pytest.mark.parametrize("name", FORMS)
def test_what_arrived_though_its_answer_was_lost_is_written_once(thumb, name):
    send, _, written, once = FORMS[name]
    lose_the_first_answer(thumb.page)
    send(thumb)
    expect(line(thumb)).to_contain_text("1 not sent")
    assert written() == once
    thumb.page.evaluate("dispatchEvent(new Event('online'))")
    expect(line(thumb)).to_contain_text("✓ Sent")
    assert written() == once
    assert kept(thumb.page) == []


def test_a_row_says_itself_that_it_was_sent_and_a_second_tap_shows_it_done(thumb):
    without_posts(thumb.page)
    send_taken(thumb)
    expect(thumb.page.locator("form[data-waits='↑ not sent']")).to_have_count(1)
    thumb.page.unroute("**")
    thumb.page.evaluate("dispatchEvent(new Event('online'))")
    expect(thumb.page.locator("form[data-waits='✓ sent']")).to_have_count(1)
    thumb.tap("Taken")
    expect(thumb.page.locator(".taken")).to_have_text("✓ Taken")
    expect(line(thumb)).to_have_text("")
    assert entries("out")() == [Decimal(-5)]


# --- one after the other, on one page and the next


def test_what_was_typed_stays_and_another_figure_is_another_harvest(thumb):
    fill_harvest(thumb, "12")
    cut(thumb)
    for _ in range(2):
        thumb.tap("Bring in")
        expect(line(thumb)).to_contain_text("1 not sent: Bring in: Kale, 12 × 10")
    assert thumb.page.get_by_label("In each crate").input_value() == "10"
    expect(thumb.page.locator("form[data-waits]")).to_have_count(1)
    thumb.page.get_by_label("How many crates?").fill("5")
    thumb.tap("Bring in")
    expect(line(thumb)).to_contain_text("2 not sent: Bring in: Kale, 12 × 10 · Bring in: Kale, 5")
    mend(thumb)
    expect(line(thumb)).not_to_contain_text("not sent")
    assert [crates for _, crates in brought_in()] == [12, 5]
    thumb.tap("Bring in")
    assert thumb.page.url.split("/")[-2] == "done"
    assert [crates for _, crates in brought_in()] == [12, 5]


def test_a_double_tap_is_one_entry_with_and_without_signal(thumb):
    twice = "for (let tap = 0; tap < 2; tap++) document.querySelector('main .main').click()"
    fill_harvest(thumb, "12")
    cut(thumb)
    thumb.page.evaluate(f"() => {{ {twice} }}")
    expect(line(thumb)).to_contain_text("1 not sent")
    mend(thumb)
    expect(line(thumb)).to_contain_text("✓ Sent")
    fill_harvest(thumb, "3")
    thumb.page.evaluate(f"() => {{ {twice} }}")
    thumb.page.wait_for_url("**/done/**")
    assert [crates for _, crates in brought_in()] == [12, 3]


def without_posts(page: Page) -> None:
    """Let pages come, and nothing be sent."""

    def drop(route):
        return route.abort() if route.request.method == "POST" else route.continue_()

    page.route("**", drop)


def test_what_waits_outlives_a_change_of_page_in_the_tab(thumb):
    without_posts(thumb.page)
    send_harvest(thumb)
    thumb.open("/count")
    expect(line(thumb)).to_contain_text("1 not sent: Bring in: Kale, 12 × 10")
    thumb.page.reload()
    expect(line(thumb)).to_contain_text("1 not sent")
    thumb.page.unroute("**")
    thumb.open("/rooms")
    expect(line(thumb)).to_contain_text("✓ Sent: Bring in: Kale, 12 × 10")
    line(thumb).get_by_role("link", name="Sent").click()
    thumb.page.wait_for_url("**/done/**")
    assert brought_in() == [("Kale", 12)]


# The pauses between tries are 3 s and longer; 8 s is how long an answer is waited for.
NO_PAUSE_ENDS = """() => {
  const really = window.setTimeout;
  window.setTimeout = (act, ms) => really(act, ms >= 3000 && ms !== 8000 ? 1e9 : ms);
}"""


def test_it_is_tried_again_after_a_pause_and_by_a_tap(thumb):
    without_posts(thumb.page)
    send_harvest(thumb)
    expect(line(thumb)).to_contain_text("1 not sent")
    thumb.page.unroute("**")
    expect(line(thumb)).to_contain_text("✓ Sent")
    without_posts(thumb.page)
    fill_harvest(thumb, "2")
    thumb.page.evaluate(NO_PAUSE_ENDS)
    thumb.tap("Bring in")
    expect(line(thumb)).to_contain_text("1 not sent")
    thumb.page.unroute("**")
    line(thumb).locator("summary").click()
    thumb.tap("Send now")
    expect(line(thumb)).to_contain_text("✓ Sent")
    assert [crates for _, crates in brought_in()] == [12, 2]


def test_it_happened_when_it_was_tapped(thumb):
    cut_at = NOW()
    without_posts(thumb.page)
    send_discard(thumb)
    expect(line(thumb)).to_contain_text("1 not sent")
    # Half an hour in the pocket: the same clock says when it was tapped and how long it waited.
    thumb.page.evaluate("""() => {
        const items = JSON.parse(sessionStorage.queue);
        items[0].tapped -= 30 * 60 * 1000;
        sessionStorage.queue = JSON.stringify(items);
    }""")
    thumb.page.unroute("**")
    thumb.open("/rooms")
    expect(line(thumb)).to_contain_text("✓ Sent")
    action = Action.objects.get(kind="discard")
    assert timedelta(minutes=29) < action.recorded_at - action.occurred_at < timedelta(minutes=32)
    assert action.recorded_at > cut_at


def test_a_network_that_swallows_a_tap_is_given_up_after_eight_seconds(thumb):
    def swallow(route):
        return None if route.request.method == "POST" else route.continue_()

    lot, other = in_place(12, 12)
    thumb.page.clock.install()
    # Each of another crate: a count that was tapped before a hold would not fit before it.
    for path, row, name in (
        (f"/L/{lot.pk}/hold", "main", "blood"),
        (f"/count/{other.position_id}", f"#row-{other.pk}", "Not there"),
    ):
        thumb.page.goto(thumb.address + path)
        thumb.page.route("**", swallow)
        if "count" in path:
            thumb.tap_on(f"{row} summary:has-text('Not there')")
        thumb.page.clock.pause_at(thumb.page.evaluate("Date.now() / 1000 + 1"))
        with thumb.page.expect_request(lambda request: request.method == "POST"):
            thumb.page.locator(row).get_by_role("button", name=name).first.click()
        thumb.page.clock.fast_forward(7_900)
        expect(thumb.page.locator("form.htmx-request")).not_to_have_count(0)
        expect(thumb.page.locator("form[data-waits]")).to_have_count(0)
        thumb.page.clock.fast_forward(200)
        thumb.page.clock.resume()
        thumb.page.locator("form[data-waits]").wait_for()
        thumb.page.unroute("**")
        thumb.page.goto(f"{thumb.address}/rooms")
        expect(line(thumb)).to_contain_text("✓ Sent")


# --- what comes back


def test_what_is_refused_by_then_is_told_and_stays_until_it_is_read(thumb):
    lot = in_place(12)[0]
    thumb.page.goto(f"{thumb.address}/L/{lot.pk}/take-out")
    without_posts(thumb.page)
    thumb.page.get_by_text("own use").first.click()
    thumb.tap("Take out")
    expect(line(thumb)).to_contain_text("1 not sent")
    gone = {"reason": "wilted", "destination": "compost", "portion": "all"}
    discard(builders.act(NOW()), lot=lot.pk, **gone)
    thumb.page.unroute("**")
    thumb.open("/rooms")
    expect(line(thumb)).to_contain_text("✗ Not written: Take out: Kale")
    expect(line(thumb)).to_contain_text(f"Crate {lot.pk} is not here: empty.")
    thumb.open("/count")
    expect(line(thumb)).to_contain_text("Not written")
    href = line(thumb).get_by_role("link", name="Open the form").get_attribute("href")
    assert href.startswith(f"/L/{lot.pk}/take-out#")
    thumb.tap("Take it off this list")
    expect(line(thumb)).to_have_text("")
    assert kept(thumb.page) == []
    assert not Movement.objects.filter(kind="out").exists()


def test_the_form_of_what_was_refused_opens_as_it_was_typed_and_takes_its_place(thumb):
    """Ten of twelve were counted away meanwhile: half of it, six, is more than there."""
    lot = in_place(12)[0]
    thumb.page.goto(f"{thumb.address}/L/{lot.pk}/take-out")
    without_posts(thumb.page)
    thumb.page.get_by_label("or another amount").fill("6")
    thumb.page.get_by_text("own use").first.click()
    thumb.page.get_by_label("To whom?").fill("Inés")
    thumb.tap("Take out")
    expect(line(thumb)).to_contain_text("1 not sent")
    count_lots(builders.act(NOW()), figures={lot.pk: Decimal(2)}, reason="miscounted")
    thumb.page.unroute("**")
    thumb.open("/rooms")
    expect(line(thumb)).to_contain_text("✗ Not written: Take out: Kale")
    thumb.tap("Open the form", role="link")
    expect(thumb.page.get_by_label("To whom?")).to_have_value("Inés")
    expect(thumb.page.get_by_label("own use")).to_be_checked()
    thumb.page.get_by_label("or another amount").fill("1")
    thumb.tap("Take out")
    thumb.page.wait_for_url("**/done/**")
    assert line(thumb).inner_text() == ""
    assert Movement.objects.get(kind="out").amount == 1


def test_a_scan_that_is_asked_about_by_then_is_told_as_not_written(thumb):
    in_place(12)
    young = builders.make_lot(at=NOW())
    builders.make_lot(at=NOW() - timedelta(days=4))
    thumb.page.goto(f"{thumb.address}/scan/market")
    cut(thumb)
    thumb.page.get_by_label("Scan, or type the code").fill(young.pk)
    thumb.tap("Send")
    expect(line(thumb)).to_contain_text("1 not sent")
    mend(thumb)
    expect(line(thumb)).to_contain_text("An older one should go first")
    assert Lot.objects.get(pk=young.pk).state == "in place"


def test_a_refusal_with_signal_stands_in_its_form_and_nowhere_else(thumb):
    fill_harvest(thumb, "twelve")
    thumb.tap("Bring in")
    expect(thumb.page.locator("main")).to_contain_text("Nothing was written yet")
    expect(line(thumb)).to_have_text("")
    thumb.page.get_by_label("How many crates?").fill("4")
    thumb.tap("Bring in")
    thumb.page.wait_for_url("**/done/**")
    assert brought_in() == [("Kale", 4)]


def test_a_crate_taken_by_another_keeps_the_list_and_says_so(thumb):
    lot = in_place(12)[0]
    pull = an_order(lot, 5)
    thumb.page.goto(f"{thumb.address}/pull/{pull.pk}")
    discard(builders.act(NOW()), lot=lot.pk, portion="all", reason="wilted", destination="compost")
    thumb.tap("Taken")
    expect(line(thumb)).to_contain_text("✗ Not written: Taken: Kale")
    expect(thumb.page.locator("#pull")).to_contain_text("Fetch, in this order")


def test_a_page_that_was_open_too_long_is_sent_with_a_fresh_token(thumb):
    for send in (send_harvest, send_taken):
        page = thumb.page
        page.once("load", lambda page: page.context.clear_cookies(name="csrftoken"))
        send(thumb)
        page.wait_for_timeout(100)
    thumb.page.wait_for_timeout(500)
    assert ("Kale", 12) in brought_in()
    assert entries("out")() == [Decimal(-5)]


# --- who is at the phone


def test_without_a_sign_in_it_is_kept_and_sent_after_it(thumb):
    without_posts(thumb.page)
    send_harvest(thumb)
    expect(line(thumb)).to_contain_text("1 not sent")
    thumb.page.context.clear_cookies()
    thumb.page.unroute("**")
    thumb.page.evaluate("dispatchEvent(new Event('online'))")
    expect(line(thumb)).to_contain_text("It is sent when Ada is at this phone.")
    thumb.open("/")
    sign_in_by_hand(thumb.page)
    expect(line(thumb)).to_contain_text("✓ Sent")
    assert brought_in() == [("Kale", 12)]


def test_what_one_person_tapped_is_not_written_as_anothers(thumb):
    builders.make_crew()
    without_posts(thumb.page)
    send_harvest(thumb)
    expect(line(thumb)).to_contain_text("1 not sent")
    thumb.page.unroute("**")
    ben, ada = (Person.objects.get(name=name) for name in ("Ben", "Ada"))
    # In another tab of the phone: this page does not know.
    other = thumb.page.context.new_page()
    other.goto(f"{thumb.address}/who")
    other.get_by_role("button", name=ben.name).click()
    other.wait_for_url(f"{thumb.address}/")
    thumb.page.evaluate("dispatchEvent(new Event('online'))")
    expect(line(thumb)).to_contain_text("It is sent when Ada is at this phone.")
    thumb.open("/rooms")
    expect(line(thumb)).to_contain_text("It is sent when Ada is at this phone.")
    assert brought_in() == []
    thumb.page.goto(f"{thumb.address}/who")
    thumb.tap(ada.name)
    expect(line(thumb)).to_contain_text("✓ Sent")
    assert brought_in() == [("Kale", 12)]


# --- what is never kept


def test_a_password_is_never_kept_and_what_was_typed_stays(new_thumb):
    thumb = new_thumb()
    thumb.open("/")
    thumb.type("Your name", "Ada")
    thumb.type("Password", builders.PASSWORD)
    cut(thumb)
    thumb.tap("Sign in")
    expect(line(thumb)).to_contain_text("No answer. Keep this page open")
    assert thumb.page.get_by_label("Password").input_value() == builders.PASSWORD
    assert builders.PASSWORD not in thumb.page.evaluate("JSON.stringify(sessionStorage)")
    mend(thumb)
    thumb.tap("Sign in")
    thumb.page.wait_for_url(f"{thumb.address}/")


def test_what_would_do_more_the_second_time_is_not_kept(thumb):
    thumb.page.goto(f"{thumb.address}/settings/tags")
    thumb.page.locator("[name=count]").fill("4")
    cut(thumb)
    thumb.tap("Make tags")
    expect(line(thumb)).to_contain_text("No answer")
    assert kept(thumb.page) == []
    mend(thumb)
    thumb.tap("Make tags")
    thumb.page.wait_for_url("**/labels?**")
    assert Tag.objects.count() == 4


def test_a_pin_is_never_kept(thumb):
    thumb.page.goto(f"{thumb.address}/settings/people/{builders.owner().pk}")
    thumb.page.locator("[name=new_pin]").fill("47114711")
    cut(thumb)
    thumb.tap_on("main .main")
    expect(line(thumb)).to_contain_text("No answer")
    assert "47114711" not in thumb.page.evaluate("JSON.stringify(sessionStorage)")


def test_a_file_and_a_question_say_so_and_keep_what_was_typed(thumb, tmp_path):
    file = tmp_path / "log.csv"
    file.write_text("2026-06-01 06:30,3.5")
    thumb.page.goto(f"{thumb.address}/rooms/{Room.objects.get().pk}/file")
    thumb.page.locator("[type=file]").set_input_files(file)
    cut(thumb)
    thumb.tap_on("main .main")
    expect(line(thumb)).to_contain_text("No answer. Keep this page open")
    mend(thumb)
    thumb.tap_on("main .main")
    thumb.page.wait_for_url("**/file/**")

    lot = in_place(12)[0]
    thumb.page.goto(f"{thumb.address}/find")
    thumb.page.locator("main input").first.fill(lot.pk)
    cut(thumb)
    thumb.tap_on("main button")
    expect(line(thumb)).to_contain_text("No answer")
    assert thumb.page.locator("main input").first.input_value() == lot.pk
    mend(thumb)
    thumb.tap_on("main button")
    thumb.page.wait_for_url(f"**/L/{lot.pk}")


def test_back_from_memory_knows_what_was_sent_since(thumb):
    fill_harvest(thumb, "12")
    thumb.tap("Bring in")
    thumb.page.wait_for_url("**/done/**")
    thumb.page.go_back()
    expect(thumb.page.get_by_role("button", name="Bring in", exact=True).first).to_be_enabled()
    expect(thumb.page.locator("form.htmx-request")).to_have_count(0)
    expect(line(thumb)).to_have_text("")


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("colours", ["light", "dark"])
def test_the_line_can_be_read_and_leaves_the_buttons_where_they_were(new_thumb, language, colours):
    person = builders.owner()
    person.language = language
    person.save()
    thumb = new_thumb(color_scheme=colours)
    sign_in(thumb)
    lots = in_place(12, 12, 12)
    thumb.page.goto(f"{thumb.address}/count/{lots[0].position_id}")
    cut(thumb)
    thumb.page.locator("form.count summary").first.click()
    button = thumb.page.locator("form.count button").first
    thumb.page.evaluate("scrollTo(0, 0)")
    before = button.bounding_box()
    button.evaluate("(button) => button.click()")
    expect(line(thumb)).to_contain_text("1 ")
    after, shown = button.bounding_box(), line(thumb).bounding_box()
    assert abs(after["y"] - before["y"]) < 2
    assert 0 <= shown["y"] < shown["y"] + shown["height"] < after["y"]
    thumb.check()
    line(thumb).locator("summary").click()
    thumb.check()
