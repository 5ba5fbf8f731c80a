"""Scanning is never silent: harm, a machine that does not answer, scans faster than the answer."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta

import pytest
from playwright.sync_api import Error, Page, Route, expect

from inventory.models import Action, Lot, Movement
from tests import builders
from tests.browser.conftest import Thumb, sign_in, sign_in_by_hand
from tests.browser.test_scanning import PHONE_PARTS, filmed  # noqa: F401
from tests.codes.test_keyboards import typed
from tests.queries.test_rooms import cold_spots

FEEL = """navigator.vibrate = (buzzes) => {
  (globalThis.felt ??= []).push(buzzes.join());
  return true;
};"""
STOPPED_MS = 20_000
# After so long an answer is slow, and a frame is given up.
SLOW_MS = 3_000
# After so long a page gives up what it sent.
GIVEN_UP_MS = 8_000


@pytest.fixture
def feeling(thumb: Thumb) -> Thumb:
    thumb.page.add_init_script(FEEL)
    return thumb


def felt(page: Page) -> list[str]:
    return page.evaluate("globalThis.felt ?? []")


class Stopped:
    """A machine that takes what is sent and does not answer until it is let go on."""

    def __init__(self) -> None:
        self.held: list[Route] = []
        self.sent: list[str] = []

    def take(self, route: Route) -> None:
        self.held.append(route)
        self.sent.append(route.request.post_data or "")

    def hears(self, page: Page, count: int = 1) -> None:
        while len(self.held) < count:
            page.wait_for_timeout(50)

    def answer_one(self, page: Page) -> None:
        self.hears(page)
        self.held.pop(0).continue_()

    def loses_what_was_posted(self) -> None:
        """To the page it is as if it had waited in vain: there is no answer."""
        for route in [route for route in self.held if route.request.method == "POST"]:
            self.held.remove(route)
            route.abort("timedout")

    def go_on(self) -> None:
        for route in self.held:
            try:
                route.continue_()
            except Error:  # the page has given it up
                continue


@contextmanager
def stopped(page: Page, where: str) -> Iterator[Stopped]:
    machine = Stopped()
    page.route(where, machine.take)
    yield machine
    page.unroute(where)
    machine.go_on()


@contextmanager
def patience(page: Page, ms: int) -> Iterator[None]:
    """Let a page give up what it sends sooner than it does."""
    assert page.evaluate("htmx.config.timeout") == GIVEN_UP_MS
    page.evaluate(f"htmx.config.timeout = {ms}")
    yield
    page.evaluate(f"htmx.config.timeout = {GIVEN_UP_MS}")


def scans(page: Page, *texts: str, end: str = "Enter") -> None:
    """What a scanner types: it looks at nothing and waits for nothing."""
    for text in texts:
        page.keyboard.type(text)
        page.keyboard.press(end)


def moved_to(name: str) -> set[str]:
    return set(Lot.objects.filter(position=builders.place(name)).values_list("pk", flat=True))


def until_moved(page: Page, name: str, lots: list[Lot]) -> None:
    for _ in range(600):
        if moved_to(name) == {lot.pk for lot in lots}:
            return
        page.wait_for_timeout(100)
    raise AssertionError((name, moved_to(name)))


def cautions(page: Page, where: str) -> list[str]:
    return page.locator(f"{where} :is(.problem, .caution)").all_inner_texts()


def test_putting_away_into_a_cold_spot_says_what_the_form_says(feeling):
    thumb, page = feeling, feeling.page
    cold_spots("A3")
    lot, other, typed_in = builders.make_lots(12, 12, 12, at=builders.timezone_now())
    thumb.open(f"/scan/put-away?here={builders.place('B3').pk}")
    scans(page, lot.pk)
    expect(page.locator("#said .done")).to_contain_text("Kale: B3")
    scans(page, builders.place("A3").pk, other.pk)
    expect(page.locator("#said .mind")).to_have_count(2)  # the answer, and what to mind in it
    expect(page.locator("#said .big")).to_have_text("✓ ! Kale: A3")
    told = cautions(page, "#said")
    assert told == ["A3: known cold spot: may freeze here."]
    assert moved_to("A3") == {other.pk}
    done, _here, minded = felt(page)
    assert minded != done
    thumb.check()
    # It stays while the next one is typed, until that is answered.
    page.keyboard.type(lot.pk)
    assert cautions(page, "#said") == told
    page.goto(f"{thumb.address}/L/{typed_in.pk}/move")
    page.locator(f"button[value='{builders.place('A3').pk}']").click()
    expect(page.locator("main .done")).to_contain_text("A3")
    assert cautions(page, "main") == told


def test_what_was_scanned_without_signal_says_its_harm_when_it_is_sent(thumb):
    page = thumb.page
    cold_spots("A3")
    lots = builders.make_lots(12, 12, 12, 12, at=builders.timezone_now(), position=None)
    thumb.open(f"/scan/put-away?here={builders.place('A3').pk}")
    page.context.set_offline(True)
    scans(page, *[lot.pk for lot in lots[:1]])
    expect(page.locator("#queue")).to_contain_text("1 not sent")
    scans(page, builders.place("B3").pk, *[lot.pk for lot in lots[1:]])
    expect(page.locator("#queue")).to_contain_text("5 not sent")
    page.context.set_offline(False)
    until_moved(page, "B3", lots[1:])
    expect(page.locator("#queue")).to_contain_text("A3: known cold spot: may freeze here.")
    expect(page.locator("#queue")).to_contain_text(f"✓ Sent: Put away or move here: {lots[3].pk}")


def test_a_scanner_faster_than_the_answer_loses_nothing(thumb):
    page = thumb.page
    lots = builders.make_lots(12, 12, at=builders.timezone_now())
    texts = [builders.place("B3").pk, lots[0].pk, lots[1].pk]
    thumb.open("/scan/put-away")
    box = page.get_by_label("Scan, or type the code")
    with stopped(page, "**/scan/put-away") as machine:
        scans(page, *texts)
        expect(box).to_have_value("")
        expect(page.locator("#line")).to_have_text(f"No answer yet: {lots[0].pk}, {lots[1].pk}")
        page.keyboard.type(lots[0].pk[:4])
        expect(page.locator("#typed")).to_have_text("Type all seven characters")
        for _ in texts:
            machine.answer_one(page)
        expect(page.locator("#said .done")).to_contain_text("Kale: B3")
        expect(page.locator("#line")).to_have_text("")
        expect(box).to_have_value(lots[0].pk[:4])
        expect(page.locator("#typed")).to_have_text("Type all seven characters")
        assert [re.search(r'name="text"\s+(\w+)', sent)[1] for sent in machine.sent] == texts
    until_moved(page, "B3", lots)
    moves = Action.objects.filter(kind=Action.Kind.MOVE).order_by("recorded_at")
    assert [move.movements.get().lot_id for move in moves] == [lot.pk for lot in lots]


def test_tab_on_a_whole_code_or_address_is_enter_on_a_spanish_keyboard_too(thumb):
    page = thumb.page
    lots = builders.make_lots(12, 12, 12, at=builders.timezone_now())
    thumb.open("/scan/put-away")
    box = page.get_by_label("Scan, or type the code")
    spanish = typed(f"{thumb.address.upper()}/L/{lots[2].pk}", "Spain")
    scans(page, builders.place("B3").pk, lots[0].pk, end="Tab")
    scans(page, f"{thumb.address.upper()}/L/{lots[1].pk}", spanish, end="Tab")
    expect(box).to_be_focused()
    until_moved(page, "B3", lots)
    expect(page.locator("#line")).to_have_text("")
    thumb.wait_for_the_answer()
    # With nothing whole in it Tab leads on as ever, and what is typed then is typed into the box.
    page.keyboard.press("Tab")
    expect(box).not_to_be_focused()
    page.keyboard.type(lots[0].pk[:3])
    expect(box).to_have_value(lots[0].pk[:3])
    page.keyboard.press("Tab")
    expect(box).not_to_be_focused()
    assert page.locator("#said .refused").count() == 0


def test_a_scanner_that_ends_in_two_enters_scans_once(thumb):
    page = thumb.page
    lots = builders.make_lots(12, 12, at=builders.timezone_now())
    thumb.open(f"/scan/put-away?here={builders.place('B3').pk}")
    for lot in lots:
        scans(page, lot.pk)
        page.keyboard.press("Enter")
    until_moved(page, "B3", lots)
    thumb.wait_for_the_answer()
    expect(page.locator("#said .done")).to_contain_text("Kale: B3")
    # The second one may come after the answer to the first.
    page.keyboard.press("Enter")
    page.wait_for_timeout(300)
    thumb.wait_for_the_answer()
    expect(page.locator("#said .refused")).to_have_count(0)


def test_a_question_answered_while_another_scan_is_under_way_is_about_its_crate(thumb):
    page, now = thumb.page, builders.timezone_now()
    builders.make_lot(at=now - timedelta(days=4), position=builders.place("A2"))
    asked, apple = builders.make_lot(at=now), builders.make_cases(18, at=now)[0]
    builders.Outlet.objects.update(own_grown_only=False)
    thumb.open("/scan/market")
    scans(page, asked.pk)
    expect(page.locator("#said .ask")).to_be_visible()
    with stopped(page, "**/scan/market") as machine:
        scans(page, apple.pk)
        page.get_by_role("button", name="Take it all the same").click()
        expect(page.locator("#line")).to_contain_text(asked.pk)
        machine.answer_one(page)
        machine.answer_one(page)
        expect(page.locator("#said .done")).to_contain_text("Kale")
    out = Lot.objects.filter(state=Lot.State.OUT).values_list("pk", flat=True)
    assert set(out) == {asked.pk, apple.pk}


def test_tags_that_got_no_answer_stay_in_order(thumb):
    page = thumb.page
    lots = builders.make_lots(12, 7, at=builders.timezone_now())
    tags = [builders.make_tag(builders.timezone_now()) for _ in range(2)]
    thumb.open("/scan/tag")
    box = page.get_by_label("Scan, or type the code")
    page.route("**/scan/tag", lambda route: None)
    with patience(page, 500):
        scans(page, tags[0].pk, tags[1].pk)
        expect(page.locator("#queue")).to_contain_text("No answer")
    expect(box).to_have_value(tags[0].pk)
    expect(page.locator("#line")).to_have_text(f"No answer yet: {tags[1].pk}")
    page.unroute("**/scan/tag")
    thumb.tap("Send")
    expect(page.locator("#line")).to_have_text("")
    thumb.wait_for_the_answer()
    assert [tag.current_lot() for tag in tags] == lots


def test_what_waits_when_the_page_is_left_is_sent_from_the_next(thumb):
    page = thumb.page
    lots = builders.make_lots(12, 12, 12, at=builders.timezone_now())
    thumb.open(f"/scan/put-away?here={builders.place('A2').pk}")
    with stopped(page, "**/scan/put-away") as machine:
        scans(page, lots[0].pk, builders.place("B3").pk, lots[1].pk, lots[2].pk)
        expect(page.locator("#line")).to_contain_text(lots[2].pk)
        page.get_by_role("link", name="Something else").click()
        expect(page.locator("h1")).to_have_text("What are you scanning for?")
        expect(page.locator("#queue")).to_contain_text("not sent")
        assert len(machine.sent) >= 1
    until_moved(page, "B3", lots[1:])
    until_moved(page, "A2", lots[:1])
    assert Movement.objects.filter(kind="moved").count() == 3


def test_twenty_seconds_without_an_answer_are_said_and_cost_a_scanner_nothing(feeling):
    page = feeling.page
    before = builders.timezone_now() - timedelta(hours=1)
    lots = builders.make_lots(12, 12, 12, 12, at=before)
    here = builders.place("B3").pk
    page.clock.install()
    feeling.open(f"/scan/put-away?here={here}")
    with stopped(page, "**/*") as machine:
        scans(page, *[lot.pk for lot in lots])
        machine.hears(page)
        page.clock.fast_forward(SLOW_MS)
        expect(page.locator("#away")).to_be_visible()
        expect(page.locator("#away")).to_contain_text("The farm's machine does not answer.")
        feeling.check()
        named = page.locator("#line, #queue")
        for lot in lots:
            assert lot.pk in "".join(named.all_inner_texts())
        machine.loses_what_was_posted()
        page.clock.fast_forward(STOPPED_MS)
        expect(page.locator("#queue")).to_contain_text(lots[0].pk)
        expect(page.locator("#away")).to_be_visible()
    expect(page.locator("#away")).to_be_hidden()
    until_moved(page, "B3", lots)
    expect(page.locator("#queue")).not_to_contain_text("not sent")
    assert Movement.objects.filter(kind="moved").count() == len(lots)
    assert len(set(felt(page))) >= 2


def test_a_camera_whose_frames_get_no_answer_says_so_and_goes_on(filmed):  # noqa: F811
    thumb, lots = filmed
    page = thumb.page
    page.add_init_script(FEEL)
    sign_in(thumb)
    page.clock.install()
    page.goto(f"{thumb.address}/scan/put-away?here={builders.place('B2').pk}")
    page.get_by_role("button", name="Use the camera").click()
    for _ in range(600):
        if moved_to("B2"):
            break
        page.wait_for_timeout(100)
    with stopped(page, "**/scan/**") as machine:
        for frames in (1, 2):
            machine.hears(page, frames)
            page.clock.fast_forward(SLOW_MS)
        expect(page.locator("#away")).to_be_visible()
        buzzed = felt(page)[-1]
        page.clock.fast_forward(STOPPED_MS)
        expect(page.locator("#away")).to_be_visible()
        sound = "import('/static/inventory/scan/sound.js')"
        away = page.evaluate(f"{sound}.then((m) => m.buzzes('put-away', 'away').join())")
        assert buzzed == away
    expect(page.locator("#away")).to_be_hidden()
    until_moved(page, "B2", lots)


def test_a_phone_that_reads_codes_itself_is_told_of_a_slow_answer(filmed):  # noqa: F811
    thumb, lots = filmed
    page = thumb.page
    page.add_init_script(PHONE_PARTS)
    sign_in(thumb)
    page.clock.install()
    page.goto(f"{thumb.address}/scan/put-away?here={builders.place('B2').pk}")
    page.evaluate(f"globalThis.inSight = '{lots[0].pk}'")
    with stopped(page, "**/*") as machine:
        page.get_by_role("button", name="Use the camera").click()
        machine.hears(page)
        page.clock.fast_forward(SLOW_MS)
        expect(page.locator("#away")).to_be_visible()
        page.evaluate("globalThis.inSight = undefined")  # no other scan tells that it is back
        machine.loses_what_was_posted()
        expect(page.locator("#queue")).to_contain_text(lots[0].pk)
    expect(page.locator("#away")).to_be_hidden()
    until_moved(page, "B2", lots[:1])


def test_a_phone_that_was_signed_out_is_told_and_led_back_to_its_page(filmed):  # noqa: F811
    thumb, lots = filmed
    page = thumb.page
    sign_in(thumb)
    here = builders.place("B2").pk
    page.goto(f"{thumb.address}/scan/put-away")
    scans(page, here)
    expect(page.locator("#said .here")).to_be_visible()
    page.get_by_role("button", name="Use the camera").click()
    page.context.clear_cookies(name="sessionid")
    expect(page.locator("#signed-out")).to_be_visible()
    expect(page.locator("#signed-out")).to_contain_text("Signed out.")
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    assert thumb.small_targets() == []
    page.get_by_role("link", name="Sign in again").click()
    page.get_by_role("button", name="Ada").or_(page.get_by_label("Your name")).first.wait_for()
    sign_in_by_hand(page)
    expect(page.locator("h1")).to_have_text("Put away or move here")
    assert page.url == f"{thumb.address}/scan/put-away?here={here}"
    page.get_by_role("button", name="Use the camera").click()
    until_moved(page, "B2", lots)


def test_a_scan_of_whoever_was_signed_out_leads_back_to_the_page(thumb):
    page = thumb.page
    lot = builders.make_lot(at=builders.timezone_now())
    here = builders.place("B2").pk
    thumb.open(f"/scan/put-away?here={here}")
    page.context.clear_cookies(name="sessionid")
    scans(page, lot.pk)
    sign_in_by_hand(page)
    expect(page.locator("h1")).to_have_text("Put away or move here")
    assert page.url == f"{thumb.address}/scan/put-away?here={here}"
    until_moved(page, "B2", [lot])  # it was kept, and is sent by itself
