"""What a picture is turned into so that a damaged symbol can be read: grey in, grey out."""

from collections.abc import Callable

from PIL import Image, ImageChops, ImageFilter, ImageOps

_GREYS = 256
_MEAN_PIXELS = 31  # across, of the surroundings a pixel is compared with


def darkest(image: Image.Image, size: int) -> Image.Image:
    """Return the darkest of the size x size pixels around each: Pillow's MinFilter, but fast."""
    return _ranked(image, size, ImageChops.darker, _GREYS - 1)


def lightest(image: Image.Image, size: int) -> Image.Image:
    """Return the lightest of the size x size pixels around each: Pillow's MaxFilter, but fast."""
    return _ranked(image, size, ImageChops.lighter, 0)


def _ranked(
    image: Image.Image,
    size: int,
    pick: Callable[[Image.Image, Image.Image], Image.Image],
    never_picked: int,
) -> Image.Image:
    """Return a picture picked from itself and itself shifted, first across and then down."""
    image = ImageOps.expand(image, size // 2, never_picked)
    for across, down in ((1, 0), (0, 1)):
        seen = 1
        while seen < size:
            step = min(seen, size - seen)
            image = pick(image, image.crop((across * step, down * step, *image.size)))
            seen += step
    return image


def against_surroundings(image: Image.Image) -> Image.Image:
    """Return black where a picture is no lighter than the mean of 31 x 31 pixels, else white."""
    mean = image.filter(ImageFilter.BoxBlur(_MEAN_PIXELS // 2))
    lighter_by = ImageChops.subtract(image, mean)
    return lighter_by.point([0] + [_GREYS - 1] * (_GREYS - 1))
