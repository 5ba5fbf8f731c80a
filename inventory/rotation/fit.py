"""What may be done to a crate: whether it is fit to go, and which doings are possible at all."""

from enum import StrEnum
from typing import NamedTuple

from inventory.ledger.fold import HERE, State
from inventory.rotation.order import Verdict, Worklist, is_far_past

# The tag of what was out of our hands and that the owner has not said may go to kitchens; with it
# an entry says that it brought a crate back from there, or let such a one go to kitchens again.
WAS_OUT = "was-out"
_NOT_FIT = frozenset({Worklist.DISCARD, Worklist.KEPT, Worklist.LOOK})


class Doing(StrEnum):
    """Something a person does to one crate. The value stands in its address."""

    TAKE_OUT = "take-out"
    MOVE = "move"
    BRING_BACK = "bring-back"
    LOOK = "look"
    GOOD = "good"
    DISCARD = "discard"
    SEND_BACK = "send-back"
    COUNT = "count"
    SPLIT = "split"
    COMBINE = "combine"
    SORT = "sort"
    HOLD = "hold"
    RELEASE = "release"
    TAG = "tag"


_WANT_IT_FREE = frozenset({Doing.TAKE_OUT, Doing.SPLIT, Doing.COMBINE, Doing.SORT})
# What would sell, keep or hide what nobody may sell any more; see rotation/dates.py.
_WANT_IT_IN_DATE = _WANT_IT_FREE | {Doing.LOOK, Doing.GOOD, Doing.RELEASE}


class CrateNow(NamedTuple):
    """A crate as these rules see it.

    out: something of it is out and not back. past_use_by: by the date on a case it was filled
    from. bought: all of it came from one supplier. barred: it was out of our hands, and the owner
    has not said since that kitchens may have it.
    """

    state: str
    held: bool
    out: bool = False
    past_use_by: bool = False
    bought: bool = False
    barred: bool = False

    @property
    def is_here(self) -> bool:
        return self.state in HERE


def is_sound(verdict: Verdict) -> bool:
    """Return whether nothing speaks against selling it: not past, no open flag, not just kept."""
    return verdict.worklist not in _NOT_FIT


def is_fit(state: str, held: bool, verdict: Verdict) -> bool:
    """Return whether a plan may count on a crate: in place, not held, and sound."""
    return state == State.IN_PLACE and not held and is_sound(verdict)


def why_not(doing: Doing, crate: CrateNow) -> str:
    """Return the code of the refusal where this can't be done to a crate now, else "".

    Example: why_not(Doing.SPLIT, CrateNow("in place", held=True)) → "held"
    """
    if doing == Doing.BRING_BACK:
        return "" if crate.out else "nothing-out"
    if doing == Doing.HOLD:
        return _why_not_hold(crate)
    if doing == Doing.RELEASE and not (crate.held or crate.barred):
        return "not-held"
    found_again = doing == Doing.COUNT and crate.state == State.EMPTY
    if not (crate.is_here or found_again or doing == Doing.RELEASE):
        return "not-here"
    if crate.past_use_by and doing in _WANT_IT_IN_DATE:
        return "past-use-by"
    if doing == Doing.SEND_BACK and not crate.bought:
        return "not-bought"
    return "held" if crate.held and doing in _WANT_IT_FREE else ""


def _why_not_hold(crate: CrateNow) -> str:
    if crate.held:
        return "held-already"
    return "" if crate.is_here or crate.out else "nothing-to-hold"


def likely(crate: CrateNow, verdict: Verdict, life_used: float = 0) -> Doing:
    """Return what a person who opens a crate's page most likely wants to do."""
    if crate.past_use_by and crate.is_here:
        return Doing.DISCARD
    if crate.held:
        return Doing.RELEASE
    if crate.state == State.TO_PUT_AWAY:
        return Doing.MOVE
    if crate.state == State.OUT:
        return Doing.BRING_BACK
    if verdict.worklist != Worklist.DISCARD:
        return Doing.TAKE_OUT
    return Doing.DISCARD if is_far_past(life_used) else Doing.LOOK
