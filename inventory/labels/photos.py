"""A photo made small enough to keep: what a kitchen shows of a crate."""

import io

from PIL import Image

from inventory.labels.read import open_picture

MOST_KEPT_BYTES = 200_000
# Tried in this order until one is small enough: first coarser, then smaller. The last always is.
_SIDES = (1600, 1200, 900, 600, 300)
_QUALITIES = (80, 65, 50)


def small_photo(data: bytes) -> bytes:
    """Return a picture as a JPEG of less than 200 kB: its dots and nothing else of it.

    Where and when it was taken, with which phone and what was written into it stay behind.
    Raises NoPicture.
    """
    image = open_picture(data, "RGB", _SIDES[0])
    for side in _SIDES:
        image.thumbnail((side, side))
        bare = Image.new("RGB", image.size)
        bare.paste(image)
        for quality in _QUALITIES:
            made = _jpeg(bare, quality)
            if len(made) < MOST_KEPT_BYTES:
                return made
    raise AssertionError("a picture of 300 by 300 dots is smaller than that")


def _jpeg(image: Image.Image, quality: int) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=quality, optimize=True)
    return out.getvalue()
