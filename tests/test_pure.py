"""The pure packages load without Django."""

import subprocess
import sys

import pytest


@pytest.mark.parametrize(
    "package", ["keeping", "rotation", "codes", "logger_files", "measures", "errors"]
)
def test_a_pure_package_brings_no_django(package):
    code = f"import sys, inventory.{package}; sys.exit('django' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
