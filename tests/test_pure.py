"""The pure packages import the standard library and one another, and nothing else."""

import subprocess
import sys

import pytest

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
PURE = ("keeping", "rotation", "codes", "logger_files", "measures", "errors")


@pytest.mark.parametrize("package", PURE)
def test_a_pure_package_brings_nothing_along(package):
    command = [sys.executable, "-S", "-c", LOAD, f"inventory.{package}"]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    foreign, ours = done.stdout.splitlines()
    assert foreign == ""
    assert f"inventory.{package}" in ours.split()
    assert {name.split(".")[1] for name in ours.split()} <= set(PURE)
