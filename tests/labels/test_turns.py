"""One picture at a time, one that waits, and the rest is told to come again."""

import threading

import pytest

from inventory.labels.read import NoPicture
from inventory.labels.turns import Turns
from tests.serving import LIMIT_S


def busy(turns: Turns, patience_s: float = 0) -> bool:
    try:
        with turns.take(patience_s):
            return False
    except NoPicture as error:
        return error.reason == "busy"


def test_a_picture_waits_for_the_one_before_it_and_a_third_does_not():
    turns, waiting, looked = Turns(), threading.Event(), threading.Event()

    def second():
        waiting.set()
        with turns.take(LIMIT_S) as alone:
            assert alone
            looked.set()

    thread = threading.Thread(target=second)
    with turns.take(0) as alone:
        assert alone
        assert busy(turns)  # would wait, but has no patience
        thread.start()
        waiting.wait(LIMIT_S)
        while turns._here < 2:
            pass
        assert busy(turns, LIMIT_S)  # a third is refused at once
        assert not looked.is_set()
    thread.join(LIMIT_S)
    assert looked.is_set()
    assert not busy(turns)


def test_a_picture_that_fails_gives_its_turn_back():
    turns = Turns()
    with pytest.raises(ValueError, match="torn"), turns.take(0):
        raise ValueError("torn")
    assert not busy(turns)
