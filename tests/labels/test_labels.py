"""Labels as a printer and a phone see them: rasterised, measured, and read by a real decoder.

QR Code, from memory of ISO/IEC 18004: a quiet zone of 4 modules. Symbol sizes computed from the
standard's codeword table with another encoder (segno). Sheets: from memory, written out below.
"""

from itertools import pairwise, product

import numpy as np
import pypdfium2
import pytest
import qrcode
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
            ("A2", 0.45), ("keeps until about Sat 5 Dec at 2 °C", 0.36),
        ),
        "link": LINK,
        "if_room": (("quality, not safety", 0.36),),
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


# From memory, confirmed to about 1 mm by an open collection of label dimensions:
# page, columns and rows, label, left and top margin, pitch. [mm]
PUBLISHED_SHEETS = {
    "a4-3x8": (210, 297, 3, 8, 70, 37, 0, 0.5, 70, 37),
    "a4-2x7": (210, 297, 2, 7, 99.1, 38.1, 4.65, 15.15, 101.6, 38.1),
    "a4-3x7": (210, 297, 3, 7, 63.5, 38.1, 7.2, 15.15, 66.0, 38.1),
    "letter-2x5": (215.9, 279.4, 2, 5, 101.6, 50.8, 3.97, 12.7, 106.36, 50.8),
    "letter-3x10": (215.9, 279.4, 3, 10, 66.675, 25.4, 4.7625, 12.7, 69.85, 25.4),
    "roll-102x152": (101.6, 152.4, 1, 1, 101.6, 152.4, 0, 0, 0, 0),
    "roll-57x32": (57.15, 31.75, 1, 1, 57.15, 31.75, 0, 0, 0, 0),
}
DOT = 300 / MM_PER_INCH


@pytest.mark.parametrize("stock", STOCKS.values(), ids=STOCKS)
def test_sheets_close(stock):
    """What we print on fills its page, its margins alike: to 0.2 mm, arithmetic."""
    across = 2 * stock.left + (stock.columns - 1) * stock.pitch_x + stock.label_w
    down = 2 * stock.top + (stock.rows - 1) * stock.pitch_y + stock.label_h
    assert across == pytest.approx(stock.page_w, abs=0.2)
    assert down == pytest.approx(stock.page_h, abs=0.2)


@pytest.mark.parametrize("key", PUBLISHED_SHEETS)
def test_margin_pitch_and_size_are_measured_on_the_printed_outline(tmp_path, key):
    page_w, page_h, columns, rows, width, height, left, top, right, down = PUBLISHED_SHEETS[key]
    file = tmp_path / "outline.pdf"
    draw_outline(file, STOCKS[key])
    page = np.asarray(pypdfium2.PdfDocument(file)[0].render(scale=300 / 72).to_pil().convert("L"))
    assert page.shape == (pytest.approx(page_h * DOT, abs=2), pytest.approx(page_w * DOT, abs=2))
    for axis, (count, margin, pitch, size) in enumerate(
        [(columns, left, right, width), (rows, top, down, height)]
    ):
        dark = np.flatnonzero((page < 128).mean(axis=axis) > 0.6)
        edges = [margin + n * pitch + side for n in range(count) for side in (0, size)]
        for edge in edges:
            assert np.abs(dark - edge * DOT).min() <= 4, (axis, edge)
        for line in dark:
            assert min(abs(line - edge * DOT) for edge in edges) <= 4, (axis, line / DOT)


@pytest.mark.parametrize("stock", ALL, ids=lambda stock: stock.key)
def test_modules_and_quiet_zones_are_measured_in_the_pdf(tmp_path, stock):
    """From where the decoder found each symbol: module width, and white on all four sides."""
    file = tmp_path / "labels.pdf"
    nudge = 0.6
    write_pdf(file, [label()], stock, nudge_mm=(nudge, nudge))
    page = pypdfium2.PdfDocument(file)[0].render(scale=300 / 72).to_pil().convert("L")
    pixels = np.asarray(page)
    found = zxingcpp.read_barcodes(page, formats=zxingcpp.BarcodeFormat.QRCodeModel2)
    assert found
    x, y = next(stock.cells())
    for symbol in found:
        box = symbol.position
        left, top = box.top_left.x, box.top_left.y
        right, bottom = box.bottom_right.x, box.bottom_right.y
        module = (right - left) / len(qr_modules(LINK))
        assert module / DOT >= 0.49  # 0.5 mm, found to a pixel over the symbol
        assert (bottom - top) == pytest.approx(right - left, abs=2)
        assert left >= (x + nudge) * DOT
        assert top >= (y + nudge) * DOT
        quiet = round(4 * module) - 2
        tall, wide = slice(top, bottom), slice(left, right)
        for strip in (
            pixels[tall, left - quiet : left - 1],
            pixels[tall, right + 2 : right + quiet],
            pixels[top - quiet : top - 1, wide],
            pixels[bottom + 2 : bottom + quiet, wide],
        ):
            assert strip.size
            assert strip.min() > 200


@pytest.mark.parametrize(
    ("modules", "module_mm", "side_mm"), [(25, 0.5, 16.5), (29, 0.396, 14.65), (29, 0.99, 36.63)]
)
def test_symbol_sizes_with_their_quiet_zone(modules, module_mm, side_mm):
    """GS1 General Specifications 5.12.3.1, second-hand: 0.396 to 0.990 mm a module at a till."""
    assert (modules + 2 * QUIET_MODULES) * module_mm == pytest.approx(side_mm, abs=0.01)


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
    more = "".join(text for text, _ in made.if_room)
    assert sorted(told) in [sorted(words.replace(" ", "")) for words in (wanted, wanted + more)]


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("stock", ALL, ids=lambda stock: stock.key)
@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES)
def test_what_is_only_for_where_there_is_room_makes_nothing_much_smaller(stock, name, dpi):
    made = label(name)
    size = (stock.label_w, stock.label_h, dpi)
    with_it, without = compose(made, *size), compose(label(name, if_room=()), *size)
    assert with_it.words[0].size >= 0.9 * without.words[0].size
    assert with_it.symbols == without.symbols


@pytest.mark.parametrize(
    ("width", "height", "name", "room"),
    [(101.6, 152.4, "short", True), (63.5, 38.1, "long", True), (40, 30, "long", False)],
)
def test_quality_not_safety_is_said_where_there_is_room(width, height, name, room):
    composed = compose(label(NAMES[name]), width, height, 203)
    told = " ".join(words.text for words in composed.words)
    assert ("quality, not safety" in told) == room


@pytest.mark.parametrize("stock", ALL, ids=lambda stock: stock.key)
def test_a_use_by_date_on_the_case_is_never_left_out(stock):
    dated = "Use by, on the case: Wed 25 Nov"
    made = label(lines=(*label().lines, (dated, 0.36)))
    composed = compose(made, stock.label_w, stock.label_h, 203)
    assert dated in " ".join(words.text for words in composed.words)


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
    """29 alphanumeric characters at level Q are version 2, 25 modules: QR codeword table."""
    assert len(qr_modules(text)) == modules


def test_small_letters_would_make_it_larger():
    """Version 2 in capitals, version 3 in small letters at level M: computed with segno."""
    made = {}
    for text in ("HTTPS://FARM.EXAMPLE/L/7K3M9Q", "https://farm.example/l/7k3m9q"):
        code = qrcode.QRCode(error_correction=qrcode.constants.ERROR_CORRECT_M)
        code.add_data(text)
        code.make(fit=True)
        made[text] = code.version
    assert list(made.values()) == [2, 3]


@pytest.mark.parametrize("stock", STOCKS.values(), ids=STOCKS)
def test_labels_never_leave_the_page_nor_overlap(stock):
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
