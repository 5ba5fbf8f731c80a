"""What may be done to a crate, over every state it can be in."""

from itertools import product

import pytest

from inventory.ledger.fold import State
from inventory.rotation import Verdict, Why, Worklist
from inventory.rotation.fit import CrateNow, Doing, is_fit, is_sound, likely, why_not

NOTHING = Verdict(Worklist.NONE, Why.NONE)
HERE = {State.TO_PUT_AWAY, State.IN_PLACE}
NEEDS_FREE = {Doing.TAKE_OUT, Doing.SPLIT, Doing.COMBINE, Doing.SORT}
NEEDS_HERE = {Doing.MOVE, Doing.LOOK, Doing.GOOD, Doing.DISCARD, Doing.TAG}


SELLS_OR_KEEPS = NEEDS_FREE | {Doing.LOOK, Doing.GOOD, Doing.RELEASE}
ONLY = {
    Doing.DISCARD, Doing.SEND_BACK, Doing.MOVE, Doing.TAG, Doing.COUNT, Doing.HOLD,
    Doing.BRING_BACK,
}  # fmt: skip


@pytest.mark.parametrize(
    ("state", "held", "out"), list(product(State, (False, True), (False, True)))
)
def test_what_can_be_done(state, held, out):
    crate = CrateNow(state, held, out)
    here = state in HERE
    for doing in NEEDS_HERE:
        assert why_not(doing, crate) == ("" if here else "not-here")
    for doing in NEEDS_FREE:
        assert why_not(doing, crate) == ("not-here" if not here else "held" if held else "")
    counted = here or state == State.EMPTY  # one counted as empty can be found again
    assert why_not(Doing.COUNT, crate) == ("" if counted else "not-here")
    assert why_not(Doing.BRING_BACK, crate) == ("" if out else "nothing-out")
    assert why_not(Doing.RELEASE, crate) == ("" if held else "not-held")
    free_hold = "" if here or out else "nothing-to-hold"
    assert why_not(Doing.HOLD, crate) == ("held-already" if held else free_hold)


def test_every_doing_is_spoken_of():
    spoken_of = NEEDS_HERE | NEEDS_FREE
    others = {Doing.COUNT, Doing.BRING_BACK, Doing.RELEASE, Doing.HOLD, Doing.SEND_BACK}
    assert spoken_of | others == set(Doing)
    assert set(Doing) == SELLS_OR_KEEPS | ONLY


@pytest.mark.parametrize(("state", "held"), list(product(State, (False, True))))
def test_past_its_use_by_date_a_crate_is_only_thrown_out_sent_back_or_stowed(state, held):
    """Regulation (EU) No 1169/2011, Article 24(1): nobody may decide otherwise."""
    in_date = CrateNow(state, held, out=True, bought=True)
    past = CrateNow(state, held, out=True, bought=True, past_use_by=True)
    for doing in SELLS_OR_KEEPS - {Doing.RELEASE}:
        assert why_not(doing, past) == ("past-use-by" if state in HERE else "not-here"), doing
    assert why_not(Doing.RELEASE, past) == ("past-use-by" if held else "not-held")
    for doing in ONLY:
        assert why_not(doing, past) == why_not(doing, in_date), doing


@pytest.mark.parametrize(("state", "held"), list(product(State, (False, True))))
def test_only_what_came_from_one_supplier_goes_back_and_a_hold_does_not_keep_it(state, held):
    here = state in HERE
    bought = CrateNow(state, held, bought=True)
    assert why_not(Doing.SEND_BACK, bought) == ("" if here else "not-here")
    assert why_not(Doing.SEND_BACK, CrateNow(state, held)) == ("not-bought" if here else "not-here")


@pytest.mark.parametrize("worklist", Worklist)
def test_fit_is_in_place_not_held_and_sound(worklist):
    verdict = Verdict(worklist, Why.NONE)
    sound = worklist in {Worklist.NONE, Worklist.SELL_FIRST}
    assert is_sound(verdict) == sound
    for state, held in product(State, (False, True)):
        expected = sound and state == State.IN_PLACE and not held
        assert is_fit(state, held, verdict) == expected


def test_the_likely_thing_comes_first():
    past = Verdict(Worklist.DISCARD, Why.SPENT)
    assert likely(CrateNow(State.IN_PLACE, held=False), NOTHING) == Doing.TAKE_OUT
    assert likely(CrateNow(State.IN_PLACE, held=False), past) == Doing.LOOK
    assert likely(CrateNow(State.IN_PLACE, held=False), past, 1.49) == Doing.LOOK
    assert likely(CrateNow(State.IN_PLACE, held=True), past) == Doing.RELEASE
    assert likely(CrateNow(State.TO_PUT_AWAY, held=False), NOTHING) == Doing.MOVE
    assert likely(CrateNow(State.OUT, held=False), NOTHING) == Doing.BRING_BACK


@pytest.mark.parametrize("used", [1.5, 4.0])
def test_far_past_its_time_discarding_is_the_likely_thing(used):
    past = Verdict(Worklist.DISCARD, Why.SPENT)
    here = CrateNow(State.IN_PLACE, held=False)
    assert likely(here, past, used) == Doing.DISCARD
    assert likely(here, Verdict(Worklist.KEPT, Why.KEPT), used) == Doing.TAKE_OUT
    assert likely(CrateNow(State.IN_PLACE, held=True), past, used) == Doing.RELEASE
    assert likely(CrateNow(State.OUT, held=False), past, used) == Doing.BRING_BACK


def test_past_its_use_by_date_the_likely_thing_is_to_throw_it_out():
    past = Verdict(Worklist.DISCARD, Why.PAST_USE_BY)
    for state, held in product(HERE, (False, True)):
        assert likely(CrateNow(state, held, past_use_by=True), past) == Doing.DISCARD
    assert likely(CrateNow(State.OUT, held=False, past_use_by=True), past) == Doing.BRING_BACK
