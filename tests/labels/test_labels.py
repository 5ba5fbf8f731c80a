"""Labels as a printer and a phone see them: rasterised, measured, and read by a real decoder.

QR Code, from memory of ISO/IEC 18004: a quiet zone of 4 modules. Symbol sizes computed from the
standard's codeword table with another encoder (segno). Sheets: from memory, written out below.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import cycle, pairwise, product
from math import ceil

import numpy as np
import pypdfium2
import pytest
import qrcode
import zxingcpp
from PIL import Image, ImageDraw

from inventory.codes import check_character
from inventory.labels import (
    STOCKS,
    LabelText,
    Stock,
    TooSmall,
    compose,
    custom_stock,
    draw_outline,
    fits,
    write_pdf,
)
from inventory.labels.compose import (
    MARGIN_MM,
    MM_PER_INCH,
    QUIET_MODULES,
    Composed,
    qr_modules,
)
from inventory.labels.draw import draw
from inventory.labels.setting import UNBROKEN, Words, dots, font, set_words

CODE = "7K3M9Q" + check_character("7K3M9Q")
LINK = f"HTTP://FARM.LOCAL:8000/L/{CODE}"
NAMES = {
    "short": "Kale",
    "long": "Carrot, bunched with tops, of the second sowing, washed and sorted by size",
    "accents": "Jalapeño crème, Ñandú, acelga, açaí, Kürbis",
    "one word": "Donaudampfschifffahrtsgesellschaftskapitänsgemüse",
    "usual word": "Kirsebærtomater",
    "two lines": "Cherry tomato, orange",
    "hanging left and down": "jícama",
    "touching": "jgjgjgjg ÅÉÅÉÅÉÅÉ",
}
# In each language: day, amount, source, until when, what that is, farm, its address.
WORDS = {
    "en": (
        "cut Wed 25 Nov", "12 bunches", "Campo del arroyo norte",
        "keeps until about Sat_5_Dec at 2_°C", "quality, not safety", "Brindlemoor",
        "3 Mill Lane, Tamberlow, 555-0142",
    ),
    "es": (
        "cortado mié 25 nov", "12 manojos", "Campo del arroyo norte",
        "dura hasta aprox. el sáb_5_dic, a 2_°C", "calidad, no inocuidad", "Rancho Brindlemoor",
        "Camino del Molino 3, Tamberlow, 555-0142",
    ),
}  # fmt: skip


def label(headline="Kale", language="en", **changes) -> LabelText:
    """A crate's label as words.labels makes it, but for where the words come from."""
    day, amount, source, until, quality, farm, address = WORDS[language]
    lines = (
        (day.replace(" ", UNBROKEN), 0.75), (amount, 0.55), (source, 0.42),
        (until.replace("_", UNBROKEN), 0.5), (quality, 0.36), (farm, 0.4), (address, 0.36),
    )  # fmt: skip
    values = {
        "headline": headline,
        "code": CODE,
        "lines": lines,
        "link": LINK,
        "spare": (source, farm, amount),
        "if_room": ((quality, 0.9), (address, 0.75)),
    }
    return LabelText(**values | changes)


def left_out_first(made: LabelText) -> list[str]:
    """Return what may be left out of a label, the least needed first."""
    return [*(text for text, _share in made.if_room), *made.spare]


def read_all(image: Image.Image) -> list[str]:
    found = zxingcpp.read_barcodes(image, formats=zxingcpp.BarcodeFormat.QRCodeModel2)
    return [barcode.text for barcode in found]


ALL = [*STOCKS.values(), custom_stock(40, 30), custom_stock(150, 40)]


@pytest.mark.parametrize("stock", ALL, ids=lambda stock: stock.key)
def test_every_stock_is_read_back_from_its_pdf(tmp_path, stock):
    """Pages full of labels, with one of each name at least."""
    count = stock.per_page * ceil(len(NAMES) / stock.per_page)
    labels = [
        label(name, link=LINK[:-7] + code)
        for name, code in zip(cycle(NAMES.values()), _codes(count), strict=False)
    ]
    file = tmp_path / "labels.pdf"
    write_pdf(file, labels, stock)
    found = [read for page in pypdfium2.PdfDocument(file) for read in cell_by_cell(page, stock)]
    for made, texts in zip(labels, found, strict=True):
        assert set(texts) == {made.link}
        assert len(texts) == len(compose(made, stock.label_w, stock.label_h, 300).symbols)


def cell_by_cell(page: pypdfium2.PdfPage, stock: Stock) -> Iterator[list[str]]:
    """Yield what is read on each label of a page, which is as large as its paper."""
    width, height = page.get_size()
    assert (width / 72 * MM_PER_INCH, height / 72 * MM_PER_INCH) == (
        pytest.approx(stock.page_w, abs=0.1), pytest.approx(stock.page_h, abs=0.1),
    )  # fmt: skip
    raster = page.render(scale=300 / 72).to_pil().convert("L")
    for x, y in stock.cells():
        box = (x, y, x + stock.label_w, y + stock.label_h)
        yield read_all(raster.crop(tuple(round(side * DOT) for side in box)))


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


def each_label(test):
    """Run a test of a label and its stock for each dpi, stock, name and language."""
    for name, values in (
        ("dpi", [203, 300]),
        ("stock", [pytest.param(stock, id=stock.key + f"-{stock.label_w:g}") for stock in ALL]),
        ("name", [pytest.param(text, id=name) for name, text in NAMES.items()]),
        ("language", list(WORDS)),
    ):
        test = pytest.mark.parametrize(name, values)(test)
    return test


def ink(composed: Composed) -> np.ndarray:
    """Return where words are printed, without the symbols."""
    return ~np.asarray(draw(replace(composed, symbols=())), dtype=bool)


def ink_rows(composed: Composed) -> tuple[int, int]:
    rows = np.flatnonzero(ink(composed).any(axis=1))
    return int(rows[0]), int(rows[-1]) + 1


def capitals_mm(words: Words, dpi: int) -> float:
    """Return how high a capital of these words is printed."""
    page = Image.new("1", (4 * words.size, 4 * words.size), 1)
    pen = ImageDraw.Draw(page)
    pen.fontmode = "1"
    pen.text((0, 3 * words.size), "H", 0, font(words.size), anchor="ls")
    rows = np.flatnonzero((~np.asarray(page, dtype=bool)).any(axis=1))
    return (rows[-1] + 1 - rows[0]) * MM_PER_INCH / dpi


def words_leave_the_quiet_zones_and_margins_and_never_overlap(composed: Composed, dpi: int) -> None:
    """Quiet zones of 4 modules, by every dot: descenders and bearings too."""
    printed = ink(composed)
    for symbol in composed.symbols:
        side, quiet = symbol.dots * len(symbol.modules), symbol.dots * QUIET_MODULES
        left, top = symbol.x - quiet, symbol.y - quiet
        right, bottom = symbol.x + side + quiet, symbol.y + side + quiet
        assert min(left, top) >= 0
        assert right <= composed.width
        assert bottom <= composed.height
        assert not printed[top:bottom, left:right].any()
    margin = dots(MARGIN_MM, dpi)
    assert printed.sum() == printed[margin:-margin, margin:-margin].sum()
    alone = [ink(replace(composed, words=(words,))).sum() for words in composed.words]
    assert printed.sum() == sum(alone)


def nothing_is_cut_off_nor_left_out_of_turn(composed: Composed, made: LabelText) -> None:
    told = _letters("".join(words.text for words in composed.words))
    assert told in [said_with(made, kept) for kept in kept_in_turn(made)]


def kept_in_turn(made: LabelText):
    """Yield what may stand of the lines that may be left out."""
    quality, address = (text for text, _share in made.if_room)
    for more in ([], [quality], [address], [quality, address]):
        yield [*made.spare, *more]
    for count in range(1, len(made.spare) + 1):
        yield made.spare[count:]


def _letters(text: str) -> list[str]:
    return sorted(text.replace(" ", "").replace(UNBROKEN, ""))


def the_smallest_capitals_are_measured(composed: Composed, dpi: int) -> None:
    assert min(capitals_mm(words, dpi) for words in composed.words) >= 1.5


def it_is_full_and_its_words_stand_in_the_middle(composed: Composed, name: str, dpi: int) -> None:
    """Full: ink over 80 % of the height, or one word of the name over 90 % of the width.

    Then the other lines are as big as they may be beside it. In the middle: to 0.4 mm.
    """
    first, last = ink_rows(composed)
    top, bottom = room(composed, dpi)
    assert abs((first - top) - (bottom - last)) <= 0.4 / MM_PER_INCH * dpi
    if last - first < 0.8 * (bottom - top):
        (one_word,) = (words for words in composed.words if words.text == name)
        alone = np.flatnonzero(ink(replace(composed, words=(one_word,))).any(axis=0))
        assert " " not in name
        assert alone[-1] - alone[0] > 0.9 * room_width(composed, dpi)
        assert composed.words[1].size >= 1.05 * one_word.size


def room_width(composed: Composed, dpi: int) -> int:
    margin = dots(MARGIN_MM, dpi)
    if composed.height > 1.2 * composed.width:
        return composed.width - 2 * margin
    first, last = composed.symbols[0], composed.symbols[-1]
    left = first.x + first.dots * (len(first.modules) + QUIET_MODULES)
    right = last.x - last.dots * QUIET_MODULES if last is not first else composed.width - margin
    return right - left


def room(composed: Composed, dpi: int) -> tuple[int, int]:
    """Return from where to where words may stand: within margins, or between two symbols."""
    margin = dots(MARGIN_MM, dpi)
    first, last = composed.symbols[0], composed.symbols[-1]
    if composed.height <= 1.2 * composed.width:
        return margin, composed.height - margin
    side = first.dots * (len(first.modules) + QUIET_MODULES)
    low = last.y - last.dots * QUIET_MODULES if last is not first else composed.height - margin
    return first.y + side, low


def the_day_stands_on_one_row_with_its_word(composed: Composed, language: str) -> None:
    day = WORDS[language][0].replace(" ", UNBROKEN)
    assert day in [words.text for words in composed.words]


@each_label
def test_every_label_dot_by_dot(stock, name, language, dpi):
    made = label(name, language)
    composed = compose(made, stock.label_w, stock.label_h, dpi)
    words_leave_the_quiet_zones_and_margins_and_never_overlap(composed, dpi)
    nothing_is_cut_off_nor_left_out_of_turn(composed, made)
    the_smallest_capitals_are_measured(composed, dpi)
    it_is_full_and_its_words_stand_in_the_middle(composed, name, dpi)
    the_day_stands_on_one_row_with_its_word(composed, language)


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("stock", ALL, ids=lambda stock: stock.key)
@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES)
def test_what_is_only_for_where_there_is_room_makes_nothing_much_smaller(stock, name, dpi):
    made = label(name)
    size = (stock.label_w, stock.label_h, dpi)
    lines = tuple(line for line in made.lines if line[0] not in dict(made.if_room))
    with_it = compose(made, *size)
    without = compose(label(name, lines=lines, if_room=()), *size)
    said = {words.text for words in with_it.words}
    least = 0.75 * (0.9 if "quality, not safety" in said else 1.0)
    assert with_it.words[0].size >= least * without.words[0].size
    assert with_it.symbols == without.symbols


def without_address(made: LabelText) -> LabelText:
    """The label of a farm that gave no postal address."""
    (address, _share) = made.if_room[1]
    lines = tuple(line for line in made.lines if line[0] != address)
    return replace(made, lines=lines, if_room=made.if_room[:1])


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("stock", ALL, ids=lambda stock: stock.key)
@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES)
def test_saying_quality_costs_no_line_more_than_a_tenth(stock, name, dpi):
    made = without_address(label(name))
    lines = tuple(line for line in made.lines if line[0] != "quality, not safety")
    size = (stock.label_w, stock.label_h, dpi)
    with_it, without = compose(made, *size), compose(replace(made, lines=lines), *size)
    assert with_it.words[0].size >= 0.9 * without.words[0].size


@pytest.mark.parametrize("language", WORDS)
@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES)
def test_what_is_needed_least_is_left_out_first(name, language):
    """In a box lower and lower: first what is for room, then one line more, then all is refused."""
    made = label(name, language)
    stages = []
    for height in (3000, *range(600, 300, -20), *range(300, 50, -2)):
        try:
            words = set_words(made, (0, 0, 180, height), 203, is_centred=False)
        except TooSmall:
            break
        told = _letters("".join(run.text for run in words))
        stages.append(next(kept for kept in kept_in_turn(made) if told == said_with(made, kept)))
    spare_kept = [len(set(kept) & set(made.spare)) for kept in stages]
    assert stages[0] == [*made.spare, *dict(made.if_room)]
    assert spare_kept == sorted(spare_kept, reverse=True)
    assert set(spare_kept) == {3, 2, 1, 0}


def said_with(made: LabelText, kept: Sequence[str]) -> list[str]:
    order = left_out_first(made)
    needed = [text for text, _size in made.lines if text not in order]
    return _letters("".join([made.headline, made.code, *needed, *kept]))


@pytest.mark.parametrize(
    ("width", "height", "name", "room"),
    [(101.6, 152.4, "short", True), (101.6, 50.8, "long", True), (40, 30, "long", False)],
)
def test_quality_not_safety_is_said_where_there_is_room(width, height, name, room):
    made = without_address(label(NAMES[name]))
    composed = compose(made, width, height, 203)
    told = " ".join(words.text for words in composed.words)
    assert ("quality, not safety" in told) == room


@pytest.mark.parametrize("stock", ALL, ids=lambda stock: stock.key)
def test_a_use_by_date_on_the_case_is_never_left_out(stock):
    dated = "Use by, on the case: Wed 25 Nov"
    made = label(lines=(*label().lines, (dated, 0.36)))
    composed = compose(made, stock.label_w, stock.label_h, 203)
    told = " ".join(words.text for words in composed.words).replace(UNBROKEN, " ")
    assert dated in told


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


BARS = {"roll-62x100": 50, "roll-57x32": 50}  # 100 mm where there is room for that


@pytest.mark.parametrize("stock", STOCKS.values(), ids=STOCKS)
def test_the_test_page_has_a_bar_to_measure(tmp_path, stock):
    """From the first to the last dark dot along it, to half a millimetre in 100."""
    file = tmp_path / "bar.pdf"
    said = []
    draw_outline(file, stock, bar_words=lambda mm: said.append(mm) or f"{mm} mm")
    assert said == [BARS.get(stock.key, 100)]
    assert bar_length_mm(file, stock) == pytest.approx(said[0], abs=0.005 * said[0])


def bar_length_mm(file, stock) -> float:
    page = np.asarray(pypdfium2.PdfDocument(file)[0].render(scale=300 / 72).to_pil().convert("L"))
    if stock.key == "roll-102x152":
        page = page.T[:, ::-1]  # it stands, from the bottom up
    # Five black tenths and a last line, as wide as each other: no outline, no letter is like it.
    for row in page < 128:
        edges = np.flatnonzero(np.diff(np.concatenate([[0], row.view(np.int8), [0]])))
        runs = list(zip(edges[::2], edges[1::2], strict=True))
        for first in range(len(runs) - 5):
            six = runs[first : first + 6]
            wide = [end - start for start, end in six]
            if max(wide[:5]) - min(wide[:5]) <= 2 and min(wide) > 1 and wide[0] > 20:
                return (six[5][1] - six[0][0]) / DOT
    raise AssertionError("no bar")


@pytest.mark.parametrize(("width", "height"), [(20, 20), (25, 25), (20, 28)])
def test_a_label_without_room_is_refused_and_never_printed_unreadable(width, height):
    with pytest.raises(TooSmall):
        compose(label(NAMES["long"]), width, height, 203)


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES)
def test_whether_a_label_fits_is_told_without_setting_it(name):
    """Asked of every label before any is printed: the same answer as composing it."""
    answers = set()
    for width, height in product(range(24, 46, 2), range(20, 34, 2)):
        told = fits(label(name), width, height)
        assert told == all(is_composed(label(name), width, height, dpi) for dpi in (203, 300))
        answers.add(told)
    assert answers == {True, False}


def is_composed(made: LabelText, width: float, height: float, dpi: int) -> bool:
    try:
        compose(made, width, height, dpi)
    except TooSmall:
        return False
    return True


@pytest.mark.parametrize(("width", "height"), [(19, 50), (50, 301)])
def test_an_impossible_size_is_refused(width, height):
    with pytest.raises(ValueError, match=r"20\.0 to 300\.0"):
        custom_stock(width, height)
