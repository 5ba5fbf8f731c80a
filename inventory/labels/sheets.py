"""Sheets and rolls of labels as PDF, written in batches so that memory stays flat."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from pathlib import Path

from PIL import Image, ImageDraw

from inventory.labels.compose import LabelText, dots, font
from inventory.labels.draw import BLACK, WHITE, draw_label
from inventory.labels.stock import Stock

PDF_DPI = 300
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


def draw_outline(file: Path, stock: Stock, nudge_mm: tuple[float, float] = (0.0, 0.0)) -> None:
    """Write a test page with the outline and the number of every label."""
    page = _blank(stock, PDF_DPI)
    pen = ImageDraw.Draw(page)
    width, height = dots(stock.label_w, PDF_DPI), dots(stock.label_h, PDF_DPI)
    for number, (x, y) in enumerate(stock.cells(), start=1):
        left, top = dots(x + nudge_mm[0], PDF_DPI), dots(y + nudge_mm[1], PDF_DPI)
        pen.rectangle((left, top, left + width - 1, top + height - 1), outline=BLACK, width=3)
        pen.text((left + width // 2, top + height // 2), str(number), font=font(80), fill=BLACK)
    _save(file, [page], stock, PDF_DPI)


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
