"""What a picture may be, and that nothing of it is kept."""

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from inventory.labels import draw_label
from inventory.labels.read import MOST_BYTES, NoPicture, open_picture, read_symbols
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


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (encoded(shot(), "JPEG").ljust(MOST_BYTES + 1, b"\0"), "size"),
        (encoded(Image.new("1", (8000, 7500)), "PNG"), "size"),  # below Pillow's own limit
        (encoded(Image.new("1", (12_000, 12_000)), "PNG"), "size"),
        (encoded(Image.new("1", (30_000, 30_000)), "PNG"), "size"),
        (encoded(shot(), "GIF"), "kind"),
        (encoded(shot(), "BMP"), "kind"),
        (encoded(shot(), "PNG")[:200], "kind"),
        (b"no picture", "kind"),
        (b"", "kind"),
    ],
    ids=["big", "wide", "bomb", "huge bomb", "gif", "bmp", "torn", "text", "empty"],
)
def test_what_can_not_be_looked_at_is_refused_with_its_reason(data, reason):
    with pytest.raises(NoPicture) as refusal:
        open_picture(data)
    assert refusal.value.reason == reason


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
