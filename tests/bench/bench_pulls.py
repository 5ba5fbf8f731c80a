"""The pull plan beside a general solver, in one run.

    .venv/bin/python -m tests.bench.bench_pulls

Prints milliseconds of processor time, the least of three plans, beside scipy.optimize.milp, which
is only asked for the most filled and then the least life shipped, its rows and columns written
down beforehand; the plan settles turns, rotation, harvests and opened crates as well. Both have
the same fill and life, or it says DIFFERS. Then what is slower, and what is not exact. Asserts
nothing. About two minutes.
"""

import random
import time
from collections import Counter, defaultdict
from decimal import Decimal

from inventory.rotation import PullLine, PullLot, plan_pulls
from inventory.rotation.lines import eligible
from tests.rotation.books import (
    MixedSolver,
    Solver,
    changed,
    fewest_opened,
    figures,
    life_of,
    made_book,
    opened,
)

OPENED_CASES, WHOLE_CASES = 200, 200
SLOWER = ((40, 12), (200, 40), (500, 100))

CASES = {
    "500 lots x 100 lines of one crop": {"lots": 500, "lines": 100},
    "the same, more wanted than there is": {"lots": 500, "lines": 100, "wanted": 1.5},
    "one line, half of 2,000 lots": {"lots": 2000, "lines": 1, "wanted": 0.5},
    "2,000 lots x 500 lines, 60 crops": {"lots": 2000, "lines": 500, "crops": 60},
    "500 lots x 60 lines, 12 crops": {"lots": 500, "lines": 60, "crops": 12},
}  # fmt: skip


def timed(function, *args):
    started = time.process_time()
    answer = function(*args)
    return 1000 * (time.process_time() - started), answer


def quickest(function, *args):
    return min((timed(function, *args) for _ in range(3)), key=lambda run: run[0])


def solved(solver: Solver) -> tuple[float, float]:
    filled = -solver.met(lambda lot, line: -1)
    return filled, solver.least(solver.weights(life_of))


def main() -> None:
    print(f"{'':38}{'lives':10}{'plan':>8}{'milp':>8}{'times':>7}")
    for name, case in CASES.items():
        for alike in (False, True):
            beside_the_solver(name, alike, made_book(alike=alike, **case))
    for lots, lines in SLOWER:
        lots, lines = made_book(lots, lines, alike=True)
        fresh = [changed(line, freshest=number % 4 == 0) for number, line in enumerate(lines)]
        name = f"{len(lots)} x {len(lines)}, 1 in 4 the freshest"
        beside_the_solver(name, True, (lots, fresh))
    for lots, lines in SLOWER:
        lots, lines = made_book(lots, lines)
        whole = [changed(line, whole=number % 2 == 0) for number, line in enumerate(lines)]
        ours_ms, _ = quickest(plan_pulls, lots, whole)
        print(f"{f'{len(lots)} lots x {len(lines)} lines, half of them whole':48}{ours_ms:8.1f}")
    crates_opened()
    for wanted in (0.5, 0.8, 1.0):
        what_whole_crates_cost(wanted)


def beside_the_solver(name: str, alike: bool, book) -> None:
    ours_ms, plan = quickest(plan_pulls, *book)
    theirs_ms, best = timed(solved, Solver(*book))
    kind = "alike" if alike else "different"
    print(f"{name:38}{kind:10}{ours_ms:8.1f}{theirs_ms:8.0f}{theirs_ms / ours_ms:7.0f}", end="")
    far = [abs(a - b) / max(1, abs(b)) for a, b in zip(figures(plan, *book), best, strict=True)]
    print("" if max(far) < 1e-6 else f"  DIFFERS {figures(plan, *book)} {best}", flush=True)


def crates_opened() -> None:
    """Harvests of more crates than every choice is tried of, not all good for the same lines."""
    counts = Counter()
    for seed in range(OPENED_CASES):
        lots, lines = one_harvest(random.Random(seed))
        by_id, got = {line.id: line for line in lines}, defaultdict(Decimal)
        takes = plan_pulls(lots, lines).takes
        for take in takes:
            got[take.line] += take.quantity
        fewest = fewest_opened(lots, got, lambda lot, id, by_id=by_id: eligible(lot, by_id[id]))
        counts[opened(lots, [(take.lot, take.quantity) for take in takes]) - fewest] += 1
    told = ", ".join(f"{more} too many: {counts[more]}" for more in sorted(counts))
    print(f"opened, {OPENED_CASES} harvests of 13 to 20 crates for 3 lines: {told}")


def one_harvest(chance: random.Random) -> tuple[list[PullLot], list[PullLine]]:
    """Crates that keep as long where they stand, but not all long enough for every line."""
    ids = ("a", "b", "c")
    lots = [
        PullLot(
            f"L{n:02}", "kale", Decimal(chance.randrange(40, 200)) / 10,
            {id: chance.choice((9, 9, 1)) for id in ids}, part=chance.random() < 0.1, walk=n,
        )
        for n in range(chance.randrange(13, 21))
    ]  # fmt: skip
    return lots, [PullLine(id, "kale", Decimal(chance.randrange(20, 60)), 5) for id in ids]


def what_whole_crates_cost(wanted: float) -> None:
    """Small mixed books, beside the most that could be filled: firm lines first, then in all."""
    gaps: dict[str, list[float]] = {"firm lines": [], "all lines": []}
    for seed in range(WHOLE_CASES):
        lots, lines = made_book(10, 5, seed=seed, wanted=wanted)
        lines = [changed(line, whole=number % 2 == 0) for number, line in enumerate(lines)]
        firm = {line.id for line in lines if line.firm}
        plan, best = plan_pulls(lots, lines), MixedSolver(lots, lines)
        most_firm = -best.met(lambda lot, line: -line.firm)
        most = -best.met(lambda lot, line: -1)
        got_firm = sum(float(take.quantity) for take in plan.takes if take.line in firm)
        gaps["firm lines"].append(gap(got_firm, most_firm))
        gaps["all lines"].append(gap(figures(plan, lots, lines)[0], most))
    print(f"{WHOLE_CASES} books of 10 crates and 5 lines, 3 of them whole, ", end="")
    print(f"{100 * wanted:.0f} % of all wanted, filled less than could be:")
    for name, found in gaps.items():
        as_much = sum(one < 1e-6 for one in found)
        print(
            f"  {name}: {100 * sum(found) / len(found):.1f} %, at most {100 * max(found):.0f} %, "
            f"as much in {as_much} books"
        )


def gap(ours: float, most: float) -> float:
    return (most - ours) / most if most else 0


if __name__ == "__main__":
    main()
