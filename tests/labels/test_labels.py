"""Labels as a printer and a phone see them: rasterised, measured, and read by a real decoder.

QR Code: ISO/IEC 18004 (quiet zone of 4 modules; recovery levels). Printing: at least 4 dots a
module, and wide modules for phones in a dim room (checks g16 to g20). Sheets: section i of the
published dimensions.
"""

from itertools import pairwise, product

import pypdfium2
import pytest
import zxingcpp
from PIL import Image

from inventory.codes import check_character
from inventory.labels import (
    STOCKS,
    LabelText,
    TooSmall,
    compose,
    custom_stock,
    draw_outline,
    write_pdf,
)
from inventory.labels.compose import MM_PER_INCH, QUIET_MODULES, qr_modules, width_of
from inventory.labels.draw import draw

CODE = "7K3M9Q" + check_character("7K3M9Q")
LINK = f"HTTP://FARM.LOCAL:8000/L/{CODE}"
NAMES = {
    "short": "Kale",
    "long": "Carrot, bunched with tops, of the second sowing, washed and sorted by size",
    "accents": "Jalapeño crème, Ñandú, acelga, açaí, Kürbis",
    "one word": "Donaudampfschifffahrtsgesellschaftskapitänsgemüse",
}


def label(headline="Kale", **changes) -> LabelText:
    values = {
        "headline": headline,
        "code": CODE,
        "lines": (
            ("cut Wed 25 Nov", 0.75), ("12 bunches", 0.55), ("Campo del arroyo norte", 0.45),
            ("A2", 0.45), ("about until Sat 5 Dec at 2 °C", 0.36),
        ),
        "link": LINK,
    }  # fmt: skip
    return LabelText(**values | changes)


def read_all(image: Image.Image) -> list[str]:
    found = zxingcpp.read_barcodes(image, formats=zxingcpp.BarcodeFormat.QRCodeModel2)
    return [barcode.text for barcode in found]


ALL = [*STOCKS.values(), custom_stock(40, 30), custom_stock(150, 40)]


@pytest.mark.parametrize("stock", ALL, ids=lambda stock: stock.key)
@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES)
def test_every_stock_is_read_back_from_its_pdf(tmp_path, stock, name):
    labels = [label(name, link=LINK[:-7] + code) for code in _codes(stock.per_page)]
    file = tmp_path / "labels.pdf"
    write_pdf(file, labels, stock)
    page = pypdfium2.PdfDocument(file)[0]
    width, height = page.get_size()
    assert (width / 72 * MM_PER_INCH, height / 72 * MM_PER_INCH) == (
        pytest.approx(stock.page_w, abs=0.1), pytest.approx(stock.page_h, abs=0.1),
    )  # fmt: skip
    raster = page.render(scale=300 / 72).to_pil().convert("L")
    for made, (x, y) in zip(labels, stock.cells(), strict=True):
        dot = 300 / MM_PER_INCH
        box = (x, y, x + stock.label_w, y + stock.label_h)
        found = read_all(raster.crop(tuple(round(side * dot) for side in box)))
        assert set(found) == {made.link}
        assert len(found) == len(compose(made, stock.label_w, stock.label_h, 300).symbols)


def _codes(count: int) -> list[str]:
    bodies = ("".join(pair) for pair in product("ABCDEF", repeat=6))
    return [body + check_character(body) for body, _ in zip(bodies, range(count), strict=False)]


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("stock", ALL, ids=lambda stock: stock.key)
@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES)
def test_nothing_leaves_the_label_overlaps_or_is_cut_off(stock, name, dpi):
    made = label(name)
    composed = compose(made, stock.label_w, stock.label_h, dpi)
    for symbol in composed.symbols:
        side = symbol.dots * len(symbol.modules)
        quiet = symbol.dots * QUIET_MODULES
        assert min(symbol.x, symbol.y) >= quiet
        assert symbol.x + side + quiet <= composed.width
        assert symbol.y + side + quiet <= composed.height
        for words in composed.words:
            apart_x = (
                words.x >= symbol.x + side + quiet
                or words.x + width_of(words.text, words.size) <= symbol.x - quiet
            )
            apart_y = words.y >= symbol.y + side + quiet or words.y + words.size <= symbol.y - quiet
            assert apart_x or apart_y
    for words in composed.words:
        assert words.x + width_of(words.text, words.size) <= composed.width
        assert words.y + words.size <= composed.height
    told = "".join(words.text for words in composed.words).replace(" ", "")
    wanted = "".join([made.headline, made.code, *(text for text, _ in made.lines)])
    assert sorted(told) == sorted(wanted.replace(" ", ""))


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("stock", ALL, ids=lambda stock: stock.key)
def test_modules_are_whole_dots_and_wide_enough(stock, dpi):
    """At least 0.5 mm and 4 dots."""
    symbol = compose(label(), stock.label_w, stock.label_h, dpi).symbols[0]
    assert symbol.dots >= 4
    assert symbol.dots * MM_PER_INCH / dpi >= 0.5


def test_a_module_measured_in_the_raster_is_what_was_asked():
    stock = STOCKS["letter-2x5"]
    composed = compose(label(), stock.label_w, stock.label_h, 300)
    image = draw(composed).convert("L")
    symbol = composed.symbols[0]
    row = [image.getpixel((x, symbol.y)) for x in range(symbol.x, symbol.x + 8 * symbol.dots)]
    assert row == [0] * 7 * symbol.dots + [255] * symbol.dots  # the finder's upper edge
    quiet = range(symbol.x - QUIET_MODULES * symbol.dots, symbol.x)
    assert all(image.getpixel((x, symbol.y)) == 255 for x in quiet)


def test_two_symbols_stand_at_opposite_ends_where_there_is_room():
    counts = {
        stock.key: len(compose(label(), stock.label_w, stock.label_h, 300).symbols)
        for stock in STOCKS.values()
    }
    assert counts == dict.fromkeys(STOCKS, 2) | {"roll-57x32": 1}


@pytest.mark.parametrize(
    ("text", "modules"),
    [("HTTPS://FARM.EXAMPLE/L/7K3M9Q", 25), (LINK, 29), (CODE, 21)],
)
def test_capitals_keep_the_symbol_small(text, modules):
    """Checks g16 and g18: 29 alphanumeric characters at level Q are version 2, 25 modules."""
    assert len(qr_modules(text)) == modules


@pytest.mark.parametrize("stock", STOCKS.values(), ids=STOCKS)
def test_sheets_close_and_labels_never_overlap(stock):
    """Checks i1 to i3."""
    cells = list(stock.cells())
    assert len(set(cells)) == stock.per_page
    for x, y in cells:
        assert x >= 0
        assert y >= 0
        assert x + stock.label_w <= stock.page_w + 0.2
        assert y + stock.label_h <= stock.page_h + 0.6
    for axis, size in ((0, stock.label_w), (1, stock.label_h)):
        places = sorted({cell[axis] for cell in cells})
        assert all(after - before >= size - 1e-9 for before, after in pairwise(places))


def test_a_half_used_sheet_starts_at_its_first_free_label_and_can_be_nudged(tmp_path):
    stock = STOCKS["a4-2x7"]
    file = tmp_path / "labels.pdf"
    write_pdf(file, [label()] * 3, stock, start=13, nudge_mm=(1.0, -0.5))
    pages = pypdfium2.PdfDocument(file)
    assert len(pages) == 2
    dot = 300 / MM_PER_INCH
    first = pages[0].render(scale=300 / 72).to_pil().convert("L")
    x, y = list(stock.cells())[12]
    above = first.crop((0, 0, first.width, round((y - 0.6) * dot)))
    assert above.getextrema() == (255, 255)
    left = first.crop((0, 0, round((x + 1.0) * dot) - 1, first.height))
    assert left.getextrema() == (255, 255)
    with pytest.raises(ValueError, match="1 to 14"):
        write_pdf(file, [label()], stock, start=15)


def test_the_test_page_outlines_every_label(tmp_path):
    file = tmp_path / "outline.pdf"
    stock = STOCKS["letter-3x10"]
    draw_outline(file, stock)
    page = pypdfium2.PdfDocument(file)[0].render(scale=300 / 72).to_pil().convert("L")
    dot = 300 / MM_PER_INCH
    for x, y in stock.cells():
        corner = page.crop((round(x * dot), round(y * dot), round(x * dot) + 3, round(y * dot) + 3))
        assert corner.getextrema()[0] < 128


@pytest.mark.parametrize(("width", "height"), [(20, 20), (25, 25), (20, 28)])
def test_a_label_without_room_is_refused_and_never_printed_unreadable(width, height):
    with pytest.raises(TooSmall):
        compose(label(NAMES["long"]), width, height, 203)


@pytest.mark.parametrize(("width", "height"), [(19, 50), (50, 301)])
def test_an_impossible_size_is_refused(width, height):
    with pytest.raises(ValueError, match=r"20\.0 to 300\.0"):
        custom_stock(width, height)
