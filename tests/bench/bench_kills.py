"""Twenty kills of a server while five people write: see tests/test_killed.py.

.venv/bin/python -m tests.bench.bench_kills
"""

import os
import sys

import pytest

if __name__ == "__main__":
    os.environ["COLDROOM_KILLS"] = "20"
    sys.exit(pytest.main(["-n0", "-q", "-rPs", "--durations=1", "tests/test_killed.py"]))
