"""Barcodes of cases, photographed at every angle.

    .venv/bin/python -m tests.bench.bench_cases

Prints the share read by angle and kind, what was read wrong, and the CPU time; asserts nothing.
Pictures are drawn and blurred here: no printed case was photographed.
"""

import random
import time
from collections import Counter
from itertools import pairwise

from PIL import Image, ImageFilter

from inventory.labels.cases import NoCase, case_in_picture, read_case
from tests.labels.barcodes import drawn, photo

CONTENTS = 3
STEP = 10  # degrees


def number(chance: random.Random, length: int) -> str:
    """Return a trade item number with its check digit, weights 3 and 1 from the right."""
    digits = "0" + "".join(chance.choice("0123456789") for _ in range(length - 2))
    total = sum(int(digit) * (3, 1)[at % 2] for at, digit in enumerate(reversed(digits)))
    return f"{digits}{-total % 10}"


def contents(chance: random.Random) -> dict[tuple[str, str], str]:
    """Return what is drawn, by the kind of symbol and a word on it."""
    item = f"(01){number(chance, 14)}"
    lot = "".join(chance.choices("ABCXYZ0123456789", k=chance.randrange(4, 10)))
    dated = f"{item}(13)261120(10){lot}"
    return {
        ("Code128", "short"): f"{item}(10){lot}",
        ("Code128", "long"): f"{dated}(15)270301(3102)001810",
        ("DataBarExp", ""): dated,
        ("DataBarExpStk", ""): dated,
        ("DataBarOmni", ""): number(chance, 14),
        ("DataBarLtd", ""): number(chance, 14),
        ("ITF", ""): number(chance, 14),
        ("EAN13", ""): number(chance, 13),
        ("DataMatrix", ""): dated,
    }


def seen(picture: Image.Image, text: str) -> str:
    try:
        return "right" if case_in_picture(picture) == read_case(text) else "wrong"
    except NoCase:
        return "none"


def main() -> None:
    chance = random.Random(20)
    angles = range(0, 90, STEP)
    shares, milliseconds = Counter(), []
    for _ in range(CONTENTS):
        for name, text in contents(chance).items():
            label = drawn(name[0], text)
            for start, end in pairwise([*angles, 90]):
                angle = chance.uniform(start, end)
                picture = photo(label, turned=angle).filter(ImageFilter.GaussianBlur(0.8))
                began = time.process_time()
                shares[name, start, seen(picture, text)] += 1
                milliseconds.append((time.process_time() - began) * 1000)
    print(f"{'read right of ' + str(CONTENTS):24}", *(f"{angle:>3}-" for angle in angles))
    for name in contents(chance):
        row = (shares[name, start, "right"] for start in angles)
        print(f"{' '.join(name):24}", *(f"{right:>4}" for right in row))
    print("read wrong:", sum(many for key, many in shares.items() if key[2] == "wrong"))
    milliseconds.sort()
    middle, most = milliseconds[len(milliseconds) // 2], milliseconds[-1]
    print(f"CPU a picture: median {middle:.0f} ms, most {most:.0f} ms")
    noise = Image.effect_noise((2000, 1500), 60)
    began = time.process_time()
    print(f"2000 x 1500 of noise: {seen(noise, '(01)09520123456788')}", end=", ")
    print(f"{(time.process_time() - began) * 1000:.0f} ms")


if __name__ == "__main__":
    main()
