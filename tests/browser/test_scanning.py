"""The scan page with a camera, a photo and a scanner that types."""

import io
import time
from datetime import timedelta

import pytest
from PIL import Image
from playwright.sync_api import expect

from inventory.labels import LabelText, draw_label
from inventory.models import Action, Lot
from tests import builders
from tests.browser.conftest import FLAGS, LIMIT_MS, Thumb, find_chromium, open_phone, sign_in
from tests.serving import LIMIT_S


def frame(code: str, host: str) -> bytes:
    """A label as the camera sees it, 1280 by 720."""
    label = LabelText("Kale", code, (("12 bunches", 0.5),), f"{host.upper()}/L/{code}")
    picture = Image.new("RGB", (1280, 720), (110, 110, 110))
    drawn = draw_label(label, 101.6, 50.8, 203).convert("RGB")
    picture.paste(drawn, (230, 150))
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=80)
    return out.getvalue()


@pytest.fixture
def filmed(chromium, transactional_db, live_server, tmp_path):
    """Five crates out of place, and a browser whose camera sees a film of their labels."""
    builders.make_farm()
    lots = builders.make_lots(*[12] * 5, at=builders.timezone_now())
    film = tmp_path / "labels.mjpeg"
    # The camera plays 30 frames a second: each label stands a second and a half.
    film.write_bytes(b"".join(frame(lot.pk, live_server.url) * 45 for lot in lots))
    flags = [
        *FLAGS,
        "--use-fake-device-for-media-stream",
        "--use-fake-ui-for-media-stream",
        f"--use-file-for-fake-video-capture={film}",
    ]
    browser = chromium.browser_type.launch(
        executable_path=find_chromium(), args=flags, timeout=LIMIT_MS
    )
    yield Thumb(open_phone(browser).new_page(), live_server.url), lots
    browser.close()


def test_five_crates_are_moved_without_a_touch(filmed):
    thumb, lots = filmed
    sign_in(thumb)
    here = builders.place("B2")
    thumb.page.goto(f"{thumb.address}/scan/put-away?here={here.pk}")
    thumb.page.get_by_role("button", name="Use the camera").click()
    until = time.monotonic() + LIMIT_S
    while Lot.objects.filter(position=here).count() < len(lots):
        assert time.monotonic() < until
        thumb.page.wait_for_timeout(100)


# Stands in for a phone's own detector and lamp, which no machine of ours has.
PHONE_PARTS = """
globalThis.BarcodeDetector = class {
  static async getSupportedFormats() { return ["qr_code"]; }
  async detect() { return [{ rawValue: globalThis.inSight }]; }
};
MediaStreamTrack.prototype.getCapabilities = () => ({ torch: true });
MediaStreamTrack.prototype.applyConstraints = async (asked) => { globalThis.asked = asked; };
"""


def test_a_phone_that_reads_codes_itself_sends_no_picture_and_lights_its_lamp(filmed):
    thumb, lots = filmed
    thumb.page.add_init_script(PHONE_PARTS)
    sign_in(thumb)
    here = builders.place("B2")
    pictures: list[str] = []
    thumb.page.on("request", lambda request: pictures.append(request.url))
    thumb.page.goto(f"{thumb.address}/scan/put-away?here={here.pk}")
    thumb.page.evaluate(f"globalThis.inSight = '{lots[0].pk}'")
    thumb.page.get_by_role("button", name="Use the camera").click()
    expect(thumb.page.locator("#said .done")).to_contain_text("Kale")
    assert Lot.objects.get(pk=lots[0].pk).position == here
    assert not [url for url in pictures if "scan/read" in url]
    thumb.page.get_by_role("button", name="Flashlight").click()
    assert thumb.page.evaluate("globalThis.asked.advanced[0].torch") is True
    expect(thumb.page.locator("#can-read b")).to_have_text("yes")


def test_a_scanner_that_types_and_a_hand_that_does(thumb):
    lots = builders.make_lots(12, 12, at=builders.timezone_now())
    thumb.open("/scan")
    thumb.tap("Put away or move here", role="link")
    page = thumb.page
    for text in (builders.place("B3").pk, lots[0].pk, lots[1].pk.lower()):
        page.keyboard.type(text)
        page.keyboard.press("Enter")
        expect(page.get_by_label("Scan, or type the code")).to_have_value("")
        thumb.wait_for_the_answer()
    assert Lot.objects.filter(position=builders.place("B3")).count() == 2
    thumb.check()


def test_what_is_typed_after_a_question_is_about_what_was_typed(thumb):
    now = builders.timezone_now()
    builders.make_lot(at=now - timedelta(days=4), position=builders.place("A2"))
    asked, apple = builders.make_lot(at=now), builders.make_cases(18, at=now)[0]
    builders.Outlet.objects.update(own_grown_only=False)
    thumb.open("/scan/market")
    page, box = thumb.page, thumb.page.get_by_label("Scan, or type the code")
    for text in (asked.pk, apple.pk):
        box.fill(text)
        page.keyboard.press("Enter")
        expect(box).to_have_value("")
        thumb.wait_for_the_answer()
    expect(page.locator("#said .done")).to_contain_text("Apple")
    assert Lot.objects.get(pk=asked.pk).state == Lot.State.IN_PLACE
    box.fill(asked.pk)
    page.keyboard.press("Enter")
    thumb.tap("Take it all the same")
    expect(page.locator("#said .done")).to_contain_text("Kale")
    page.locator("#said a", has_text="Undo").click()
    expect(page.locator("#said")).to_contain_text("Undone")
    assert Lot.objects.get(pk=asked.pk).state == Lot.State.IN_PLACE
    thumb.check()


def test_scans_without_an_answer_are_kept_each_under_its_id_and_count_once(thumb):
    lots = builders.make_lots(12, 12, 12, at=builders.timezone_now())
    there, then = builders.place("B3"), builders.place("A2")
    thumb.page.goto(f"{thumb.address}/scan/put-away?here={there.pk}")
    page, box = thumb.page, thumb.page.get_by_label("Scan, or type the code")
    waiting = page.locator("#queue")

    def scan(text: str) -> None:
        box.fill(text)
        page.keyboard.press("Enter")
        expect(box).to_have_value("")
        thumb.wait_for_the_answer()

    page.context.set_offline(True)
    scan(lots[0].pk)
    expect(waiting).to_contain_text(f"1 not sent: Put away or move here: {lots[0].pk}")
    scan(f"HTTP://FARM.LOCAL/P/{then.pk}")
    expect(page.locator("#said")).to_contain_text("Here: Cold room A2")
    scan(lots[1].pk.lower())
    expect(waiting).to_contain_text("3 not sent")
    assert not Action.objects.filter(kind=Action.Kind.MOVE).exists()
    page.context.set_offline(False)
    expect(waiting).to_contain_text(f"✓ Sent: Put away or move here: {lots[0].pk}")
    expect(waiting).not_to_contain_text("not sent")
    moved = [Lot.objects.get(pk=lot.pk).position for lot in lots]
    assert moved == [there, then, builders.place("A1")]

    def lose_the_answer(route):
        route.fetch()
        route.abort()

    page.route("**/scan/put-away", lose_the_answer, times=1)
    scan(lots[2].pk)
    expect(waiting).to_contain_text(f"✓ Sent: Put away or move here: {lots[2].pk}")
    assert Action.objects.filter(kind=Action.Kind.MOVE).count() == 3
    thumb.check()


@pytest.mark.parametrize("mode", ["look", "tag"])
def test_a_scan_that_can_not_wait_stays_in_the_box(thumb, mode):
    """Which crate a tag goes on is only known when it goes on; what is looked up is read now."""
    lot = builders.make_lot(at=builders.timezone_now())
    tag = builders.make_tag(builders.timezone_now())
    thumb.page.goto(f"{thumb.address}/scan/{mode}")
    page, box = thumb.page, thumb.page.get_by_label("Scan, or type the code")
    page.context.set_offline(True)
    code = {"look": lot.pk, "tag": tag.pk}[mode]
    box.fill(code)
    page.keyboard.press("Enter")
    expect(page.locator("#queue")).to_contain_text("No answer")
    expect(box).to_have_value(code)
    page.context.set_offline(False)
    thumb.tap("Send")
    expect(page.locator("#queue")).to_have_text("")
    expect(page.locator("main")).to_contain_text("Kale")
    assert tag.bindings.count() == (mode == "tag")


def test_a_photo_acts_on_every_label_in_it(thumb, tmp_path):
    lots = builders.make_lots(12, 12, 12, at=builders.timezone_now(), position=None)
    shelf = Image.new("L", (1000, 1100), 120)
    for number, lot in enumerate(lots):
        label = LabelText("Kale", lot.pk, (("12 bunches", 0.5),), lot.pk)
        shelf.paste(draw_label(label, 99, 38, 203).convert("L"), (60, 30 + 350 * number))
    file = tmp_path / "shelf.jpg"
    shelf.save(file)
    thumb.page.goto(f"{thumb.address}/scan/put-away?here={builders.place('A3').pk}")
    thumb.page.get_by_label("Or take a photo of one or several labels").set_input_files(file)
    expect(thumb.page.locator("#said .done")).to_have_count(3)
    assert Lot.objects.filter(position=builders.place("A3")).count() == 3


def test_the_check_character_is_verified_while_typing(thumb):
    code = builders.make_lot(at=builders.timezone_now()).pk
    thumb.open("/scan/look")
    box, said = thumb.page.get_by_label("Scan, or type the code"), thumb.page.locator("#typed")
    box.press_sequentially(code[:5])
    expect(said).to_have_text("Type all seven characters")
    box.press_sequentially(code[5:].lower())
    expect(said).to_have_text("✓")
    wrong = "0" if code[-1] != "0" else "2"
    box.fill(code[:-1] + wrong)
    expect(said).to_contain_text("One letter or number is wrong")
