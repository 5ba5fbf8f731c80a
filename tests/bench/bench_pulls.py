"""The pull plan beside a general solver, in one run.

    .venv/bin/python -m tests.bench.bench_pulls

Prints milliseconds of processor time, the least of three plans, beside scipy.optimize.milp, which
is only asked for the most filled and then the least life shipped, its rows and columns written
down beforehand; the plan settles turns, rotation, harvests and opened crates as well. Both have
the same fill and life, or it says DIFFERS. Then what is slower, and what is not exact. Asserts
nothing. About two minutes.
"""

import time

from inventory.rotation import plan_pulls
from tests.rotation.books import Solver, figures, life_of, made_book

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


def beside_the_solver(name: str, alike: bool, book) -> None:
    ours_ms, plan = quickest(plan_pulls, *book)
    theirs_ms, best = timed(solved, Solver(*book))
    kind = "alike" if alike else "different"
    print(f"{name:38}{kind:10}{ours_ms:8.1f}{theirs_ms:8.0f}{theirs_ms / ours_ms:7.0f}", end="")
    far = [abs(a - b) / max(1, abs(b)) for a, b in zip(figures(plan, *book), best, strict=True)]
    print("" if max(far) < 1e-6 else f"  DIFFERS {figures(plan, *book)} {best}", flush=True)


if __name__ == "__main__":
    main()
