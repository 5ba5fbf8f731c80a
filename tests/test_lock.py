"""One server a data folder."""

import os

import pytest

from coldroom.faults import CannotStart
from coldroom.lock import serving


def test_a_folder_is_served_once_at_a_time(tmp_path):
    with serving(tmp_path):
        refused = pytest.raises(CannotStart, match=rf"already, by process {os.getpid()}\. Stop")
        with refused, serving(tmp_path, wait_s=0):
            raise AssertionError("served twice")
        assert (tmp_path / "lock").stat().st_mode & 0o077 == 0
    with serving(tmp_path, wait_s=0):
        pass


def test_it_waits_for_one_that_is_just_ending(tmp_path, monkeypatch):
    first = serving(tmp_path)
    first.__enter__()
    monkeypatch.setattr("coldroom.lock.time.sleep", lambda _s: first.__exit__(None, None, None))
    with serving(tmp_path, wait_s=60):
        pass
