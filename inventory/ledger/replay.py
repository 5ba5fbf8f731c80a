"""Whether a crate's entries could have happened in the order they are said to have. Pure.

An entry that comes in late is put where it happened. It stands only if everything that was done
to the crate afterwards could still have been done as it was written.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from itertools import groupby

from inventory.ledger.fold import (
    HERE,
    SENT_BACK,
    Entry,
    Kind,
    Outing,
    SomeEntry,
    State,
    standing,
)
from inventory.rotation.fit import WAS_OUT

ZERO = Decimal(0)


@dataclass
class _Now:
    """A crate on its way through its entries. last_state: the last that an entry set."""

    quantity: Decimal = ZERO
    last_state: str = State.VOID
    held: bool = False
    out: dict[Outing, Decimal] = field(default_factory=dict)

    @property
    def state(self) -> str:
        used_up = self.last_state in HERE and not self.quantity
        return State.EMPTY if used_up else self.last_state

    @property
    def is_here(self) -> bool:
        return self.state in HERE

    def take_up(self, entry: Entry) -> None:
        self.quantity += entry.change
        self.last_state = entry.state or self.last_state
        if entry.kind in (Kind.HELD, Kind.RELEASED):
            self.held = entry.kind == Kind.HELD
        outing = Outing.of(entry)
        if entry.kind == Kind.OUT:
            self.out[outing] = self.out.get(outing, ZERO) + entry.amount
        elif entry.kind in (Kind.BACK, Kind.SETTLED) and outing in self.out:
            self.out[outing] -= entry.amount


@dataclass(frozen=True)
class _Step:
    """One entry with the crate as its action found it, and as it is when the entry's turn comes."""

    entry: Entry
    found: _Now
    now: _Now
    is_first: bool
    is_last: bool

    @property
    def left(self) -> Decimal:
        return self.now.quantity + self.entry.change

    @property
    def still_out(self) -> Decimal:
        return self.now.out.get(Outing.of(self.entry), ZERO)


def contradictions(entries: Iterable[SomeEntry]) -> list[SomeEntry]:
    """Return the standing entries that could not have been done where they stand in time."""
    return list(_contradictions(standing(entries)))


def _contradictions(entries: Sequence[SomeEntry]) -> Iterator[SomeEntry]:
    now = _Now()
    for _key, together in groupby(entries, key=_judged_as_one):
        found = replace(now, out=dict(now.out))
        run = list(together)
        for entry in run:
            step = _Step(entry, found, now, entry is run[0], entry is run[-1])
            could_be = found.state == State.VOID or _RULES.get(entry.kind, _needs_here)(step)
            now.take_up(entry)
            if not could_be or (step.is_last and now.quantity < 0):
                yield entry


def _judged_as_one(entry: Entry) -> tuple[object, ...]:
    """The entries of one action; and a count with the entries that keep its figure true."""
    if entry.kind == Kind.COUNTED:
        return (entry.kind, entry.occurred_at)
    return (entry.action_id,)


def _always(step: _Step) -> bool:
    return True


def _needs_here(step: _Step) -> bool:
    return step.found.is_here


def _needs_free(step: _Step) -> bool:
    return step.found.is_here and not step.found.held


def _out(step: _Step) -> bool:
    whole = step.left == 0
    may_go = _needs_here if step.entry.purpose == SENT_BACK else _needs_free
    return may_go(step) and whole == (step.entry.state == State.OUT)


def _back(step: _Step) -> bool:
    """A whole crate comes back as itself, a part of one as a crate of its own."""
    as_itself = bool(step.entry.state)
    came_whole = as_itself == (step.found.state == State.OUT)
    return step.entry.amount <= step.still_out and came_whole


def _settled(step: _Step) -> bool:
    """The last of a crate that is out ends it, unless some came back with it."""
    entry, now = step.entry, step.now
    if entry.amount > step.still_out:
        return False
    if step.found.state != State.OUT or now.is_here:
        return not entry.state
    ends = sum(now.out.values()) == entry.amount
    return not step.is_last or ends == bool(entry.state)


def _counted(step: _Step) -> bool:
    entry, found = step.entry, step.found
    if step.is_first:
        if not (found.is_here or found.state == State.EMPTY):
            return False
        found_again = found.state == State.EMPTY and bool(entry.figure)
        if found_again and not entry.state:
            return False
        if entry.state == State.TO_PUT_AWAY and found.state == State.IN_PLACE:
            return False
    return not step.is_last or step.left == entry.figure


def _split(step: _Step) -> bool:
    return _needs_free(step) and step.left > 0


def _used_up(step: _Step) -> bool:
    return _needs_free(step) and step.left == 0


def _held(step: _Step) -> bool:
    return not step.found.held and (step.found.is_here or any(step.found.out.values()))


def _released(step: _Step) -> bool:
    """A hold ends; what was out of our hands may go to kitchens without one."""
    return step.found.held or WAS_OUT in step.entry.detail


_RULES: dict[str, Callable[[_Step], bool]] = {
    Kind.CORRECTED: _always,
    Kind.TAG_OFF: _always,
    Kind.OUT: _out,
    Kind.BACK: _back,
    Kind.SETTLED: _settled,
    Kind.COUNTED: _counted,
    Kind.SPLIT: _split,
    Kind.COMBINED: _used_up,
    Kind.RESORTED: _used_up,
    Kind.HELD: _held,
    Kind.RELEASED: _released,
}
