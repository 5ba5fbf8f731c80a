"""Guesses are slowed, never locked out."""

from datetime import timedelta

import pytest

from inventory.actions.people import begin_guess, forget_guesses, wait_after
from inventory.errors import Refused
from tests.builders import NOW
from tests.refusing import refused

pytestmark = pytest.mark.django_db


def test_waits_grow_and_stop_growing():
    waits = [wait_after(count).total_seconds() for count in range(40)]
    assert waits[:6] == [0, 0, 0, 2, 4, 8]
    assert waits == sorted(waits)
    assert waits[-1] == 300


def test_the_fourth_guess_waits_and_may_then_go_on():
    for _ in range(3):
        begin_guess("phone-1", "Ada", NOW)
    with refused(Refused("wait", seconds=2)):
        begin_guess("phone-1", "ADA", NOW + timedelta(seconds=1))
    begin_guess("phone-1", "Ada", NOW + timedelta(seconds=2))
    begin_guess("phone-2", "Ada", NOW)
    forget_guesses("phone-1", "Ada")
    begin_guess("phone-1", "Ada", NOW)
