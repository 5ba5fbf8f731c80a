"""What is left of a server that is killed, and what one bears whose phones went out of reach."""

import os
import socket
import subprocess
import sys
import threading
import time
from contextlib import ExitStack
from pathlib import Path

import pytest

from coldroom.serve import _looks_after, _Server
from tests.serving import LIMIT_S, ROOT, Served, started

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


def test_a_signal_is_heard_though_another_came_in_the_same_instant():
    """Whatever its own thread was at then: it holds the lock of the event, or not."""
    server = _Server("x")

    def told_twice() -> None:
        with server.main_loop_interrupt._cond:
            server.signal_handler_interrupt()
            server.signal_handler_interrupt()

    told = threading.Thread(target=told_twice, daemon=True)
    told.start()
    told.join(30)
    assert not told.is_alive()
    assert server.main_loop_interrupt.wait(LIMIT_S)
    assert server.interrupt_signal


HALF_A_FORM = (
    b"POST /sign-in HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 1000\r\n"
    b"Content-Type: application/x-www-form-urlencoded\r\n\r\nname=Ada"
)
LOOKS_AFTER = "02"  # "tr" of proc(5), /proc/net/tcp: a timer that is none for sending again
TICK_S, HALF_A_MINUTE_S = 0.01, 30


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux is asked to look")
def test_the_system_looks_whether_a_phone_in_the_middle_of_a_form_is_still_there(tmp_path):
    with started(tmp_path) as served, ExitStack() as open_still:
        served.answer(f"{served.address}/healthz")

        def stop_in_a_form() -> int:
            phone = socket.create_connection(("127.0.0.1", served.port), LIMIT_S)
            open_still.enter_context(phone).sendall(HALF_A_FORM)
            return phone.getsockname()[1]

        until = time.monotonic() + LIMIT_S
        while _timers(served, {stop_in_a_form()}) != {LOOKS_AFTER}:
            assert time.monotonic() < until
            time.sleep(0.2)
        assert _timers(served, {stop_in_a_form() for _phone in range(20)}) == {LOOKS_AFTER}
        time.sleep(1)  # or the page is asked for before it has begun to receive them
        assert b"ok" in served.answer(f"{served.address}/healthz")


def _timers(served: Served, ends: set[int]) -> set[str]:
    """Return the timers of the server's connections to some ports."""
    rows = [line.split() for line in Path("/proc/net/tcp").read_text().splitlines()[1:]]
    ports = [[int(address.split(":")[1], 16) for address in row[1:3]] for row in rows]
    found = [
        row[5].split(":")
        for row, (own, other) in zip(rows, ports, strict=True)
        if own == served.port and other in ends
    ]
    assert all(int(ticks, 16) * TICK_S <= HALF_A_MINUTE_S for _timer, ticks in found)
    return {timer for timer, _ticks in found}


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux is asked to look")
def test_to_look_for_the_socket_leaves_nothing_open(tmp_path):
    with socket.socket() as bound, (tmp_path / "file").open("w"):
        bound.bind(("127.0.0.1", 0))
        assert not _looks_after(str(bound.fileno()))
        files = os.listdir("/proc/self/fd")
        for file in files:  # those of tests before among them
            _looks_after(file)
        assert os.listdir("/proc/self/fd") == files
        bound.listen()
        assert _looks_after(str(bound.fileno()))
        assert bound.getsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT) == 60_000
