"""The plan of a whole order book from the records, and how far one crate's going moves it.

    .venv/bin/python -m tests.bench.bench_book
    .venv/bin/python -m tests.bench.bench_book demo

500 crates of 12 crops, cut over two weeks, and 60 lines of 12 orders; CPU time, medians. With
"demo" the demo's book instead: each crate that may go is taken away in turn, and the other takes
that change counted.
"""

import os
import random
import statistics
import sys
import time

os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"

import django

django.setup()

from collections.abc import Callable  # noqa: E402
from datetime import UTC, datetime, timedelta  # noqa: E402
from decimal import Decimal  # noqa: E402

from django.core.management import call_command  # noqa: E402
from django.test.utils import setup_test_environment  # noqa: E402

from inventory.demo import load_demo  # noqa: E402
from inventory.models import Crop, Farm, Lot, Outlet, Position  # noqa: E402
from inventory.queries.book import BookPlan, Wanted, plan_book  # noqa: E402
from inventory.queries.crates import crates_here  # noqa: E402
from tests import builders  # noqa: E402

CROPS = [
    "kale", "swiss-chard", "spinach", "lettuce-romaine", "salad-mix", "arugula", "beet-topped",
    "radish-bunched", "basil", "parsley", "leek", "napa-cabbage",
]  # fmt: skip
CRATES, ORDERS, LINES = 500, 12, 5
TIMES = 15


def main() -> None:
    setup_test_environment()
    call_command("migrate", verbosity=0)
    now = datetime.now(UTC)
    farm = builders.make_farm()
    fill(now)
    given = crates_here(farm, now)
    plan = plan_book(farm, now)
    print(f"{len(given)} crates, {sum(len(order.lines) for order in plan.orders)} lines,")
    print(f"{len(plan.takes)} takes, {len(plan.shorts)} lines short")
    tell("lives alone", lambda: crates_here(farm, now))
    tell("plan, lives given", lambda: plan_book(farm, now, here=given))
    tell("plan with lives", lambda: plan_book(farm, now))
    one = {Crop.objects.get(reference_key=CROPS[0]).pk}
    tell("plan of one crop, as a scan asks", lambda: plan_book(farm, now, one))


def fill(now: datetime) -> None:
    """Crates cut over two weeks, and orders of the coming week, by a seed."""
    chance = random.Random(11)
    Position.objects.update(capacity=10_000)
    for number in range(CRATES // 5):
        key = CROPS[number % len(CROPS)]
        cut = now - timedelta(hours=chance.uniform(1, 14 * 24))
        builders.make_lots(*[chance.choice((6, 10, 12))] * 5, key=key, at=cut)
    for number in range(ORDERS):
        outlet = Outlet.objects.create(
            name=f"Kitchen {number}", minimum_days=chance.choice((0, 2, 4)),
            kind=chance.choice(("kitchen", "kitchen", "market")),
        )  # fmt: skip
        lines = [
            Wanted(builders.crop(key), Lot.objects.filter(crop=builders.crop(key)).first().unit,
                   Decimal(chance.choice((6, 12, 20, 30))))
            for key in chance.sample(CROPS, LINES)
        ]  # fmt: skip
        act = builders.act(now - timedelta(minutes=number))
        builders.say_order(
            act, outlet=outlet, lines=lines, due=act.today + timedelta(days=chance.randrange(7))
        )


def tell(what: str, do: Callable[[], object]) -> None:
    times = []
    for _ in range(TIMES):
        start = time.process_time()
        do()
        times.append(time.process_time() - start)
    print(f"{what:34} {statistics.median(times) * 1000:7.1f} ms")


def takes(plan: BookPlan, without: str = "") -> set[tuple[str, str, Decimal]]:
    return {
        (take.line.id, take.crate.code, take.quantity)
        for take in plan.takes
        if take.crate.code != without
    }


def stability() -> None:
    """Take each crate that may go out of the demo's book in turn; count the takes that change.

    A take of another crate changes where that line no longer gets just that of it. Counted besides:
    the larger of these and of all takes that are new, so what comes in place of the crate too.
    """
    call_command("migrate", verbosity=0)
    now = datetime.now(UTC)
    load_demo(now, "not needed here")
    farm = Farm.objects.get()
    here = crates_here(farm, now)
    whole = plan_book(farm, now, here=here)
    others, all_told = [], []
    for gone in whole.crates:
        rest = [crate for crate in here if crate.code != gone.code]
        before, after = takes(whole, gone.code), takes(plan_book(farm, now, here=rest))
        others.append(len(before - after))
        all_told.append(max(len(before - after), len(after - before)))
    print(f"{len(others)} crates taken away one by one, {len(takes(whole))} takes in all;")
    for what, changes in (("other takes change", others), ("with those in its place", all_told)):
        few = sum(1 for change in changes if change <= 3)
        print(f"at most 3 {what}: {few}, {few / len(changes):.1%}; the most {max(changes)}")


if __name__ == "__main__":
    stability() if "demo" in sys.argv else main()
