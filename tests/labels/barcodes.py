"""Pictures of the barcodes of cases, drawn by zxing-cpp's own writer, and photos of them."""

import zxingcpp
from PIL import Image

_ITEM = "(01)09520123456788(13)250714(10)ABC123"
# Symbols of one row, and what they hold.
LINEAR = [
    ("Code128", _ITEM),
    ("Code128", f"{_ITEM}(15)260714(3102)001810"),
    ("DataBarExp", _ITEM),
    ("DataBarLtd", "09520123456788"),
    ("DataBar", "09520123456788"),
    ("ITF", "12345678901231"),
    ("EAN13", "1234567890128"),
    ("UPCA", "123456789012"),
]
MARGIN = 40
BOARD = 120  # the grey a case is photographed on


def drawn(kind: str, text: str, scale: int = 3) -> Image.Image:
    """Return a symbol on its white label; a text with brackets is a GS1 element string."""
    gs1 = {"gs1": True} if text.startswith("(") else {}
    symbol = zxingcpp.create_barcode(text, getattr(zxingcpp.BarcodeFormat, kind), **gs1)
    bars = Image.fromarray(zxingcpp.write_barcode_to_image(symbol, scale=scale)).convert("L")
    label = Image.new("L", (bars.width + 2 * MARGIN, bars.height + 2 * MARGIN), 255)
    label.paste(bars, (MARGIN, MARGIN))
    return label


def photo(*labels: Image.Image, turned: float = 0) -> Image.Image:
    """Return labels one above the other on a case, all turned. turned: degrees, to the left."""
    width, height = max(label.width for label in labels), sum(label.height for label in labels)
    case = Image.new("L", (width, height), BOARD)
    top = 0
    for label in labels:
        case.paste(label, (0, top))
        top += label.height
    seen = case.rotate(turned, Image.Resampling.BICUBIC, expand=True, fillcolor=BOARD)
    board = Image.new("L", (seen.width + 200, seen.height + 200), BOARD)
    board.paste(seen, (100, 100))
    return board
