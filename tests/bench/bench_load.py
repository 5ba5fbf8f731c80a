"""Twenty phones scanning while a logger's file loads and home and week are open, as on a busy day.

    .venv/bin/python -m tests.bench.bench_load [FARM] [--seconds 60] [--hard]

FARM: `year` or `three`, a farm with so much past, made up to this hour; `demo`; or a data folder,
of which a copy is served. Every scan writes: a crate is carried back and forth between two places.
The server is started as a farm starts it; a bare view (/healthz) is asked for beside all else.
--hard: the twenty scan without a pause; home, week and the file go on as before.

With DATABASE_URL set it runs on that PostgreSQL. The database must be empty: the bench makes the
tables and fills them, so not with a data folder. The program of CI makes one that goes after:

    pg_virtualenv -t bash -c 'DATABASE_URL="postgres://$PGUSER:$PGPASSWORD@$PGHOST:$PGPORT/$PGDATABASE"
        .venv/bin/python -m tests.bench.bench_load year'

Warms up, asks one phone alone, then measures. Prints; asserts nothing. Read it beside the load
average that it prints: the clients share the machine with the server.
"""

import argparse
import os
import shutil
import statistics
import tempfile
import time
from pathlib import Path

os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
os.environ["COLDROOM_BENCH"] = str(Path(tempfile.mkdtemp(prefix="coldroom-load-")) / "data")

import django

django.setup()

from datetime import UTC, datetime, timedelta  # noqa: E402
from functools import partial  # noqa: E402
from threading import Event, Thread  # noqa: E402

from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402

from inventory.actions.imports import CHUNK_ROWS  # noqa: E402
from inventory.demo import load_demo  # noqa: E402
from inventory.models import Action, Chore, Farm, Lot, Person, Position, Reading, Room  # noqa: E402
from inventory.upkeep.ages import fill_ages  # noqa: E402
from inventory.upkeep.chores import CHORES  # noqa: E402
from tests import builders  # noqa: E402
from tests.bench import farms  # noqa: E402
from tests.bench.bench_import import ROWS, logger_file  # noqa: E402
from tests.bench.phones import LOGGER, Hand, Phone, Seen, load_on, look_on  # noqa: E402
from tests.serving import Served, started  # noqa: E402

DATA = Path(os.environ["COLDROOM_BENCH"])
DATABASE = os.environ.get("DATABASE_URL", "")
HANDS, CRATES_A_HAND = 20, 8
EVERY_S, WITHOUT_PAUSE_S = (2, 4), (0, 0)
OPENED_EVERY_S, BARE_EVERY_S = 1, 0.5
WARM_UP_S = 10
ALONE = 25
PAGES = ("/", "/week")
BARE = "/healthz"
WANTED_MS = {"scan": 200, "/": 500}  # 95 of 100 within this
MOST_TOLD = 5


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("farm", nargs="?", default="year")
    parser.add_argument("--seconds", type=int, default=60)
    parser.add_argument("--hard", action="store_true")
    asked = parser.parse_args()
    try:
        make_farm(asked.farm)
        with started(DATA.parent, database=DATABASE) as served:
            hands = make_hands(served)
            alone = ask_alone(served, hands[0])
            before = os.getloadavg()[0]
            seen = ask_together(served, hands, asked.seconds, asked.hard)
        seen.acknowledged += alone.acknowledged
        seen.wrong += alone.wrong
        print(
            f"{asked.farm}, {connection.vendor}, {HANDS} phones for {asked.seconds} s"
            f"{' without a pause' if asked.hard else ''}; load average {before:.1f} before, "
            f"{os.getloadavg()[0]:.1f} after"
        )
        tell_waits(alone, seen)
        tell_doings(seen, asked.seconds)
    finally:
        connection.close()
        shutil.rmtree(DATA.parent)


def make_farm(name: str) -> None:
    """Have a farm in the tables, with nothing due at once that is done by night."""
    now, kept = datetime.now(UTC), Path(name)
    if name not in ("demo", *farms.SIZES):
        if DATABASE or not kept.is_dir():
            raise SystemExit(
                f"{name} is no farm that can be served here; see the head of this file"
            )
        # Who signs in here does so with this folder's key.
        without_key = shutil.ignore_patterns("secret-key")
        shutil.copytree(kept, DATA, ignore=without_key, dirs_exist_ok=True)
    call_command("migrate", verbosity=0)
    if not kept.is_dir() and Farm.objects.exists():
        raise SystemExit("this database has a farm in it, which would be written to")
    if name == "demo":
        load_demo(now, "not needed here")
    elif name in farms.SIZES:
        farms.NOW = now
        farms.build(farms.SIZES[name])
        fill_ages(now)
    for chore in CHORES:
        Chore.objects.update_or_create(pk=chore, defaults={"tried_at": now, "done_at": now})


def make_hands(served: Served) -> list[Hand]:
    """Give twenty people a phone, each with crates and places that nobody else carries to."""
    crates = list(
        Lot.objects.filter(state="in place", held=False)
        .order_by("pk")
        .values_list("pk", "position")
    )
    places = list(
        Position.objects.filter(in_use=True).order_by("walk").values_list("pk", flat=True)
    )
    hands = []
    for number in range(HANDS):
        mine = crates[number::HANDS][:CRATES_A_HAND]
        stood = {place for _code, place in mine}
        free = [place for place in places if place not in stood]
        to = free[number % len(free)], free[(number + 1) % len(free)]
        phone = Phone(served.port, builders.make_crew(f"Hand {number}"))
        phone.get("/scan/put-away")
        hands.append(Hand(phone, [code for code, _place in mine], to, number))
    return hands


def owner_phone(served: Served) -> Phone:
    phone = Phone(served.port, Person.objects.filter(role=Person.Role.OWNER).order_by("pk")[0])
    phone.get("/scan/put-away")
    return phone


def ask_alone(served: Served, hand: Hand) -> Seen:
    """Wait for each answer in turn while nobody else asks."""
    seen, phone = Seen(since=0), owner_phone(served)
    for round_ in range(ALONE + 5):
        if round_ == 5:  # it is warm now
            seen.waits.clear()
        hand.scan(seen)
        for path in (*PAGES, BARE):
            with seen.waiting_for(path):
                phone.get(path)
    return seen


def ask_together(served: Served, hands: list[Hand], seconds: int, hard: bool) -> Seen:
    seen, stop = Seen(since=time.perf_counter() + WARM_UP_S), Event()
    every_s = WITHOUT_PAUSE_S if hard else EVERY_S
    room, now = Room.objects.order_by("order")[0].pk, datetime.now(UTC)
    connection.close()
    doings = [partial(hand.scan_on, seen, stop, every_s) for hand in hands]
    doings += [partial(look_on, owner_phone(served), path, OPENED_EVERY_S, seen, stop)
               for path in PAGES]  # fmt: skip
    doings += [
        partial(look_on, owner_phone(served), BARE, BARE_EVERY_S, seen, stop),
        partial(load_on, owner_phone(served), room, partial(file_of, now), seen, stop),
    ]
    threads = [Thread(target=doing) for doing in doings]
    for thread in threads:
        thread.start()
    time.sleep(WARM_UP_S + seconds)
    stop.set()
    for thread in threads:
        thread.join()
    return seen


def file_of(now: datetime, number: int) -> bytes:
    return logger_file(now - timedelta(seconds=number))


def tell_waits(alone: Seen, seen: Seen) -> None:
    bare = statistics.median(seen.waits[BARE])
    print(f"{'ms':18} {'times':>6} {'p50':>7} {'p95':>7} {'x bare':>7} {'alone':>7} {'x bare':>7}")
    for what in ("scan", *PAGES, BARE, "upload", "how far a file is"):
        waits, by_itself = seen.waits[what], alone.waits[what]
        if len(waits) < 2:
            print(f"{what:18} {len(waits):6}")
            continue
        half, most = statistics.median(waits), statistics.quantiles(waits, n=20)[-1]
        figures = f"{len(waits):6} {half:7.0f} {most:7.0f} {half / bare:7.1f}"
        if by_itself:
            quick = statistics.median(by_itself)
            figures += f" {quick:7.1f} {quick / statistics.median(alone.waits[BARE]):7.1f}"
        wanted = WANTED_MS.get(what)
        print(f"{what:18} {figures}{f'   p95 wanted under {wanted}' if wanted else ''}")


def tell_doings(seen: Seen, seconds: int) -> None:
    """Say what was loaded, what went wrong, and whether all that was answered is in the ledger."""
    took = ", ".join(f"{each:.0f} s" for each in seen.files) or "none to its end"
    rows = Reading.objects.filter(kind=Reading.Kind.FILE, sensor__startswith=LOGGER).count()
    print(f"files of {ROWS:,} rows: {took}; {rows:,} rows in pieces of {CHUNK_ROWS:,}")
    written = set(Action.objects.values_list("pk", flat=True))
    lost = sum(entry not in written for entry in seen.acknowledged)
    stand = dict(Lot.objects.filter(pk__in=seen.stands).values_list("pk", "position"))
    astray = sum(stand[code] != place for code, place in seen.stands.items())
    print(
        f"{len(seen.waits['scan']) / seconds:.1f} scans a second; {len(seen.acknowledged)} "
        f"acknowledged, {lost} lost, {astray} crates elsewhere; {len(seen.wrong)} errors"
    )
    for wrong in seen.wrong[:MOST_TOLD]:
        print(f"  {wrong}")
    call_command("check_ledger")


if __name__ == "__main__":
    main()
