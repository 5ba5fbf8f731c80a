"""How often the interval holds the truth in simulated farms, and what an estimate costs.

    .venv/bin/python -m tests.bench.bench_learning [FARMS]

Prints per setting how many of 100 intervals hold the true age by which one in ten has gone, how
many lie wholly above or below it, and milliseconds of one estimate. Asserts nothing. About five
minutes for 300 farms.
"""

import sys
import time

from inventory.learning import farm_estimate
from tests.learning.farms import HANDBOOK, farm_with_a_loss, seeds, true_lives

OFTEN, SELDOM = (0.3, 0.8), (0.5, 0.95)  # of what it cuts a farm sells: much or little is lost


def main() -> None:
    farms = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    print("sold            harvests  truth  lost   holds  above  below   low  middle  upper")
    for demand in (OFTEN, SELDOM):
        for harvests in (6, 20):
            for share in (1.0, 0.8):
                print_coverage(farms, harvests, share, demand)
    print_cost()


def print_coverage(farms: int, harvests: int, share: float, demand: tuple[float, float]) -> None:
    truth = true_lives(share)
    true_days = truth.age_at(0.1)
    above = below = lost = 0
    sums = [0.0, 0.0, 0.0]
    for chance in seeds(farms, harvests, share, demand):
        farm = farm_with_a_loss(chance, truth, harvests, demand=demand)
        found = farm_estimate(farm, *HANDBOOK)
        ends = (found.low_days, found.middle_days, found.upper_days)
        above += ends[0] > true_days
        below += ends[2] < true_days
        lost += sum(crate.gone for harvest in farm for crate in harvest.crates)
        sums = [total + end for total, end in zip(sums, ends, strict=True)]
    of_100 = [100 * count / farms for count in (farms - above - below, above, below)]
    print(
        f"{demand[0]:.2f} to {demand[1]:.2f} {harvests:11d} {share:6.1f}"
        f" {100 * lost / farms / harvests / 5:4.0f} %"
        + "".join(f"{figure:7.1f}" for figure in of_100)
        + "".join(f"{total / farms:7.2f}" for total in sums),
        flush=True,
    )


def print_cost() -> None:
    for harvests in (6, 20, 60):
        (chance,) = seeds(1, "cost")
        farm = farm_with_a_loss(chance, true_lives(1.0), harvests)
        started = time.process_time()
        farm_estimate(farm, *HANDBOOK)
        print(f"{harvests * 5:4d} crates: {1000 * (time.process_time() - started):6.0f} ms")


if __name__ == "__main__":
    main()
