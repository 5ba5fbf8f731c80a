"""Fills a composed label in, black on white, one bit a dot: what a label printer prints."""

from PIL import Image, ImageDraw

from inventory.labels.compose import Composed, Symbol, compose
from inventory.labels.setting import LabelText, font

BLACK, WHITE = 0, 1


def draw_label(label: LabelText, width_mm: float, height_mm: float, dpi: int) -> Image.Image:
    """Return the picture of one label, in mode "1"."""
    return draw(compose(label, width_mm, height_mm, dpi))


def draw(composed: Composed) -> Image.Image:
    image = Image.new("1", (composed.width, composed.height), WHITE)
    pen = ImageDraw.Draw(image)
    pen.fontmode = "1"
    for words in composed.words:
        pen.text((words.x, words.y), words.text, BLACK, font(words.size), anchor="ls")
    for symbol in composed.symbols:
        image.paste(_symbol(symbol), (symbol.x, symbol.y))
    return image


def _symbol(symbol: Symbol) -> Image.Image:
    side = len(symbol.modules)
    image = Image.new("1", (side, side), WHITE)
    image.putdata([BLACK if dark else WHITE for row in symbol.modules for dark in row])
    return image.resize((side * symbol.dots, side * symbol.dots), Image.Resampling.NEAREST)
