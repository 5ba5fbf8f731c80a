"""The rooms of the house: who may import whom, and which rooms are pure."""

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent

PURE_ROOMS = (
    "keeping", "learning", "rotation", "codes", "logger_columns", "logger_files", "measures",
    "order_text", "order_words", "errors",
)  # fmt: skip
PURE_FILES = (
    "ledger.fold", "ledger.replay", "lives.rooms", "lives.stays", "lives.clocks",
    "lives.losses", "upkeep.due",
)  # fmt: skip
_GROUND = {*PURE_ROOMS, "models"}
_READS = {*_GROUND, "ledger", "lives", "labels", "queries"}
_WRITES = {*_READS, "actions"}

# From each room, the rooms (or the one file of a room) it may look into. Arrows run one way.
MAY_IMPORT = {
    **{room: set(PURE_ROOMS) for room in PURE_ROOMS},
    "rotation": {*PURE_ROOMS, "inventory.ledger.fold"},
    "models": _GROUND,
    "ledger": {*_GROUND, "ledger"},
    "lives": {*_GROUND, "ledger", "lives"},
    "labels": {*PURE_ROOMS, "labels"},
    "queries": {*_READS, "inventory.upkeep.due"},
    "words": {*_READS, "words"},
    "actions": _WRITES,
    "upkeep": {*_WRITES, "words", "upkeep"},
    "forms": {*_WRITES, "words", "forms"},
    "demo": {*_WRITES, "demo"},
    "middleware": {*_GROUND, "words", "inventory.lives.logs"},
    "templatetags": {*PURE_ROOMS, "words"},
    "views": {*_WRITES, "words", "forms", "upkeep", "views"},
    "management": {*_WRITES, "words", "upkeep", "demo", "management"},
    "urls": {"views"},
    "migrations": {*PURE_ROOMS, "models"},
}


def imports(file: Path) -> Iterator[str]:
    """Yield every module of ours that a file imports, anywhere in it."""
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module == "inventory":
            yield from (f"inventory.{name.name}" for name in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
        elif isinstance(node, ast.Import):
            yield from (name.name for name in node.names)


def room_of(module: str) -> str:
    return module.split(".")[1] if module.startswith("inventory.") else ""


def test_arrows_between_rooms_run_one_way():
    wrong = []
    for file in sorted((ROOT / "inventory").rglob("*.py")):
        room = room_of(".".join(file.relative_to(ROOT).with_suffix("").parts))
        if room == "__init__":
            continue
        wrong += [
            f"{file.relative_to(ROOT)}: {module}"
            for module in imports(file)
            if room_of(module) and not {room_of(module), module} & MAY_IMPORT[room]
        ]
    assert wrong == []


def test_the_project_knows_no_rooms_but_its_pages():
    found = {module for file in (ROOT / "coldroom").glob("*.py") for module in imports(file)}
    assert {room_of(module) for module in found} == {""}


# Loads every module of a package in a fresh interpreter and names what came along.
LOAD = """
import importlib, pkgutil, sys
package = importlib.import_module(sys.argv[1])
for module in pkgutil.walk_packages(getattr(package, "__path__", []), package.__name__ + "."):
    importlib.import_module(module.name)
tops = {name.partition(".")[0] for name in sys.modules}
print(*sorted(tops - sys.stdlib_module_names - {"inventory", "__main__"}))
print(*sorted(name for name in sys.modules if name.startswith("inventory.")))
"""


@pytest.mark.parametrize("package", [*PURE_ROOMS, *PURE_FILES])
def test_a_pure_package_brings_nothing_along(package):
    command = [sys.executable, "-S", "-c", LOAD, f"inventory.{package}"]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    foreign, ours = done.stdout.splitlines()
    assert foreign == ""
    assert f"inventory.{package}" in ours.split()
    empty = {name.rpartition(".")[0] for name in PURE_FILES}
    names = {name.removeprefix("inventory.") for name in ours.split()}
    assert {
        name for name in names if name.split(".")[0] not in PURE_ROOMS
    } <= {*PURE_FILES, *empty}  # fmt: skip


# Rooms whose every module has its tests in the file of its name.
TESTED_ROOMS = ("keeping", "learning", "rotation", "codes", "ledger", "lives", "actions")


def modules_to_test() -> list[str]:
    files = [file for room in TESTED_ROOMS for file in (ROOT / "inventory" / room).glob("*.py")]
    return sorted(f"{file.parent.name}.{file.stem}" for file in files if file.stem != "__init__")


@pytest.mark.parametrize("module", modules_to_test())
def test_a_module_is_tested_in_the_file_of_its_name(module):
    room, _, name = module.partition(".")
    file = ROOT / "tests" / room / f"test_{name}.py"
    assert file.exists()
    assert "\ndef test_" in file.read_text(encoding="utf-8")
