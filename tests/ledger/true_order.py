"""What becomes of crates when everything is done in the order in which it happened.

Knows nothing of the program: people, crates and minutes only.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

CAME_IN = {"early": (0, 12), "late": (3, 8)}


@dataclass(frozen=True)
class Did:
    """What a person did to one crate.

    minute: when; None for the moment at which it is sent. amount: None for all of it. figures:
    of a market load what came back and what was given, of a look the days.
    came: what was written about it, once it was; it can't be otherwise afterwards.
    """

    what: str
    crate: str
    minute: int | None = None
    amount: int | None = 1
    buyer: str = "own use"
    place: int | None = None
    figures: tuple[int, int] = (0, 0)
    came: tuple | None = None
    number: int = 0


@dataclass
class Crate:
    """A crate as people saw it. place: None where it waits to be put away, or is gone."""

    quantity: int
    place: int | None = 0
    state: str = "in place"
    held: bool = False
    looked: Did | None = None
    out: dict[str, int] = field(default_factory=dict)
    children: list[int] = field(default_factory=list)

    @property
    def is_here(self) -> bool:
        return self.state in ("in place", "to put away")

    def stand(self, place: int | None) -> None:
        self.state, self.place = ("to put away" if place is None else "in place"), place

    def go(self, state: str) -> None:
        self.state, self.place = state, None

    def lose(self, amount: int) -> None:
        need(amount <= self.quantity)
        self.quantity -= amount
        if not self.quantity:
            self.go("empty")

    def account_for(self, buyer: str, amount: int) -> None:
        need(amount <= self.out.get(buyer, 0))
        self.out[buyer] -= amount
        if not self.out[buyer]:
            del self.out[buyer]

    def come_back(self, buyer: str, amount: int, place: int | None) -> bool:
        """Return whether it came as itself; a part of a crate comes as a crate of its own."""
        self.account_for(buyer, amount)
        if self.state != "out":
            self.children.append(amount)
            return False
        self.quantity = amount
        self.stand(place)
        return True


class Impossible(Exception):
    """That could not have been done to this crate, or not as it was written."""


def need(possible: bool) -> None:
    if not possible:
        raise Impossible


def all_of(crate: Crate, did: Did) -> int:
    """Return how much it is about. All of a crate is what was all of it when it was written."""
    if did.amount is not None:
        return did.amount
    need(crate.quantity > 0)
    return did.came[0] if did.came else crate.quantity


def move(crate: Crate, did: Did) -> tuple:
    need(crate.is_here)
    crate.stand(did.place or 0)
    return ()


def take(crate: Crate, did: Did) -> tuple:
    amount = all_of(crate, did)
    need(crate.is_here and not crate.held)
    crate.lose(amount)
    crate.out[did.buyer] = crate.out.pop(did.buyer, 0) + amount
    if not crate.quantity:
        crate.go("out")
    return amount, crate.state == "out"


def throw_out(crate: Crate, did: Did) -> tuple:
    amount = all_of(crate, did)
    need(crate.is_here)
    crate.lose(amount)
    return (amount,)


def bring_back(crate: Crate, did: Did) -> tuple:
    need(bool(crate.out))
    buyer = did.came[0] if did.came else list(crate.out)[-1]
    as_itself = crate.come_back(buyer, did.amount or 3, did.place)
    # What a kitchen had is for the owner to judge before it goes anywhere.
    crate.held = crate.held or (as_itself and buyer == "order")
    return buyer, as_itself


def close_market(crate: Crate, did: Did) -> tuple:
    load, back, _given = market_load(did)
    need(load <= crate.out.get("market", 0))
    was_out, as_itself = crate.state == "out", None
    if back:
        as_itself = crate.come_back("market", back, did.place)
    if load > back:
        crate.account_for("market", load - back)
    ended = was_out and not back and not crate.out
    if ended:
        crate.go("empty")
    return as_itself, ended


def market_load(did: Did) -> tuple[int, int, int]:
    """Return how much went, came back and was given."""
    load = did.amount or 5
    back = min(did.figures[0], load)
    return load, back, min(did.figures[1], load - back)


def count(crate: Crate, did: Did) -> tuple:
    need(crate.is_here or crate.state == "empty")
    figure = did.amount or 0
    found_again = crate.state == "empty" and figure > 0
    stands = found_again or did.place is not None
    if did.came:
        (stands,) = did.came
        need(stands or not found_again)
        # Found again with no place said, though somebody had found and put it away before.
        need(not stands or did.place is not None or crate.state != "in place")
    crate.quantity = figure
    if stands:
        crate.stand(did.place)
    crate.lose(0)
    return (stands,)


def look(crate: Crate, did: Did) -> tuple:
    need(crate.is_here)
    crate.looked = did
    return ()


def hold(crate: Crate, did: Did) -> tuple:
    need(not crate.held and (crate.is_here or bool(crate.out)))
    crate.held = True
    return ()


def release(crate: Crate, did: Did) -> tuple:
    need(crate.held)
    crate.held = False
    return ()


def split(crate: Crate, did: Did) -> tuple:
    amount = did.amount or 2
    need(crate.is_here and not crate.held and amount < crate.quantity)
    crate.lose(amount)
    crate.children.append(amount)
    return ()


DOINGS: dict[str, Callable[[Crate, Did], tuple]] = {
    each.__name__: each
    for each in (
        move, take, throw_out, bring_back, close_market, count, look, hold, release, split
    )
}  # fmt: skip


def told(doings: Iterable[Did]) -> tuple[dict[str, Crate], list[Did]]:
    """Return the crates after all of it in true order, and each doing with what came of it.

    Raises Impossible.
    """
    crates = {name: Crate(quantity) for name, (_, quantity) in CAME_IN.items()}
    done = []
    for did in sorted(doings, key=lambda one: one.minute):
        need(did.minute >= CAME_IN[did.crate][0])
        came = DOINGS[did.what](crates[did.crate], did)
        need(did.came in (None, came))
        done.append(replace(did, came=came))
    return crates, done


def after(known: list[Did], did: Did, now: int) -> list[Did] | None:
    """Return everything that stands once this has come in too; None where it can't be taken up.

    A hold that does not fit what came after it counts from the moment it comes in.
    """
    later = [one for one in known if one.crate == did.crate and one.minute > did.minute]
    if did.what == "split" and (later or did.minute < CAME_IN[did.crate][0]):
        return None
    try:
        return told([*known, did])[1]
    except Impossible:
        if did.what != "hold" or not later:
            return None
    before = [one for one in known if one.minute < did.minute]
    try:
        told([*before, did])
        return told([*known, replace(did, minute=now)])[1]
    except Impossible:
        return None
