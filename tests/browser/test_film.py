"""A film of eight crates, on a phone that has no reader of its own."""

import base64
import io

import pytest
from PIL import Image
from playwright.sync_api import expect

from inventory.labels import LabelText, draw_label
from inventory.models import Lot
from tests import builders

CRATES = 8
SHOWN_MS, BETWEEN_MS = 1200, 400
TRIES = 3

# A camera that sees what the page last held up: a picture of the list, or the floor between them.
CAMERA = """
delete globalThis.BarcodeDetector;
const lens = Object.assign(document.createElement("canvas"), { width: 1280, height: 720 });
const seen = lens.getContext("2d");
navigator.mediaDevices.getUserMedia = async () => lens.captureStream(30);
const load = (address) => new Promise((done) => {
  const picture = new Image();
  picture.onload = () => done(picture);
  picture.src = address;
});
globalThis.show = async ({ floor, labels, shown, between }) => {
  const bare = await load(floor), all = await Promise.all(labels.map(load));
  const hold = (picture, ms) => new Promise((done) => {
    seen.drawImage(picture, 0, 0);
    setTimeout(done, ms);
  });
  await hold(bare, between);
  for (const picture of all) {
    await hold(picture, shown);
    await hold(bare, between);
  }
};
"""


def address_of(picture: Image.Image) -> str:
    out = io.BytesIO()
    picture.convert("RGB").save(out, "JPEG", quality=85)
    return f"data:image/jpeg;base64,{base64.b64encode(out.getvalue()).decode()}"


def floor() -> Image.Image:
    """Concrete: grain everywhere, which costs a reader most of all that shows no label."""
    return Image.effect_noise((640, 360), 50).resize((1280, 720), Image.Resampling.BICUBIC)


def held_up(lot: Lot, host: str) -> Image.Image:
    label = LabelText("Kale", lot.pk, (("12 bunches", 0.5),), f"{host.upper()}/L/{lot.pk}")
    picture = floor()
    drawn = draw_label(label, 101.6, 50.8, 203).convert("L")
    picture.paste(drawn.rotate(8, expand=True, fillcolor=120), (200, 120))
    return picture


def test_eight_crates_held_up_one_after_another_are_all_taken_in_one_pass(thumb):
    """Each for 1.2 s, and 0.4 s of bare floor between them. A machine that is busy with something
    else may miss one: then eight others are held up, twice more at most."""
    page, here = thumb.page, builders.place("B2")
    page.add_init_script(CAMERA)
    page.goto(f"{thumb.address}/scan/put-away?here={here.pk}")
    page.get_by_role("button", name="Use the camera").click()
    expect(page.locator("#view")).to_be_visible()
    expect(page.locator("#can-read b")).to_contain_text("no, pictures go")
    taken = []
    for _ in range(TRIES):
        lots = builders.make_lots(*[12] * CRATES, at=builders.timezone_now())
        labels = [address_of(held_up(lot, thumb.address)) for lot in lots]
        film = {"floor": address_of(floor()), "labels": labels}
        page.evaluate("(film) => show(film)", film | {
            "shown": SHOWN_MS, "between": BETWEEN_MS,
        })  # fmt: skip
        page.wait_for_timeout(1000)
        taken.append(Lot.objects.filter(pk__in=[lot.pk for lot in lots], position=here).count())
        if taken[-1] == CRATES:
            return
    pytest.fail(f"of {CRATES} crates these were taken: {taken}")
