"""The pages of the demo farm, beside a view that does nothing, in one run.

    .venv/bin/python -m tests.bench.bench_pages

Loads the demo into a data folder of its own. Prints medians of CPU time and ratios.
"""

import os
import statistics
import time

os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"

import django

django.setup()

from datetime import UTC, datetime  # noqa: E402
from uuid import uuid4  # noqa: E402

from django.core.management import call_command  # noqa: E402
from django.test import Client  # noqa: E402

from inventory.demo import OWNER, load_demo  # noqa: E402
from inventory.models import Lot, Movement, Order, Person  # noqa: E402
from tests import builders  # noqa: E402

TIMES = 25


def main() -> None:
    call_command("migrate", verbosity=0)
    load_demo(datetime.now(UTC), "not needed here")
    client = Client()
    builders.sign_in(client, Person.objects.get(name=OWNER))
    bare = median(lambda: client.get("/healthz"))
    print(f"{'/healthz':24} {bare:7.1f} ms")
    for path in addresses():
        tell(path, median(lambda path=path: client.get(path)), bare)
    tell("a scan for market", median(lambda: take_and_undo(client)), bare)


def addresses() -> list[str]:
    lot = Lot.objects.filter(state=Lot.State.IN_PLACE).order_by("pk").first()
    pull = Order.objects.filter(closed_at=None).first()
    return [
        "/", f"/L/{lot.pk}", f"/L/{lot.pk}/take-out", f"/P/{lot.position_id}", "/rooms", "/rooms/1",
        "/pull", f"/pull/{pull.pk}", "/market", "/week", "/ledger", "/in/harvest", "/put-away",
        "/labels/reprint", "/count", "/settings/crops", "/scan/market",
    ]  # fmt: skip


def take_and_undo(client: Client) -> None:
    """Scan a crate for market and take it back, so that the next finds the farm as it was."""
    lot = Lot.objects.filter(state=Lot.State.IN_PLACE, held=False).order_by("pk").first()
    scan = {"entry": uuid4(), "text": lot.pk, "overrule": lot.pk}
    client.post("/scan/market", scan)
    taken = Movement.objects.filter(kind="out", lot=lot).latest("pk")
    client.post(f"/undo/{taken.action_id}", {"entry": uuid4()})


def median(doing) -> float:
    """Return the median CPU time of doing it. [ms]"""
    doing()
    times = []
    for _ in range(TIMES):
        start = time.process_time()
        doing()
        times.append((time.process_time() - start) * 1000)
    return statistics.median(times)


def tell(name: str, took_ms: float, bare_ms: float) -> None:
    print(f"{name[:24]:24} {took_ms:7.1f} ms, {took_ms / bare_ms:5.1f} times a bare view")


if __name__ == "__main__":
    main()
