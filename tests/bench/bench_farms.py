"""Pages and scans on farms with a past: one year of it, three years, and 5,000 crates at once.

    .venv/bin/python -m tests.bench.bench_farms FOLDER [--runs 30] [--only home,crate] [--many]
        [--memory]

Builds each farm in FOLDER the first time (up to five minutes), then runs page after page on copies
of them in turn, each beside a bare view, so that a run leaves nothing for the next to find. Prints
medians of CPU time in bare views, the ratio of three years to one, queries, rows read, and how much
the database did for them. Ends in an error where queries or rows of a page are others after three.
--many: also 5,000 crates at once. --memory: after 100 and 1,000 mixed requests instead.
"""

import argparse
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

# It looks back at the last 300 crates of a crop, further than the farms are alike.
READS_ANOTHER_PAST = {"crop form"}
TOO_MUCH = {"week": 1.5, "ledger crop": 1.5, "ledger person": 1.5, "ledger tail": 1.5}


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("folder", type=Path)
    parser.add_argument("--runs", type=int, default=30)
    parser.add_argument("--only", default="")
    parser.add_argument("--many", action="store_true")
    parser.add_argument("--memory", action="store_true")
    asked = parser.parse_args()
    names = ["three"] if asked.memory else ["year", "three", *(["many"] if asked.many else [])]
    farms = {name: Farm(asked.folder / name, name, asked.only) for name in names}
    if asked.memory:
        print(farms["three"].ask("memory"))
    else:
        tell(farms, asked.runs)
    for farm in farms.values():
        farm.end()


class Farm:
    """A farm in a process of its own, which answers one line with one line."""

    def __init__(self, folder: Path, name: str, only: str):
        folder.mkdir(parents=True, exist_ok=True)
        self._start(folder, name, only)
        self.end()
        self._copy = tempfile.TemporaryDirectory()
        self._start(Path(shutil.copytree(folder, Path(self._copy.name) / name)), name, only)

    def _start(self, folder: Path, name: str, only: str) -> None:
        env = os.environ | {"COLDROOM_BENCH": str(folder), "PYTHONHASHSEED": "0"}
        command = [sys.executable, "-m", "tests.bench.farm_pages", name, only]
        self._process = subprocess.Popen(
            command, env=env, text=True, stdin=subprocess.PIPE, stdout=subprocess.PIPE
        )
        self.ask("ready")

    def ask(self, what: str) -> dict:
        self._process.stdin.write(what + "\n")
        self._process.stdin.flush()
        answer = self._process.stdout.readline()
        if not answer:
            raise SystemExit("a farm gave up; its error stands above")
        return json.loads(answer)

    def end(self) -> None:
        self._process.stdin.close()
        self._process.wait()


def tell(farms: dict[str, Farm], runs: int) -> None:
    counts = {name: farm.ask("count") for name, farm in farms.items()}
    rounds: dict[str, list[dict]] = {name: [] for name in farms}
    for _ in range(runs):
        for name, farm in farms.items():
            rounds[name].append(farm.ask("round"))
    heads = "".join(f"{name + ' x bare':>14}" for name in farms)
    print(f"{'page':22}{heads}{'three/year':>11}   queries, rows, database steps in thousands")
    for page in counts["year"]:
        medians = {
            name: statistics.median(run[page][0] / run[page][1] for run in found)
            for name, found in rounds.items()
        }
        growth = medians["three"] / medians["year"]
        figures = "".join(f"{medians[name]:14.1f}" for name in farms)
        mark = "!" if growth > TOO_MUCH.get(page, 1.2) else " "
        did = "   ".join("{:>4} {:>6} {:>7}".format(*counts[name][page]) for name in farms)
        print(f"{page:22}{figures}{growth:10.2f}{mark}   {did}")
    differ = [
        page
        for page in counts["year"].keys() - READS_ANOTHER_PAST
        if counts["year"][page][:2] != counts["three"][page][:2]
    ]
    for name, found in rounds.items():
        bare = statistics.median(run[page][1] for run in found for page in run)
        print(f"a bare view, {name}: {bare * 1000:.1f} ms CPU")
        for page in counts[name].keys() & {"ledger.csv"}:
            seconds = statistics.median(run[page][0] for run in found)
            print(f"{page}, {name}: {seconds / counts[name][page][1] * 1e6:.0f} us CPU a row")
    assert not differ, f"queries or rows grow with the past: {differ}"


if __name__ == "__main__":
    start = time.perf_counter()
    main()
    print(f"in {time.perf_counter() - start:.0f} s")
