"""Two thousand odd requests to every address and form: see tests/views/test_fuzz.py.

.venv/bin/python -m tests.bench.bench_fuzz
"""

import os
import sys

import pytest

if __name__ == "__main__":
    os.environ["COLDROOM_FUZZ"] = "2000"
    sys.exit(pytest.main(["-n0", "-q", "--durations=1", "tests/views/test_fuzz.py"]))
