"""Printing and reading labels.

    .venv/bin/python -m tests.bench.bench_labels

Prints seconds, bytes and the peak of memory; asserts nothing.
"""

import resource
import tempfile
import time
from pathlib import Path

from inventory.labels import STOCKS, LabelText, draw_label, write_pdf
from inventory.labels.read import read_symbols


def label(number: int) -> LabelText:
    lines = (("cut Wed 25 Nov", 0.75), ("12 bunches", 0.55), ("Bed 3", 0.45))
    return LabelText("Kale", "7K3M9QX", lines, f"HTTP://FARM.LOCAL:8000/L/{number:07d}")


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        for count, key in ((200, "a4-2x7"), (200, "roll-102x152"), (1000, "a4-2x7")):
            file = Path(folder) / "labels.pdf"
            start = time.perf_counter()
            write_pdf(file, [label(number) for number in range(count)], STOCKS[key])
            took = time.perf_counter() - start
            peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            size = file.stat().st_size / 1e6
            print(f"{count} labels, {key}: {took:.1f} s, {size:.2f} MB, peak memory {peak:.0f} MB")
            file.unlink()
    frame = draw_label(label(1), 101.6, 50.8, 300).convert("L").resize((640, 480))
    times = []
    for _ in range(50):
        start = time.perf_counter()
        read_symbols(frame)
        times.append((time.perf_counter() - start) * 1000)
    print(f"decoding a 640 x 480 frame: median {sorted(times)[25]:.1f} ms")


if __name__ == "__main__":
    main()
