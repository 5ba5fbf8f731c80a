"""Everything one scan is judged by, read from the records and put as facts."""

from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal

from inventory.ledger.fold import Outing
from inventory.ledger.outings import out_of
from inventory.models import Code, Farm, Outlet, Position, Tag, Take
from inventory.queries.book import BookOrder, Planned, plan_book
from inventory.queries.crates import Crate, one_crate
from inventory.queries.first import Taking, older_than, read_taking_out
from inventory.queries.rooms import placing_at
from inventory.queries.tags import LeftBare, TagsOn, left_bare, tags_on
from inventory.rotation.scans import Decision, Fact, Mode, decide


@dataclass(frozen=True)
class Scan:
    """One scan: the crate or tag it met, what else bears on it, and what the rule says.

    older: the crate that should go first. order: what it is taken for; planned: what of the crate
    the plan sends there; instead: the first crate it sends there. out: what of a crate is out
    that is brought back. free: the tag, where it hangs on no crate. bare: the crate still out that
    it would come off. taking: the crate beside those of its crop, where it is loaded for market.
    """

    mode: Mode
    code: str
    decision: Decision
    crate: Crate | None = None
    tag: Tag | None = None
    tags: TagsOn | None = None
    here: Position | None = None
    buyer: Outlet | None = None
    order: BookOrder | None = None
    planned: Planned | None = None
    instead: Planned | None = None
    older: Crate | None = None
    out: dict[Outing, Decimal] = field(default_factory=dict)
    free: Tag | None = None
    bare: LeftBare | None = None
    taking: Taking | None = None


def given_to(code: str) -> str:
    """Return what a code was given to: "position", "tag" or "lot"; "" where it never was."""
    found = Code.objects.filter(pk=code).values("position", "tag", "lot")
    return next((name for row in found for name, key in row.items() if key), "")


def read_scan(
    mode: Mode,
    code: str,
    farm: Farm,
    at: datetime,
    *,
    is_tag: bool = False,
    here: Position | None = None,
    order: BookOrder | None = None,
    market: Outlet | None = None,
    intake: str = "",
    says_why: bool = False,
    overruled: str = "",
) -> Scan:
    """Return a scan of one code with its decision. is_tag: it was given to one. intake: whose
    crates want tags.

    says_why: reason and destination of a discard were chosen. overruled: the code, of a crate or
    of the tag to be put on, that a person was asked about and said go on.
    """
    tag = Tag.objects.get(pk=code) if is_tag else None
    if mode == Mode.TAG:
        return _tagging(code, tag, tags_on(intake), overruled)
    lot = tag.current_lot() if tag else None
    if tag and lot is None:
        return Scan(mode, code, decide(mode, frozenset({Fact.FREE_TAG})), tag=tag, free=tag)
    code = lot.pk if lot else code
    taking = read_taking_out(code, farm, at) if mode == Mode.MARKET else None
    crate = taking.crate if taking else one_crate(code, farm, at)
    if crate is None:
        return Scan(mode, code, decide(mode, frozenset({Fact.UNKNOWN})))
    buyer = order.outlet if order else market
    planned, instead, wanted = _plan_for(order, crate, farm, at)
    taken = planned is None and _is_taken(order, crate)
    older = older_than(taking) if taking and overruled != code else None
    out = out_of(crate.lot) if mode == Mode.BACK else {}
    facts = {
        Fact.NOT_HERE: not crate.now.is_here,
        Fact.HELD: crate.lot.held,
        Fact.FAR_PAST: crate.is_far_past,
        Fact.PAST_USE_BY: crate.is_past_use_by,
        Fact.UNFIT: not crate.is_sound,
        Fact.NOTHING_OUT: mode == Mode.BACK and not out,
        Fact.NO_PLACE: here is None,
        Fact.STANDS_HERE: here is not None and crate.lot.position_id == here.pk,
        Fact.HARMS: here is not None and not placing_at(crate.lot.crop, here).fits,
        Fact.OVER_FULL: here is not None and here.lots.count() >= here.capacity,
        Fact.NO_ORDER: order is None,
        Fact.TAKEN: taken and not crate.now.is_here,
        Fact.PART_TAKEN: taken and crate.now.is_here,
        Fact.NOT_OF_ORDER: not wanted,
        Fact.NOT_PLANNED: planned is None,
        Fact.NO_MARKET: market is None,
        Fact.REFUSED_BY_BUYER: bool(buyer and crate.tags & buyer.refused_tags),
        Fact.OLDER_FIRST: older is not None,
        Fact.NO_REASON: not says_why,
        Fact.OVERRULED: overruled == crate.code,
    }
    decision = decide(mode, frozenset(fact for fact, is_so in facts.items() if is_so))
    return Scan(
        mode, crate.code, decision, crate,
        here=here, buyer=buyer, order=order, planned=planned, instead=instead, older=older,
        out=out, taking=taking,
    )  # fmt: skip


def read_taking(taking: Taking) -> Scan:
    """Return what is to be minded before some of a crate is taken out by its form."""
    crate, older = taking.crate, older_than(taking)
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


def _plan_for(
    order: BookOrder | None, crate: Crate, farm: Farm, at: datetime
) -> tuple[Planned | None, Planned | None, bool]:
    """Return what of a crate is planned for an order, else which crate is, and whether any of
    its crop is still wanted."""
    if order is None:
        return None, None, False
    plan = plan_book(farm, at, {crate.lot.crop_id})
    own = [take for take in plan.of(order.id) if take.line.unit == crate.lot.unit]
    planned = next((take for take in own if take.crate.code == crate.code), None)
    return planned, next(iter(own), None), planned is not None or _is_wanted(order, crate)


def _is_wanted(order: BookOrder, crate: Crate) -> bool:
    kind = crate.lot.crop_id, crate.lot.unit
    return any(line.lacking and (line.crop.pk, line.unit) == kind for line in order.lines)


def _is_taken(order: BookOrder | None, crate: Crate) -> bool:
    """Return whether some of a crate was taken for the order, and not put back by an undo."""
    if order is None:
        return False
    return Take.objects.standing().filter(line__order=order.id, lot=crate.lot).exists()
