"""What to mind once crates were put down: a place too full, or that hurts them; bad neighbours.

By a form or by a scan: both say it, so that the faster way is not the one that says less.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from inventory.keeping import Harm
from inventory.models import Action, Crop, Lot, Movement, Position
from inventory.queries.neighbours import Advice, said_after
from inventory.queries.rooms import placing_at, read_stock

_PUTS_DOWN = (Action.Kind.BRING_IN, Action.Kind.MOVE, Action.Kind.BRING_BACK)


@dataclass(frozen=True)
class Crowd:
    """A place where more crates stand than it holds."""

    position: Position
    standing: int


@dataclass(frozen=True)
class Hurt:
    """A crop that stands where the place hurts it. harm as in keeping.Placing."""

    crop: Crop
    position: Position
    harm: Harm


@dataclass(frozen=True)
class ToMind:
    crowds: list[Crowd]
    hurts: list[Hurt]
    advice: list[Advice]

    def __bool__(self) -> bool:
        return bool(self.crowds or self.hurts or self.advice)


def put_down_by(action: Action, entries: Iterable[Movement]) -> list[tuple[Lot, Position]]:
    """Return the crates that an action's entries put down, and where."""
    if action.kind == Action.Kind.SETTLE:
        # Some of what came back may be in another crate since, or thrown out.
        entries = [entry for entry in entries if entry.lot.is_here]
    elif action.kind not in _PUTS_DOWN:
        return []
    return [(entry.lot, entry.position) for entry in entries if entry.position]


def read_to_mind(put_down: Iterable[tuple[Lot, Position]]) -> ToMind:
    """Return what to mind of crates at the places where they were put down.

    A room that is too cold is told by its advice; where that is no news any more, the place
    itself still is.
    """
    put_down = list(put_down)
    if not put_down:
        return ToMind([], [], [])
    stock = read_stock()
    came = dict.fromkeys((position.room, lot.crop) for lot, position in put_down)
    codes = [lot.pk for lot, _position in put_down]
    advice = [one for room, crop in came for one in said_after(room, crop, codes, stock)]
    chilled = {crop for one in advice if one.kind == "cold" for crop in one.takers}
    spots = dict.fromkeys(position for _lot, position in put_down)
    crowds = [Crowd(position, stock.counts[position.pk]) for position in spots]
    stands = dict.fromkeys((lot.crop, position) for lot, position in put_down)
    hurts = [Hurt(crop, spot, placing_at(crop, spot).harm) for crop, spot in stands]
    return ToMind(
        crowds=[crowd for crowd in crowds if crowd.standing > crowd.position.capacity],
        hurts=[
            hurt
            for hurt in hurts
            if hurt.harm and not (hurt.harm == Harm.CHILLS and hurt.crop in chilled)
        ],
        advice=advice,
    )
