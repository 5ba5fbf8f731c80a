"""Taking up a logger's file of 52,000 rows while somebody scans, and a page of 5,000 crates.

    .venv/bin/python -m tests.bench.bench_import

Uses a data folder of its own. Prints seconds and ratios; asserts nothing.
"""

import os
import statistics
import threading
import time
import uuid

os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"

import django

django.setup()

from datetime import UTC, datetime, timedelta  # noqa: E402
from decimal import Decimal  # noqa: E402

from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402

from inventory.actions.imports import confirm_columns, keep_file, take_up_chunk  # noqa: E402
from inventory.actions.movements import move_lots  # noqa: E402
from inventory.lives.reader import read_clocks  # noqa: E402
from inventory.models import Crop, Farm, Lot, Room  # noqa: E402
from inventory.queries.crates import HERE, crates_here, with_parts  # noqa: E402
from tests import builders  # noqa: E402

ROWS = 52_000
PAUSE_S = 0.05  # the progress page's own pause between two pieces


def main() -> None:
    call_command("migrate", verbosity=0)
    farm = builders.make_farm()
    now = datetime.now(UTC)
    codes = [lot.pk for lot in builders.make_lots(*[12] * 20, at=now - timedelta(days=300))]
    import_while_scanning(farm, now, codes)
    for rows in (ROWS, 500_000):
        import_alone(farm, now, rows)
    page_of_crates(farm, now)


def import_alone(farm: Farm, now: datetime, rows: int) -> None:
    """What a file costs by itself: no piece may cost more for what came before it."""
    # Other moments than the file that was loaded before, or all of it would be known.
    data = logger_file(now - timedelta(seconds=1), rows)
    start = time.process_time()
    file = keep_file(builders.act(now), room=Room.objects.first(), sensor=f"{rows}", data=data)
    file = confirm_columns(file)
    while not file.is_done:
        file = take_up_chunk(file.pk, farm, now)
    print(f"{file.added} rows alone: {time.process_time() - start:.1f} s CPU")


def logger_file(now: datetime, rows: int = ROWS) -> bytes:
    # As close together as five years of rows must be, so that none is too old to count.
    apart = min(timedelta(minutes=10), timedelta(days=1800) / rows)
    start = now - apart * rows
    lines = [f"{start + apart * n:%Y-%m-%d %H:%M:%S}+00:00,{3 + n % 13 / 10}" for n in range(rows)]
    return ("time,temp C\n" + "\n".join(lines)).encode()


def import_while_scanning(farm: Farm, now: datetime, codes: list[str]) -> None:
    alone_waits: list[float] = []
    scan(now, codes, lambda: len(alone_waits) >= 100, alone_waits)
    waits: list[float] = []
    done = threading.Event()
    scanner = threading.Thread(target=scan, args=(now, codes, done.is_set, waits))
    scanner.start()
    start = time.perf_counter()
    entry = builders.act(now)
    file = keep_file(entry, room=Room.objects.first(), sensor="bench", data=logger_file(now))
    file = confirm_columns(file)
    pieces = 0
    while not file.is_done:
        file = take_up_chunk(file.pk, farm, now)
        pieces += 1
        time.sleep(PAUSE_S)
    took = time.perf_counter() - start
    done.set()
    scanner.join()
    print(f"import of {file.added} rows: {took:.1f} s in {pieces} pieces")
    print(
        f"scans meanwhile: {len(waits)}, median {statistics.median(waits):.0f} ms, "
        f"slowest {max(waits):.0f} ms; alone median {statistics.median(alone_waits):.0f} ms"
    )


def scan(now: datetime, codes: list[str], stop, waits: list[float]) -> None:
    places = [builders.place("A1"), builders.place("B2")]
    number = 0
    while not stop():
        start = time.perf_counter()
        move_lots(
            builders.act(now, id=uuid.uuid4()), lots=[codes[number % len(codes)]],
            position=places[number % 2],
        )  # fmt: skip
        waits.append((time.perf_counter() - start) * 1000)
        number += 1
        time.sleep(0.02)
    connection.close()


def page_of_crates(farm: Farm, now: datetime) -> None:
    """Crates of every crop, as a page reads them: rows, histories, lives, and all at once."""
    for days, crop in enumerate(Crop.objects.all()[:120]):
        crates = [Decimal(12)] * 42
        builders.make_lots(*crates, key=crop.reference_key, at=now - timedelta(days=days % 60))
    for name in ("first", "again", "again"):
        start = time.perf_counter()
        lots = with_parts(Lot.objects.filter(state__in=HERE))
        read = time.perf_counter()
        clocks = read_clocks(lots, farm)
        loaded = time.perf_counter()
        for lot in lots:
            clocks.life(lot.pk, now)
        lived = time.perf_counter()
        crates_here(farm, now)
        done = time.perf_counter()
        print(
            f"{len(lots)} crates, {name}: rows {1000 * (read - start):.0f} ms, histories "
            f"{1000 * (loaded - read):.0f} ms, days left {1000 * (lived - loaded):.0f} ms; "
            f"a page of them {1000 * (done - lived):.0f} ms"
        )


if __name__ == "__main__":
    main()
