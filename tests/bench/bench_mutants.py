"""Small faults put into the pure rooms one at a time: do the tests notice?

    .venv/bin/python -m tests.bench.bench_mutants             400 faults, drawn by a fixed seed
    .venv/bin/python -m tests.bench.bench_mutants 60          the first 60 of them
    .venv/bin/python -m tests.bench.bench_mutants 400 lives   those in paths that match this

Works in a copy of the tree. Each fault lives in a forked process, in memory alone: first come the
tests of its module, then of its room, then of the other pure rooms. Prints how many were noticed,
and each that was not, with the reason where it is known to change nothing.
"""

import importlib
import os
import re
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path

from tests.bench.faults import Fault, Loader, faults_in

ROOT = Path(__file__).resolve().parents[2]
COUNT, SEED, WORKERS = 400, 8, 2
LONGEST_S = 30  # of processor time: a fault may well run for ever
# Where faults are put, and the tests of that room.
ROOMS = {
    "keeping": "keeping", "rotation": "rotation", "codes": "codes", "learning": "learning",
    "measures.py": "test_measures.py", "ledger/fold.py": "ledger", "ledger/replay.py": "ledger",
    "lives/rooms.py": "lives", "lives/stays.py": "lives", "lives/clocks.py": "lives",
}  # fmt: skip
OPTIONS = [
    "-x", "-q", "--tb=no", "-p", "no:django", "-p", "no:xdist", "-p", "no:cacheprovider",
    "-m", "not simulated", "-W", "ignore::pytest.PytestAssertRewriteWarning",
    "-o", "addopts=", "--hypothesis-profile=faults",
]  # fmt: skip
NOBODY, UNTOLD = 0, 9
NOTICED_BY = {NOBODY: "nobody", 1: "its own room", 2: "another room", -signal.SIGPROF: "the clock",
              UNTOLD: "nobody can say"}  # fmt: skip
# What no test can notice, and why.
CHANGES_NOTHING = {
    "inventory/learning/weibull.py _climb: 1 + abs(here.value) → 2 + abs(here.value)":
        "how close is close enough",
    "inventory/learning/weibull.py : (60, 40) → (61, 40)":
        "a fit is there long before",
    "inventory/learning/weibull.py _middle: end * weight → end / weight":
        "the answer does not depend on where it sets out from",
    "inventory/learning/weibull.py _climb: HIGHEST_SHAPE * 100 → HIGHEST_SHAPE * 101":
        "a shape so high has run away, and goes on to",
    "inventory/keeping/life.py _log_rate: temperature_c <= first[0] → temperature_c < first[0]":
        "at the first point both ways give its own figure",
    "inventory/keeping/life.py _published: len(reference.respiration) >= 2 → "
    "len(reference.respiration) >= 1":
        "a single figure is extended by the same bands",
    "inventory/learning/weibull.py _checked: LOWEST_SHAPE <= shape <= HIGHEST_SHAPE → "
    "LOWEST_SHAPE <= shape < HIGHEST_SHAPE":
        "only a shape of exactly the highest",
    "inventory/keeping/cooling.py : _STEPS_PER_HALF = 32 → _STEPS_PER_HALF = 31":
        "how finely it is added up: either is right to a millionth",
    "inventory/keeping/cooling.py _simpson: end - start → end + start":
        "more steps than needed",
    "inventory/learning/weibull.py _halved: 1e-12 * abs(here.value) → 1e-12 / abs(here.value)":
        "only keeps rounding from mattering",
    "inventory/learning/weibull.py _climb: HIGHEST_SHAPE * 100 → HIGHEST_SHAPE * 99":
        "a shape so high has run away, and goes on to",
    "inventory/learning/weibull.py _add_spans: 0.0 if low is None else low → "
    "1.0 if low is None else low":
        "it is only ever multiplied by nothing",
    "inventory/learning/weibull.py handbook_weibull: ead * HIGHEST_HANDBOOK_SHAPE < between → "
    "ead * HIGHEST_HANDBOOK_SHAPE <= between":
        "where both are equal both ways give the same shape",
    "inventory/keeping/log.py _Counting.take_up: self.day[0][0] < at - DAY_S → "
    "self.day[0][0] <= at - DAY_S":
        "one moment later it is left out of the mean anyway",
    "inventory/ledger/fold.py standing: undoes_id for entry in entries if entry.undoes_id} → "
    "undoes_id for entry in entries}":
        "no entry has the number None",
    "inventory/lives/clocks.py Clocks._frozen_h: ay in self._stays(code, until) if stay.room_id) → "
    "ay in self._stays(code, until))":
        "outside a room no frost is counted anyway",
}  # fmt: skip


def stages(file: str) -> Iterator[tuple[int, list[str]]]:
    """Yield the tests to run one after the other: the module's own, its room's, all others."""
    own = [f"tests/{room}" for path, room in ROOMS.items() if file.startswith(f"inventory/{path}")]
    named = [path for room in own if Path(path := f"{room}/test_{Path(file).name}").exists()]
    if named:
        yield 1, named
    if own:
        yield 1, [*own, *(f"--ignore={path}" for path in named)]
    yield 2, sorted({f"tests/{room}" for room in ROOMS.values()} - {*own})


def noticed(fault: Fault | None) -> int:
    """Run in a process of its own: by whom the fault was noticed, as in NOTICED_BY."""
    import pytest

    signal.setitimer(signal.ITIMER_PROF, LONGEST_S)
    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    os.dup2(quiet, 2)
    if fault:
        fault.swap()
        sys.meta_path.insert(0, Loader(fault))
    for answer, paths in stages(fault.file if fault else ""):
        code = pytest.main([*OPTIONS, *paths])
        if code in {pytest.ExitCode.TESTS_FAILED, pytest.ExitCode.INTERRUPTED}:
            return answer
        if code not in {pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED}:
            return UNTOLD
    return NOBODY


def in_forks(faults: list[Fault | None]) -> Iterator[tuple[Fault | None, int]]:
    waiting, running = faults[::-1], {}
    while waiting or running:
        while waiting and len(running) < WORKERS:
            fault = waiting.pop()
            pid = os.fork()
            if not pid:
                os._exit(noticed(fault))
            running[pid] = fault
        pid, status = os.wait()
        yield running.pop(pid), os.waitstatus_to_exitcode(status)


def draw(count: int, pattern: str) -> list[Fault]:
    paths = [ROOT / "inventory" / room for room in ROOMS]
    files = sorted(file for path in paths for file in (path, *path.glob("*.py")) if file.is_file())
    names = [str(file.relative_to(ROOT)) for file in files if file.name != "__init__.py"]
    found = [fault for name in names for fault in faults_in(ROOT, name)]
    drawn = sorted(found, key=_by_lot)[:COUNT][:count]
    print(f"{len(found)} faults can be put in; {len(drawn)} drawn")
    return [fault for fault in drawn if re.search(pattern, fault.file)]


def _by_lot(fault: Fault) -> str:
    """So that a change of the code changes the draw only where it is."""
    return sha256(f"{SEED} {fault}".encode()).hexdigest()


def settle_in(copy: str) -> None:
    """Work in a copy of the tree from now on, with what the tests need already loaded."""
    for needed in ("pytest", "hypothesis.strategies", "numpy", "scipy.stats"):
        importlib.import_module(needed)
    for part in ("inventory", "tests"):
        shutil.copytree(ROOT / part, Path(copy, part))
    shutil.copy(ROOT / "pyproject.toml", copy)
    os.chdir(copy)
    sys.path[0] = copy
    sys.dont_write_bytecode = False  # so that each test file is read once
    for name in [name for name in sys.modules if name.split(".")[0] == "tests"]:
        del sys.modules[name]


def main(count: int = COUNT, pattern: str = "") -> None:
    started, tally = time.monotonic(), Counter[str]()
    faults = draw(int(count), pattern)
    with tempfile.TemporaryDirectory() as copy:
        settle_in(copy)
        if next(in_forks([None]))[1] != NOBODY:
            sys.exit("The tests fail without any fault.")
        for fault, code in in_forks(faults):
            told = " ".join(str(fault).split())
            reason = CHANGES_NOTHING.get(told, "")
            tally[NOTICED_BY[code] + " (it changes nothing)" * bool(reason)] += 1
            if code in {NOBODY, UNTOLD}:
                line = getattr(fault.parent, "lineno", 0)
                print(f"line {line} of {told}: {reason or '?'}", flush=True)
    print(f"{len(faults)} in {time.monotonic() - started:.0f} s, noticed by:", dict(tally))


if __name__ == "__main__":
    main(*sys.argv[1:])
