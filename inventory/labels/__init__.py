"""Printed labels: composed once, drawn by one piece of code for PDF and PNG alike."""

from inventory.labels.compose import compose, fits
from inventory.labels.draw import draw_label
from inventory.labels.setting import LabelText, TooSmall
from inventory.labels.sheets import draw_outline, write_pdf
from inventory.labels.stock import STOCKS, Stock, custom_stock

__all__ = [
    "STOCKS",
    "LabelText",
    "Stock",
    "TooSmall",
    "compose",
    "custom_stock",
    "draw_label",
    "draw_outline",
    "fits",
    "write_pdf",
]
