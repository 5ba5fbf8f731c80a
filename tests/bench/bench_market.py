"""What the load rule loses on simulated markets, beside loading what was sold last time.

    .venv/bin/python -m tests.bench.bench_market [FARMS]

Prints per setting the share of the best constant load's margin (tests/rotation/markets.py) that
farms lose by the rule over twelve markets, what one farm in ten loses more than, the most it should
be, the same of "last week's sales", and the rule's loss as a share of what the best load gains over
loading nothing, which is harder. Asserts nothing. A quarter of a minute for 1,000 farms.
"""

import sys
import time

from tests.rotation.markets import MOST_LOST, as_last_week, by_the_rule, cells, losses
from tests.rotation.markets import mean_and_worst_tenth as told


def main() -> None:
    farms = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    started = time.process_time()
    print(
        "spread  ratio  guess    rule  worst tenth   at most    last week  worst tenth    of gain"
    )
    for market, guess in cells():
        rule, worst = told(losses(market, guess, farms, by_the_rule))
        last, last_worst = told(losses(market, guess, farms, as_last_week))
        print(
            f"{market.spread:6.1f} {market.ratio:6.2f} {guess:6.1f} {rule:7.1%} {worst:12.1%}"
            f" {MOST_LOST[guess]:9.0%} {last:12.1%} {last_worst:12.1%}"
            f" {rule * market.margin / market.best:10.1%}",
            flush=True,
        )
    print(f"{time.process_time() - started:.0f} s")


if __name__ == "__main__":
    main()
