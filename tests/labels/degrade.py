"""What a wet box, a bad light and a shaking hand do to a picture of a label.

Each recipe takes a grey picture and a seeded random.Random. Lengths are in modules of the
symbol, shares are of the picture's area.
"""

import io
import math
import random

import numpy as np
from PIL import Image, ImageDraw, ImageEnhance, ImageFilter

PIXELS_A_MODULE = 94 / 29  # a symbol of 29 modules is at least 94 pixels wide


def picture(image: Image.Image, dots_a_module: int) -> Image.Image:
    """Return a label as a phone sees it: grey, at the smallest size the promise is made for."""
    scale = PIXELS_A_MODULE / dots_a_module
    size = (round(image.width * scale), round(image.height * scale))
    seen = image.convert("L").resize(size, Image.Resampling.BOX)
    board = Image.new("L", (size[0] + 80, size[1] + 80), 120)
    board.paste(seen, (40, 40))
    return board


def clean(image, chance):
    return image


def jpeg_30(image, chance):
    out = io.BytesIO()
    image.save(out, "JPEG", quality=30)
    return Image.open(out).convert("L")


def blur(image, chance):
    return image.filter(ImageFilter.GaussianBlur(0.3 * PIXELS_A_MODULE))


def dim(image, chance):
    """A quarter of the light, and the grain a phone's picture then has."""
    dark = np.asarray(ImageEnhance.Brightness(image).enhance(0.25), float)
    grain = np.random.default_rng(chance.randrange(2**32)).normal(0, 4, dark.shape)
    return Image.fromarray(np.clip(dark + grain, 0, 255).astype("uint8"))


def turned(image, chance):
    return image.rotate(chance.uniform(4, 90), expand=True, fillcolor=120)


def tilted(image, chance):
    """Seen from 45 degrees aside, and turned any way."""
    width, height = image.size
    shrink = width * (1 - math.cos(math.radians(45))) / 2
    squeeze = height * 0.12
    corners = (
        (shrink, squeeze),
        (width - shrink, 0),
        (width - shrink, height),
        (shrink, height - squeeze),
    )
    plain = ((0, 0), (width, 0), (width, height), (0, height))
    seen = image.transform(
        image.size, Image.Transform.PERSPECTIVE, _perspective(corners, plain),
        Image.Resampling.BICUBIC, fillcolor=120,
    )  # fmt: skip
    return seen.rotate(chance.uniform(0, 360), expand=True, fillcolor=120)


def _perspective(target, source) -> tuple[float, ...]:
    rows, values = [], []
    for (x, y), (u, v) in zip(target, source, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        values += [u, v]
    return tuple(np.linalg.solve(np.array(rows, float), np.array(values, float)))


def glare(image, chance):
    """A bright spot a sixth of the label wide."""
    shine = Image.new("L", image.size, 0)
    radius = image.width / 12
    x, y = chance.uniform(0, image.width), chance.uniform(0, image.height)
    ImageDraw.Draw(shine).ellipse((x - radius, y - radius, x + radius, y + radius), fill=140)
    shine = shine.filter(ImageFilter.GaussianBlur(radius / 2))
    return Image.composite(Image.new("L", image.size, 255), image, shine)


def _label_box(image):
    return 40, 40, image.width - 40, image.height - 40


def tape(image, chance):
    """An opaque strip over 15 % of the label, across its long side."""
    left, top, right, bottom = _label_box(image)
    width = 0.15 * (right - left)
    x = chance.uniform(left, right - width)
    seen = image.copy()
    ImageDraw.Draw(seen).rectangle((x, top, x + width, bottom), fill=150)
    return seen


def torn(image, chance):
    """A torn corner, a tenth of the label."""
    left, top, right, bottom = _label_box(image)
    leg = math.sqrt(2 * 0.10 * (right - left) * (bottom - top))
    x, y = chance.choice([(left, top), (right, top), (left, bottom), (right, bottom)])
    inward = (x + leg if x == left else x - leg, y + leg if y == top else y - leg)
    seen = image.copy()
    ImageDraw.Draw(seen).polygon([(x, y), (inward[0], y), (x, inward[1])], fill=120)
    return seen


def _blobs(image, chance, share, radius, grey):
    """Round spots all over the label until they cover a share of it."""
    left, top, right, bottom = _label_box(image)
    spots = Image.new("L", image.size, 0)
    pen = ImageDraw.Draw(spots)
    while (missing := share - _white_share(spots.crop((left, top, right, bottom)))) > 0:
        # Half of what is still missing at a time, so that few pictures need to be measured.
        count = missing / 2 * (right - left) * (bottom - top) / (math.pi * radius * radius)
        for _ in range(max(1, int(count))):
            size = chance.uniform(0.6, 1.4) * radius
            x, y = chance.uniform(left, right), chance.uniform(top, bottom)
            pen.ellipse((x - size, y - size, x + size, y + size), fill=255)
    return Image.composite(Image.new("L", image.size, grey), image, spots)


def _white_share(image) -> float:
    return image.histogram()[255] / (image.width * image.height)


def smear(image, chance):
    """One smear over 15 % of the label, all of it on the label, twice as long as wide."""
    left, top, right, bottom = _label_box(image)
    area = 0.15 * (right - left) * (bottom - top)
    long = math.sqrt(area * 8 / math.pi)
    spot = Image.new("L", image.size, 0)
    x = chance.uniform(left + long / 2, right - long / 2)
    y = chance.uniform(top + long / 2, bottom - long / 2)
    box = (x - long / 2, y - long / 4, x + long / 2, y + long / 4)
    ImageDraw.Draw(spot).ellipse(box, fill=255)
    spot = spot.rotate(chance.uniform(0, 180), center=(x, y))
    return Image.composite(Image.new("L", image.size, 60), image, spot)


def mud(image, chance):
    """Splashes of about 8 mm over 5 % of the label. Finer ones would hide more symbols."""
    return _blobs(image, chance, 0.05, 5.0 * PIXELS_A_MODULE, 50)


def frost(image, chance):
    """Specks of about a millimetre over 5 % of the label."""
    return _blobs(image, chance, 0.05, 0.5 * PIXELS_A_MODULE, 235)


# Recipe: the share that must be read. Set by the project, for two symbols of 26 mm or more.
PROMISED = {
    clean: 1.0, jpeg_30: 1.0, blur: 1.0, dim: 1.0, tilted: 1.0, glare: 1.0, turned: 1.0,
    tape: 0.95, torn: 0.95, smear: 0.95, mud: 0.80, frost: 0.65,
}  # fmt: skip


def seeded(name: str) -> random.Random:
    return random.Random(f"labels-{name}")
