"""Finds our labels in a picture: what a phone sends of a crate, or of a whole shelf."""

import io
import warnings
from collections.abc import Iterator
from itertools import islice

import zxingcpp
from PIL import Image, ImageFilter, ImageOps, UnidentifiedImageError

from inventory.labels.filters import against_surroundings, darkest, lightest

MOST_BYTES = 20_000_000
MOST_PIXELS = 50_000_000
# Only a JPEG is made smaller while it is read; of another kind a small file may need a gigabyte.
MOST_PIXELS_AS_THEY_ARE = 13_000_000
LONGEST_SIDE = 2000
_SMALLEST_SIDE = 21  # modules of the smallest symbol (ISO/IEC 18004)
_QUICK = 2


class NoPicture(ValueError):
    """The upload is no picture that can be used now.

    `reason`: "size", "kind", "no-label", or "busy" where others are looked at.
    """

    def __init__(self, reason: str):
        super().__init__(reason)
        self.reason = reason


def open_picture(data: bytes, mode: str = "L", longest: int = LONGEST_SIDE) -> Image.Image:
    """Return a picture upright and no longer than so many pixels. Raises NoPicture.

    mode: as Pillow has it, "L" for grey, "RGB" for colour.
    """
    if len(data) > MOST_BYTES:
        raise NoPicture("size")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            image = Image.open(io.BytesIO(data), formats=("JPEG", "PNG", "WEBP"))
            shrinks = image.format == "JPEG"
            most = MOST_PIXELS if shrinks else MOST_PIXELS_AS_THEY_ARE
            if image.width * image.height > most:
                raise NoPicture("size")
            image.draft(mode, (longest, longest))
            upright = ImageOps.exif_transpose(image.convert(mode))
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise NoPicture("size") from error
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError) as error:
        if isinstance(error, NoPicture):
            raise
        raise NoPicture("kind") from error
    upright.thumbnail((longest, longest))
    return upright


def read_symbols(image: Image.Image, thorough: bool = True) -> list[str]:
    """Return the texts of the QR codes in a grey picture, each once, as they are found.

    thorough: also try what only a damaged label needs. A camera shows the same label many times,
    mostly undamaged, and most of its frames show none: those should cost little.
    Only QR Code Model 2 is asked for: a torn one can look like another kind.
    """
    if min(image.size) < _SMALLEST_SIDE:
        return []
    for seen in islice(_attempts(image), None if thorough else _QUICK):
        found = zxingcpp.read_barcodes(seen, formats=zxingcpp.BarcodeFormat.QRCodeModel2)
        texts = list(dict.fromkeys(barcode.text for barcode in found if barcode.valid))
        if texts:
            return texts
    return []


def _attempts(image: Image.Image) -> Iterator[Image.Image]:
    """Yield a picture as it is, and then as each kind of damage is best seen through.

    Order and steps were chosen by trial on degraded labels: double size for blur, specks of
    frost filled in, shadows evened out, dark splashes thinned, edges sharpened.
    """
    yield image
    if max(image.size) <= LONGEST_SIDE:
        double = image.resize((image.width * 2, image.height * 2), Image.Resampling.BICUBIC)
        yield double
        yield darkest(double, 3)
        yield lightest(darkest(double, 5), 5)
        yield against_surroundings(double)
    yield lightest(image, 3)
    yield image.filter(ImageFilter.UnsharpMask(radius=3, percent=300, threshold=0))
