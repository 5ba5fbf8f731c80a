"""A photo is kept small and bare."""

import io
import random

import pytest
from PIL import Image

from inventory.labels.photos import MOST_KEPT_BYTES, small_photo
from inventory.labels.read import NoPicture

MADE_BY, TURNED = 271, 274  # tags of EXIF, from memory


def noise(width: int, height: int) -> Image.Image:
    """What no JPEG makes small."""
    return Image.frombytes("RGB", (width, height), random.Random(1).randbytes(3 * width * height))


def sent(image: Image.Image, kind: str = "JPEG", **options) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


def opened(data: bytes) -> Image.Image:
    return Image.open(io.BytesIO(data))


def test_even_noise_is_kept_below_200_kb():
    kept = small_photo(sent(noise(1000, 700), quality=90))
    assert len(kept) < MOST_KEPT_BYTES
    assert opened(kept).format == "JPEG"
    assert max(opened(kept).size) >= 300


def test_a_photo_of_a_plain_crate_keeps_its_dots_and_is_not_made_larger():
    kept = opened(small_photo(sent(Image.new("RGB", (2400, 1800), "green"))))
    assert kept.size == (1600, 1200)
    assert kept.getpixel((800, 600)) == pytest.approx((0, 128, 0), abs=3)
    assert opened(small_photo(sent(Image.new("RGB", (40, 30))))).size == (40, 30)


def test_where_and_with_what_it_was_taken_stays_behind_and_it_stands_upright():
    exif = Image.Exif()
    exif[MADE_BY], exif[TURNED] = "Phone of Ana", 6
    told = {"exif": exif, "comment": b"in the yard", "icc_profile": b"profile"}
    data = sent(Image.new("RGB", (60, 20), "green"), **told)
    kept = small_photo(data)
    for written in (b"Phone of Ana", b"in the yard"):
        assert written in data
        assert written not in kept
    assert set(opened(kept).info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    assert opened(kept).size == (20, 60)


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_a_picture_that_can_be_seen_through_is_kept_too(kind):
    assert opened(small_photo(sent(Image.new("RGBA", (30, 30), "#00800080"), kind))).mode == "RGB"


@pytest.mark.parametrize("data", [b"", b"no picture", sent(noise(40, 40))[:900]])
def test_what_is_no_picture_is_refused(data):
    with pytest.raises(NoPicture):
        small_photo(data)
