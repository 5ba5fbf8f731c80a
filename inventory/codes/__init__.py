"""Codes printed on crates and shelves: seven characters, the last a check character."""

from inventory.codes.check import (
    ALPHABET,
    LENGTH,
    InvalidCode,
    check_character,
    draw_code,
    is_tail,
    normalise,
    read_code,
)

__all__ = [
    "ALPHABET",
    "LENGTH",
    "InvalidCode",
    "check_character",
    "draw_code",
    "is_tail",
    "normalise",
    "read_code",
]
