"""One farm of the bench in a process of its own: its pages and scans, timed and counted.

Started by bench_farms. Reads a word a line and answers with a line of JSON. The clock stands at
the moment the farm was made for, so that a farm kept for weeks shows the same pages.
"""

import gc
import json
import os
import resource
import sys
import time
from collections.abc import Callable
from datetime import timedelta
from itertools import cycle
from unittest import mock
from uuid import uuid4

os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"

import django

django.setup()

from django.core.management import call_command  # noqa: E402
from django.db.models import QuerySet  # noqa: E402
from django.test import Client  # noqa: E402

from coldroom.serve import look_for_garbage_seldom  # noqa: E402
from inventory.models import (  # noqa: E402
    Crop,
    Farm,
    Lot,
    Movement,
    Order,
    Person,
    Position,
)
from inventory.upkeep.ages import fill_ages  # noqa: E402
from tests import builders  # noqa: E402
from tests.bench import farms  # noqa: E402
from tests.bench.counted import Counted  # noqa: E402

NOW = farms.NOW
Doing = Callable[[], object]


def make_or_open(name: str) -> None:
    call_command("migrate", verbosity=0)
    if not Farm.objects.exists():
        start = time.perf_counter()
        farms.build(farms.SIZES[name])
        fill_ages(NOW)
        call_command("check_ledger", stdout=sys.stderr)
        took = time.perf_counter() - start
        print(f"{name}: {Movement.objects.count()} movements, {took:.0f} s", file=sys.stderr)


def doings(client: Client) -> dict[str, Doing]:
    """Return every page and scan of the bench by its name."""
    pages = {name: lambda path=path: get(client, path) for name, path in addresses().items()}
    return pages | scans(client)


def get(client: Client, path: str) -> None:
    response = client.get(path)
    if response.streaming:
        b"".join(response.streaming_content)
    assert response.status_code == 200, f"{path}: {response.status_code}"


def addresses() -> dict[str, str]:
    here, gone = in_the_house(), as_they_came().filter(state__in=("out", "empty"))
    lot, old, recent = here.first(), gone.last(), gone.first()
    order = Order.objects.filter(closed_at=None).order_by("due", "pk").first()
    ended = Order.objects.exclude(closed_at=None).order_by("-closed_at").first()
    moved = Movement.objects.filter(kind="moved").latest("pk")
    crop = Crop.objects.get(reference_key="kale")
    return {
        "home": "/", "more": "/more", "rooms": "/rooms", "room": "/rooms/1",
        "room month": "/rooms/1?span=month", "place": f"/P/{lot.position_id}",
        "crate": f"/L/{lot.pk}", "oldest crate": f"/L/{here.last().pk}",
        "crate gone lately": f"/L/{recent.pk}",
        "crate of the first day": f"/L/{old.pk}", "take-out form": f"/L/{lot.pk}/take-out",
        "find tail": f"/find?q={lot.pk[-4:]}", "intake": f"/intake/{lot.intake_id}",
        "combine form": f"/L/{lot.pk}/combine", "re-sort form": f"/L/{lot.pk}/sort",
        "choose crop": "/in/harvest", "bring-in form": f"/in/harvest/{crop.pk}",
        "choose bought": "/in/delivery", "delivery form": f"/in/delivery/{crop.pk}",
        "put-away": "/put-away", "scan page": "/scan/put-away", "scan order": "/scan/order",
        "done": f"/done/{moved.action_id}", "new order": "/pull", "orders": "/orders",
        "order": f"/pull/{order.pk}", "order done": f"/pull/{ended.pk}",
        "market": "/market", "load": "/market/load",
        "available": "/available", "cut": "/cut", "walk": "/walk", "run": "/run",
        "slip": f"/slip/{ended.handovers.get().number}", "crates out": "/crates-out",
        "count": "/count", "count place": f"/count/{lot.position_id}", "unseen": "/rooms/unseen",
        "week": "/week", "ledger": "/ledger", "ledger crop": f"/ledger?crop={crop.pk}",
        "ledger code": f"/ledger?code={lot.pk}", "ledger tail": f"/ledger?code={lot.pk[-4:]}",
        "ledger person": f"/ledger?person={Person.objects.latest('pk').pk}",
        "ledger set": "/ledger?what=set", "lists": "/settings", "list crops": "/settings/crops",
        "crop form": f"/settings/crops/{crop.pk}", "sensors": "/settings/sensors",
        "labels": "/labels/reprint", "checks month": f"/rooms/1/checks/{NOW:%Y-%m}",
        "log.csv": "/rooms/1/log.csv",
        "ledger.csv": f"/ledger.csv?from_day={NOW - timedelta(days=60):%Y-%m-%d}",
    }  # fmt: skip


def as_they_came() -> QuerySet[Lot]:
    """The latest first, however long the farm's past is; by codes it would be chance."""
    came = Lot.objects.filter(movements__kind="brought in")
    return came.order_by("-intake__arrived_at", "movements__number")


def in_the_house() -> QuerySet[Lot]:
    return as_they_came().filter(state="in place", held=False)


def scans(client: Client) -> dict[str, Doing]:
    """Scans that write: each is another crate, or one that was brought back to where it was."""
    crates = cycle(in_the_house().values_list("pk", flat=True)[:200])
    places = cycle(Position.objects.order_by("walk").values_list("pk", flat=True)[:40])

    def move() -> None:
        before, code = Movement.objects.count(), next(crates)
        stands = Lot.objects.get(pk=code).position_id
        Timed.begin()
        elsewhere = next(place for place in places if place != stands)
        scan = {"entry": uuid4(), "text": code, "here": elsewhere}
        client.post("/scan/put-away", scan, headers={"HX-Request": "true"})
        Timed.pause()
        assert Movement.objects.count() == before + 1

    def market() -> None:
        code = next(crates)
        scan = {"entry": uuid4(), "text": code, "overrule": code}
        client.post("/scan/market", scan, headers={"HX-Request": "true"})
        Timed.pause()
        taken = Movement.objects.filter(kind="out", lot=code).latest("pk")
        client.post(f"/undo/{taken.action_id}", {"entry": uuid4()})

    def post() -> None:
        at = f"{NOW:%Y-%m-%dT%H:%M}:{next(seconds):02d}.{uuid4().int % 10**6:06d}+00:00"
        reading = {"at": at, "temperature": 3.1, "unit": "C"}
        answer = client.post(
            "/api/readings", json.dumps({"readings": [reading]}),
            content_type="application/json",
            headers={"Authorization": f"Bearer {farms.TOKEN}-0"},
        )  # fmt: skip
        assert answer.status_code == 200, answer.content

    seconds = cycle(range(60))
    return {"scan moved": move, "scan for market": market, "sensor post": post}


class Timed:
    """CPU time of one doing, from its beginning to its pause where it says them."""

    begun = 0.0
    paused: float | None = None

    @classmethod
    def begin(cls) -> None:
        cls.begun = time.process_time()

    @classmethod
    def pause(cls) -> None:
        cls.paused = time.process_time()

    @classmethod
    def of(cls, doing: Doing) -> float:
        cls.paused = None
        cls.begin()
        doing()
        return (cls.paused or time.process_time()) - cls.begun


def one_round(all_doings: dict[str, Doing], client: Client) -> dict[str, tuple[float, float]]:
    """Return for each page its CPU time and that of a bare view right after it. [s]"""
    bare = lambda: client.get("/healthz")  # noqa: E731
    return {
        name: (Timed.of(doing), statistics_of([Timed.of(bare) for _ in range(3)]))
        for name, doing in all_doings.items()
    }


def statistics_of(times: list[float]) -> float:
    return sorted(times)[len(times) // 2]


def count(all_doings: dict[str, Doing]) -> dict[str, tuple[int, int, int]]:
    found = {}
    for name, doing in all_doings.items():
        doing()
        with Counted() as counted:
            doing()
        found[name] = counted.queries, counted.rows, counted.steps
    return found


def memory(all_doings: dict[str, Doing]) -> dict[str, int]:
    """Return how much the process holds after 100 and after 1,000 mixed requests. [MB]"""
    found = {}
    for number, doing in zip(range(1, 1001), cycle(all_doings.values()), strict=False):
        doing()
        if number in (100, 1000):
            gc.collect()
            found[f"after {number}"] = resident_mb()
    found["peak"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    return found


def resident_mb() -> int:
    with open("/proc/self/statm") as file:
        return int(file.read().split()[1]) * resource.getpagesize() // 2**20


def main() -> None:
    name, only = sys.argv[1], sys.argv[2]
    make_or_open(name)
    with mock.patch("django.utils.timezone.now", return_value=NOW):
        client = Client()
        builders.sign_in(client)
        found = doings(client)
        wanted = {key: found[key] for key in (only.split(",") if only else found)}
        look_for_garbage_seldom()
        for line in sys.stdin:
            answer = {
                "ready": lambda: "ready",
                "count": lambda: count(wanted),
                "round": lambda: one_round(wanted, client),
                "memory": lambda: memory(wanted),
            }[line.strip()]()
            print(json.dumps(answer), flush=True)


if __name__ == "__main__":
    main()
