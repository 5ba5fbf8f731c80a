"""Printing and reading labels.

    .venv/bin/python -m tests.bench.bench_labels

Prints seconds, bytes and the peak of memory; asserts nothing.
"""

import os
import resource
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path
from uuid import uuid4

import django

from inventory.labels import STOCKS, LabelText, draw_label, write_pdf
from inventory.labels.read import read_symbols

os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"


def label(number: int) -> LabelText:
    lines = (("cut Wed 25 Nov", 0.75), ("12 bunches", 0.55), ("Bed 3", 0.45))
    return LabelText("Kale", "7K3M9QX", lines, f"HTTP://FARM.LOCAL:8000/L/{number:07d}")


def round_trip() -> None:
    """A scan posted and answered, against a view that does nothing, in the same run."""
    django.setup()
    from django.core.management import call_command
    from django.test import Client

    from inventory.models import Movement
    from tests import builders

    call_command("migrate", verbosity=0)
    builders.make_farm()
    now = datetime.now(UTC)
    codes = [lot.pk for lot in builders.make_lots(*[12] * 70, at=now)]
    client = Client()
    builders.sign_in(client)
    # Each scan moves its crate: away from where it was made, then back.
    places = [builders.place("B2").pk, builders.place("A1").pk]
    bare = [timed(lambda: client.get("/healthz")) for _ in range(100)]
    scans = []
    for number in range(100):
        data = {"entry": uuid4(), "text": codes[number % 70], "here": places[number // 70]}
        scans.append(timed(lambda data=data: client.post("/scan/put-away", data)))
    assert Movement.objects.filter(kind="moved").count() == len(scans)
    bare_ms, scan_ms = sorted(bare)[50], sorted(scans)[50]
    print(f"scan to answer: median {scan_ms:.1f} ms, {scan_ms / bare_ms:.0f} times a bare view")


def timed(doing) -> float:
    start = time.perf_counter()
    doing()
    return (time.perf_counter() - start) * 1000


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
    median = sorted(times)[25]
    print(f"decoding a 640 x 480 frame: median {median:.1f} ms")
    round_trip()


if __name__ == "__main__":
    main()
