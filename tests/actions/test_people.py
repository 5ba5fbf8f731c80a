"""Guesses are slowed, never locked out."""

from datetime import timedelta

import pytest

from inventory.actions import people
from inventory.actions.people import (
    LONGEST_WAIT_ANYWHERE,
    NOBODY,
    Door,
    guess,
    note_sign_in,
    pair_phone,
    share_phone,
    unpair_phone,
    wait_after,
)
from inventory.errors import Refused
from inventory.models import Change, Guess, Phone
from inventory.models.people import name_key
from inventory.words.owner import change_words
from tests import builders
from tests.builders import NOW, act
from tests.refusing import refused

pytestmark = pytest.mark.usefixtures("farm")


def try_it(door: Door, right: bool = False, name: str = "Ada", after: float = 0) -> bool:
    """One guess, so many seconds after NOW."""
    return guess(door, name, lambda: right, lambda: NOW + timedelta(seconds=after))


def phone(of: str = "") -> Door:
    person = builders.make_crew(of) if of else builders.owner()
    return Door(pair_phone(person, "phone", NOW), "192.0.2.7")


def test_waits_grow_and_stop_growing():
    waits = [wait_after(count).total_seconds() for count in range(40)]
    assert waits[:6] == [0, 0, 0, 2, 4, 8]
    assert waits == sorted(waits)
    assert waits[-1] == 300


def test_the_fourth_guess_waits_and_may_then_go_on():
    own = phone()
    for _ in range(3):
        assert not try_it(own)
    with refused(Refused("wait", seconds=2)):
        try_it(own, name="ADA", right=True, after=1)
    assert try_it(own, right=True, after=2)
    assert not try_it(own, after=2)
    assert not try_it(own, after=2)


def test_right_ones_at_once_do_not_count_against_each_other():
    """They take turns, nothing is counted before it is checked, and their clocks may disagree."""

    def check() -> bool:
        return people._ONE_GUESS.locked() and not Guess.objects.exists()

    times = iter([NOW + timedelta(seconds=second) for second in (9, 1, 8, 2, 7)])
    for _ in range(5):
        assert guess(Door(None, "192.0.2.7"), "Ada", check, lambda: next(times))


def test_a_stranger_never_holds_off_a_phone_the_person_is_known_on():
    own, other = phone(), phone("Ben")
    assert try_it(other, right=True)  # Ada is known on Ben's phone from now on
    for second in range(0, 4000, 100):
        assert not try_it(Door(None, "192.0.2.9"), after=second * 10)
    for door in (own, other):
        assert try_it(door, right=True, after=39_000.5)


def test_neither_a_new_pairing_nor_a_new_address_gives_fresh_guesses():
    for number in range(3):
        assert not try_it(phone(f"Ben {number}"))
    new = phone("Cleo")
    with refused(Refused("wait", seconds=3)):
        try_it(new, right=True)
    # One free guess for a new address, and of all together no longer a wait than this.
    for second in range(40):
        assert not try_it(Door(None, f"192.0.2.{100 + second}"), after=second)
    longest = 39 + LONGEST_WAIT_ANYWHERE.total_seconds()
    with refused(Refused("wait", seconds=2)):
        try_it(Door(None, ""), right=True, after=longest - 1)
    assert try_it(Door(None, ""), right=True, after=longest)


def test_names_nobody_has_make_one_row_and_old_rows_go():
    for number in range(2):
        assert not try_it(Door(None, "192.0.2.7"), name=NOBODY, after=number)
    assert Guess.objects.count() == 2
    try_it(Door(None, "192.0.2.8"), name=NOBODY, after=2 * 24 * 3600)
    assert set(Guess.objects.values_list("device", flat=True)) == {"192.0.2.8", "*"}


@pytest.mark.parametrize("typed", ["odile ", "ODILE", "Odıle", "ＯＤＩＬＥ", "ODİLE"])
def test_a_name_is_one_name_however_it_is_typed(typed):
    assert name_key(typed) == name_key("Odile")


def test_what_is_done_at_the_door_stands_among_the_changes(farm):
    tablet = phone().phone
    for how in ("added", "password", "PIN"):
        note_sign_in(act(), phone=tablet, how=how)
    unpair_phone(act(), phone=tablet)
    assert [change_words(change, farm) for change in Change.objects.order_by("pk")] == [
        "phone: added",
        "phone: signed in with the password",
        "phone: signed in with the PIN",
        "phone: unpaired",
    ]
    assert Phone.objects.get().unpaired_at == NOW


def test_a_phone_is_shared_once_somebody_else_uses_it():
    tablet = phone().phone
    share_phone(tablet, builders.owner())
    assert not Phone.objects.get().shared
    share_phone(tablet, builders.make_crew())
    assert Phone.objects.get().shared
