"""Everything one scan is judged by, read from the records and put as facts."""

from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal

from inventory.ledger.fold import Outing
from inventory.ledger.outings import out_of
from inventory.models import Farm, Outlet, Position, Pull, PullTake, Tag
from inventory.queries.crates import Crate, one_crate
from inventory.queries.home import older_first
from inventory.queries.rooms import placing_at
from inventory.queries.tags import LeftBare, TagsOn, left_bare, tags_on
from inventory.rotation.scans import Decision, Fact, Mode, decide


@dataclass(frozen=True)
class Scan:
    """One scan: the crate or tag it met, what else bears on it, and what the rule says.

    older: the crate that should go first. take: the promise to the order it fulfils. out: what
    of the crate is out. free: the tag, where it hangs on no crate. bare: the crate still out that
    it would come off.
    """

    mode: Mode
    code: str
    decision: Decision
    crate: Crate | None = None
    tag: Tag | None = None
    tags: TagsOn | None = None
    here: Position | None = None
    buyer: Outlet | None = None
    take: PullTake | None = None
    older: Crate | None = None
    out: dict[Outing, Decimal] = field(default_factory=dict)
    free: Tag | None = None
    bare: LeftBare | None = None


def read_scan(
    mode: Mode,
    code: str,
    farm: Farm,
    at: datetime,
    *,
    here: Position | None = None,
    order: Pull | None = None,
    market: Outlet | None = None,
    intake: str = "",
    says_why: bool = False,
    overruled: str = "",
) -> Scan:
    """Return a scan of one code with its decision. intake: whose crates want tags.

    says_why: reason and destination of a discard were chosen. overruled: the code, of a crate or
    of the tag to be put on, that a person was asked about and said go on.
    """
    tag = Tag.objects.filter(pk=code).first()
    if mode == Mode.TAG:
        return _tagging(code, tag, tags_on(intake), overruled)
    lot = tag.current_lot() if tag else None
    if tag and lot is None:
        return Scan(mode, code, decide(mode, frozenset({Fact.FREE_TAG})), tag=tag, free=tag)
    crate = one_crate(lot.pk if lot else code, farm, at)
    if crate is None:
        return Scan(mode, code, decide(mode, frozenset({Fact.UNKNOWN})))
    buyer = order.outlet if order else market
    take = _promise(order, crate)
    taken = take is None and _is_taken(order, crate)
    older = older_first(crate, farm, at) if mode == Mode.MARKET else None
    out = out_of(crate.lot)
    facts = {
        Fact.NOT_HERE: not crate.now.is_here,
        Fact.HELD: crate.lot.held,
        Fact.FAR_PAST: crate.is_far_past,
        Fact.PAST_USE_BY: crate.is_past_use_by,
        Fact.UNFIT: not crate.is_sound,
        Fact.NOTHING_OUT: not out,
        Fact.NO_PLACE: here is None,
        Fact.STANDS_HERE: here is not None and crate.lot.position_id == here.pk,
        Fact.HARMS: here is not None and not placing_at(crate.lot.crop, here).fits,
        Fact.OVER_FULL: here is not None and here.lots.count() >= here.capacity,
        Fact.NO_ORDER: order is None,
        Fact.TAKEN: taken and not crate.now.is_here,
        Fact.PART_TAKEN: taken and crate.now.is_here,
        Fact.NOT_OF_ORDER: take is None,
        Fact.NO_MARKET: market is None,
        Fact.REFUSED_BY_BUYER: bool(buyer and crate.lot.tags & buyer.refused_tags),
        Fact.OLDER_FIRST: older is not None,
        Fact.NO_REASON: not says_why,
        Fact.OVERRULED: overruled == crate.code,
    }
    decision = decide(mode, frozenset(fact for fact, is_so in facts.items() if is_so))
    return Scan(
        mode, crate.code, decision, crate,
        here=here, buyer=buyer, take=take, older=older, out=out,
    )  # fmt: skip


def read_taking(crate: Crate, farm: Farm, at: datetime) -> Scan:
    """Return what is to be minded before some of a crate is taken out by its form."""
    older = older_first(crate, farm, at)
    facts = {
        Fact.FAR_PAST: crate.is_far_past,
        Fact.PAST_USE_BY: crate.is_past_use_by,
        Fact.UNFIT: not crate.is_sound,
        Fact.OLDER_FIRST: older is not None,
    }
    decision = decide(Mode.MARKET, frozenset(fact for fact, is_so in facts.items() if is_so))
    return Scan(Mode.MARKET, crate.code, decision, crate, older=older)


def _tagging(code: str, tag: Tag | None, on: TagsOn, overruled: str) -> Scan:
    bare = left_bare(tag) if tag else None
    facts = {
        Fact.NOT_A_TAG: tag is None,
        Fact.ALL_TAGGED: on.next is None,
        Fact.LEFT_BARE: bare is not None,
        Fact.OVERRULED: overruled == code,
    }
    decision = decide(Mode.TAG, frozenset(fact for fact, is_so in facts.items() if is_so))
    free = tag if tag and tag.current_lot() is None else None
    return Scan(Mode.TAG, code, decision, tag=tag, tags=on, free=free, bare=bare)


def _promise(order: Pull | None, crate: Crate) -> PullTake | None:
    if order is None:
        return None
    return PullTake.objects.open().filter(line__pull=order, lot=crate.lot).first()


def _is_taken(order: Pull | None, crate: Crate) -> bool:
    """Return whether some of a crate was taken for the order, and not put back by an undo."""
    taken = PullTake.objects.filter(taken__isnull=False, taken__undone_by__isnull=True)
    return order is not None and taken.filter(line__pull=order, lot=crate.lot).exists()
