"""Sheets and rolls of labels as PDF, written in batches so that memory stays flat."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import islice
from pathlib import Path

from PIL import Image, ImageDraw

from inventory.labels.draw import BLACK, WHITE, draw_label
from inventory.labels.setting import LabelText, dots, font, width_of
from inventory.labels.stock import Stock

PDF_DPI = 300
BARS_MM, BAR_ENDS_MM, BAR_MM = (100, 50, 20, 10), 7, 3
BATCH_DOTS = 40_000_000  # a page takes a byte a dot in memory until it is written


def write_pdf(
    file: Path,
    labels: Sequence[LabelText],
    stock: Stock,
    *,
    start: int = 1,
    nudge_mm: tuple[float, float] = (0.0, 0.0),
    dpi: int = PDF_DPI,
) -> None:
    """Write labels to a PDF. start: number of the first free label of a half-used sheet.

    nudge_mm: moves everything right and down. Raises ValueError for a start beyond the sheet.
    """
    if not 1 <= start <= stock.per_page:
        raise ValueError(f"a sheet has labels 1 to {stock.per_page}, not {start}")
    _save(file, _pages(labels, stock, start, nudge_mm, dpi), stock, dpi)


def draw_outline(
    file: Path,
    stock: Stock,
    nudge_mm: tuple[float, float] = (0.0, 0.0),
    bar_words: Callable[[int], str] = "{} mm".format,
) -> None:
    """Write a test page with the outline and the number of every label, and a bar to measure.

    bar_words: what stands at the bar, by its length in mm.
    """
    page = _blank(stock, PDF_DPI)
    pen = ImageDraw.Draw(page)
    width, height = dots(stock.label_w, PDF_DPI), dots(stock.label_h, PDF_DPI)
    for number, (x, y) in enumerate(stock.cells(), start=1):
        left, top = dots(x + nudge_mm[0], PDF_DPI), dots(y + nudge_mm[1], PDF_DPI)
        pen.rectangle((left, top, left + width - 1, top + height - 1), outline=BLACK, width=3)
        pen.text((left + width // 2, top + height // 2), str(number), font=font(80), fill=BLACK)
    _draw_bar(page, stock, bar_words)
    _save(file, [page], stock, PDF_DPI)


def _draw_bar(page: Image.Image, stock: Stock, bar_words: Callable[[int], str]) -> None:
    """Draw a bar over the middle row of labels, above their numbers; a long page's stands."""
    stands = stock.page_w < BARS_MM[0] + BAR_ENDS_MM <= stock.page_h
    room_mm = stock.page_h if stands else stock.page_w
    length_mm = next(bar for bar in BARS_MM if bar + BAR_ENDS_MM <= room_mm)
    bar = _bar(length_mm, bar_words(length_mm))
    if stands:
        bar = bar.transpose(Image.Transpose.ROTATE_90)
        page.paste(bar, (page.width // 8, (page.height - bar.height) // 2))
        return
    middle = stock.top + stock.rows // 2 * stock.pitch_y
    page.paste(bar, ((page.width - bar.width) // 2, dots(middle + stock.label_h / 8, PDF_DPI)))


def _bar(length_mm: int, words: str) -> Image.Image:
    """Return a bar exactly as long as it says, every other tenth black, with its words below."""
    length, high = dots(length_mm, PDF_DPI), dots(BAR_MM, PDF_DPI)
    letters = font(min(high, int(length / width_of(words, 1.05))))
    bar = Image.new("1", (length, 3 * high), WHITE)
    pen = ImageDraw.Draw(bar)
    pen.fontmode = "1"
    for tenth in range(0, 10, 2):
        pen.rectangle((length * tenth // 10, 0, length * (tenth + 1) // 10 - 1, high), fill=BLACK)
    pen.rectangle((length - 3, 0, length - 1, high), fill=BLACK)
    pen.text((length // 2, 3 * high // 2), words, BLACK, letters, anchor="mt")
    return bar


def _pages(
    labels: Sequence[LabelText], stock: Stock, start: int, nudge_mm: tuple[float, float], dpi: int
) -> Iterator[Image.Image]:
    cells = list(stock.cells())
    places = cells[start - 1 :]
    left = list(labels)
    while left:
        page = _blank(stock, dpi)
        for label, (x, y) in zip(left, places, strict=False):
            image = draw_label(label, stock.label_w, stock.label_h, dpi)
            page.paste(image, (dots(x + nudge_mm[0], dpi), dots(y + nudge_mm[1], dpi)))
        left = left[len(places) :]
        places = cells
        yield page


def _blank(stock: Stock, dpi: int) -> Image.Image:
    return Image.new("1", (dots(stock.page_w, dpi), dots(stock.page_h, dpi)), WHITE)


def _save(file: Path, pages: Iterable[Image.Image], stock: Stock, dpi: int) -> None:
    pages = iter(pages)
    size = max(1, BATCH_DOTS // (dots(stock.page_w, dpi) * dots(stock.page_h, dpi)))
    append = False
    while batch := list(islice(pages, size)):
        batch[0].save(
            file, "PDF", resolution=dpi, save_all=True, append_images=batch[1:], append=append
        )
        append = True
        for page in batch:
            page.close()
