"""What the ledger says of crates: where each went, what it was filled from, who looked at it.

Of crates in the house, of what those were filled from, and of the harvests of a week that is looked
at, it is kept in memory under the crate's stamp, which is another with every entry: a page reads
anew what was touched since, and no more.
"""

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from typing import NamedTuple, TypeVar

from django.db.models import Q

from inventory.ledger.fold import HERE, State
from inventory.lives.stays import Link, Step
from inventory.models import Lot, Movement, Parentage
from inventory.models.lots import NO_STAMP

MOST_KEPT = 20_000
_MOST_IN_A_CLAUSE = 500
# What stands of entries that say where a crate is or how it looks: put together once, asked anew.
_ENTRIES = (
    Movement.objects.filter(undone_by__isnull=True)
    .exclude(~Q(kind=Movement.Kind.INSPECTED), state="")
    .order_by("occurred_at", "pk")
    .values_list(
        "lot_id", "kind", "occurred_at", "state", "position__room_id", "warm_hours", "judgement",
        "kept_until",
    )
)  # fmt: skip

Key = TypeVar("Key")


class Past(NamedTuple):
    """One crate's entries, but for its ways from shelf to shelf of a room.

    looked_at, gone_at: when somebody last looked and found it good, or no longer good, 0 if never.
    """

    steps: tuple[Step, ...] = ()
    links: tuple[Link, ...] = ()
    looked_at: float = 0.0
    gone_at: float = 0.0


_kept: dict[str, tuple[int, Past]] = {}


def forget() -> None:
    """Drop everything kept in memory; for tests, whose databases come and go."""
    _kept.clear()


def read_pasts(known: dict[str, Lot]) -> dict[str, Past]:
    """Return the past of each crate, and of all they were filled from, which join the known."""
    house = {code for code, lot in known.items() if lot.state in HERE}
    pasts: dict[str, Past] = {}
    links: dict[str, tuple[Link, ...]] = {}
    fresh = set(known)
    while fresh:
        pasts |= _remembered({code: known[code].stamp for code in fresh})
        links |= _read_links(fresh - pasts.keys())
        links |= {code: pasts[code].links for code in fresh & pasts.keys()}
        house |= {link.parent for code in fresh & house for link in links.get(code, ())}
        fresh = {link.parent for code in fresh for link in links.get(code, ())} - known.keys()
        known |= {lot.code_id: lot for lot in read_lots(fresh)}
    read = read_entries(known.keys() - pasts.keys(), links)
    stamped = {code for code in house & read.keys() if known[code].stamp != NO_STAMP}
    _keep({code: (known[code].stamp, read[code]) for code in stamped})
    return pasts | read


def read_pasts_unfilled(stamps: Mapping[str, int]) -> dict[str, Past]:
    """Return the past of crates that were filled from no others, by their stamps."""
    pasts = _remembered(stamps)
    read = read_entries(stamps.keys() - pasts.keys())
    _keep({code: (stamps[code], read[code]) for code in read if stamps[code] != NO_STAMP})
    return pasts | read


def _remembered(stamps: Mapping[str, int]) -> dict[str, Past]:
    found = {}
    for code, stamp in stamps.items():
        kept = _kept.get(code)
        if kept and kept[0] == stamp:
            found[code] = kept[1]
    return found


def _keep(fresh: dict[str, tuple[int, Past]]) -> None:
    """Keep what was read, unless an entry came between a crate's stamp and its entries."""
    if len(_kept) + len(fresh) > MOST_KEPT:
        forget()
    for piece in in_pieces(fresh):
        still = Lot.objects.filter(pk__in=piece).values_list("pk", "stamp")
        _kept.update({code: fresh[code] for code, stamp in still if stamp == fresh[code][0]})


def read_lots(codes: Collection[str]) -> list[Lot]:
    """Return crates with what their lives depend on."""
    read = Lot.objects.select_related("crop", "intake__source", "container")
    return [lot for piece in in_pieces(codes) for lot in read.filter(pk__in=piece)]


def _read_links(codes: Collection[str]) -> dict[str, tuple[Link, ...]]:
    found: dict[str, list[Link]] = defaultdict(list)
    for piece in in_pieces(codes):
        rows = Parentage.objects.filter(child_id__in=piece)
        for child, parent, at in rows.values_list("child_id", "parent_id", "at"):
            found[child].append(Link(parent, at.timestamp()))
    return {code: tuple(links) for code, links in found.items()}


def read_entries(
    codes: Collection[str], links: Mapping[str, tuple[Link, ...]] | None = None
) -> dict[str, Past]:
    """Return the past of these crates. links: from what they were filled, None from nothing."""
    filled = links or {}
    steps: dict[str, list[Step]] = defaultdict(list)
    good: dict[str, float] = {}
    gone: dict[str, float] = {}
    for piece in in_pieces(codes):
        rows = _ENTRIES.filter(lot_id__in=piece)
        for code, kind, at, state, room_id, warm_hours, judgement, kept_until in rows:
            if state:
                warm = None if warm_hours is None else float(warm_hours)
                step = Step(kind, at.timestamp(), state, room_id, warm)
                if not _is_shelf_to_shelf(step, steps[code]):
                    steps[code].append(step)
            if kind != Movement.Kind.INSPECTED:
                continue
            if judgement != Movement.Judgement.GONE:
                good[code] = at.timestamp()
            elif not kept_until:  # once one could say so and keep it all the same
                gone[code] = at.timestamp()
    return {
        code: Past(
            tuple(steps[code]), filled.get(code, ()), good.get(code, 0.0), gone.get(code, 0.0)
        )
        for code in codes
    }


def _is_shelf_to_shelf(step: Step, before: list[Step]) -> bool:
    """Return whether a crate only went to another shelf of its room, where the air is the same."""
    last = before[-1] if before else None
    if last is None or (step.kind, step.state) != (Movement.Kind.MOVED, State.IN_PLACE):
        return False
    return (last.state, last.room_id) == (State.IN_PLACE, step.room_id)


def in_pieces(keys: Collection[Key]) -> Iterator[list[Key]]:
    """Yield keys for IN clauses, as many in one as no database refuses."""
    ordered = list(keys)
    for start in range(0, len(ordered), _MOST_IN_A_CLAUSE):
        yield ordered[start : start + _MOST_IN_A_CLAUSE]
