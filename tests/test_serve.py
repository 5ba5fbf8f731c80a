"""What is left when a server is killed: nothing."""

import subprocess
import sys

from tests.serving import LIMIT_S, ROOT

# A parent that makes a child as the server makes its worker, says so, and waits to be killed.
PARENT = """
import os, time
from coldroom.serve import end_with
parent = os.getpid()
if os.fork() == 0:
    end_with(parent)
    print("child", flush=True)
time.sleep(600)
"""


def test_a_worker_whose_parent_was_killed_ends():
    with subprocess.Popen([sys.executable, "-c", PARENT], cwd=ROOT, stdout=subprocess.PIPE) as made:
        assert made.stdout.readline() == b"child\n"
        made.kill()
        # The pipe ends when nobody is left who could write to it.
        assert made.communicate(timeout=LIMIT_S)[0] == b""
