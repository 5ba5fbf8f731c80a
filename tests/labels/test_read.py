"""What a picture may be, and that nothing of it is kept."""

import io
import time

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from inventory.labels import draw_label
from inventory.labels.read import MOST_BYTES, NoPicture, open_picture, read_symbols
from tests.labels import degrade
from tests.labels.test_degraded import made
from tests.labels.test_labels import LINK, label


def encoded(image: Image.Image, kind: str, **options) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


def shot() -> Image.Image:
    return draw_label(label(), 99, 38, 203).convert("L")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_picture_of_each_kind_is_read(kind):
    assert read_symbols(open_picture(encoded(shot(), kind))) == [LINK]


# Made when their test runs: some take a second.
WRONG = {
    "big": ("size", lambda: encoded(shot(), "JPEG").ljust(MOST_BYTES + 1, b"\0")),
    # Below Pillow's own limit.
    "wide": ("size", lambda: encoded(Image.new("1", (8000, 7500)), "PNG")),
    "wide JPEG": ("size", lambda: encoded(Image.new("L", (8000, 7000)), "JPEG")),
    # Four of 7000 by 7000 took 2.4 GB.
    "wide WebP": ("size", lambda: encoded(Image.new("L", (4000, 3500)), "WEBP")),
    "bomb": ("size", lambda: encoded(Image.new("1", (12_000, 12_000)), "PNG")),
    "huge bomb": ("size", lambda: encoded(Image.new("1", (30_000, 30_000)), "PNG")),
    "gif": ("kind", lambda: encoded(shot(), "GIF")),
    "bmp": ("kind", lambda: encoded(shot(), "BMP")),
    "torn": ("kind", lambda: encoded(shot(), "PNG")[:200]),
    "text": ("kind", lambda: b"no picture"),
    "empty": ("kind", lambda: b""),
}


@pytest.mark.parametrize(("reason", "picture"), WRONG.values(), ids=WRONG)
def test_what_can_not_be_looked_at_is_refused_with_its_reason(reason, picture):
    with pytest.raises(NoPicture) as refusal:
        open_picture(picture())
    assert refusal.value.reason == reason


def test_a_photo_of_any_phone_is_taken():
    """Twelve million dots in each kind, and 48 million in the one that shrinks as it is read."""
    for kind, size in (("JPEG", (8000, 6000)), ("WEBP", (4000, 3000)), ("PNG", (4000, 3000))):
        assert max(open_picture(encoded(Image.new("L", size), kind)).size) <= 2000


def test_a_damaged_label_takes_a_thorough_look_and_a_sound_one_does_not():
    chance = degrade.seeded("thorough")
    frosted = [degrade.frost(degrade.picture(*made("7K3M9Q4")), chance) for _ in range(20)]
    assert read_symbols(shot(), thorough=False) == [LINK]
    quickly = sum(read_symbols(seen, thorough=False) == [LINK] for seen in frosted)
    assert quickly < sum(read_symbols(seen) == [LINK] for seen in frosted)


@pytest.mark.parametrize("size", [(1, 1), (20, 2000), (21, 21), (2000, 40)], ids=str)
def test_nothing_is_read_in_a_picture_of_any_shape_without_a_label(size):
    assert read_symbols(Image.new("L", size, 255)) == []


def test_a_picture_without_a_label_costs_a_few_times_what_doubling_it_does():
    """CPU time. With Pillow's own rank filters a thorough look cost 29 times as much, now 6."""
    frame = Image.new("L", (1280, 720), 128)
    doubling = cpu_s(lambda: frame.resize((2560, 1440), Image.Resampling.BICUBIC))
    assert cpu_s(lambda: read_symbols(frame)) < 12 * doubling
    assert cpu_s(lambda: read_symbols(frame, thorough=False)) < 4 * doubling


def cpu_s(doing) -> float:
    """Return the least CPU time of five. [s]"""
    took = []
    for _ in range(5):
        start = time.process_time()
        doing()
        took.append(time.process_time() - start)
    return min(took)


def test_a_photo_taken_sideways_is_turned():
    image, exif = Image.new("L", (40, 20), 255), Image.Exif()
    exif[0x0112] = 6
    assert open_picture(encoded(image, "JPEG", exif=exif)).size == (20, 40)


def test_nothing_of_an_upload_is_kept(signed_in, settings, tmp_path):
    settings.FILE_UPLOAD_TEMP_DIR = str(tmp_path)
    before = sorted(settings.DATA_DIR.rglob("*"))
    noise = Image.effect_noise((2400, 2400), 100)
    data = encoded(noise, "PNG")
    assert len(data) > settings.FILE_UPLOAD_MAX_MEMORY_SIZE  # so it goes through a file
    photo = SimpleUploadedFile("shelf.png", data, "image/png")
    assert signed_in.post("/scan/read", {"photo": photo}).json() == {"texts": []}
    assert list(tmp_path.iterdir()) == []
    assert sorted(settings.DATA_DIR.rglob("*")) == before
