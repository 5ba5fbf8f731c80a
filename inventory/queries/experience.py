"""How long a crop kept on this farm: what was seen of each crate, harvest by harvest."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime, timedelta
from decimal import Decimal
from random import Random

from django.db.models import F, Q

from inventory.keeping import load_reference
from inventory.learning import (
    AN_END,
    Estimate,
    Finding,
    Harvest,
    Lasted,
    farm_estimate,
    lasted,
)
from inventory.lives.clocks import Clocks
from inventory.lives.reader import read_clocks
from inventory.models import Crop, Farm, Lot, Movement, Parentage, Room
from inventory.queries.crates import Crate, crates_here, with_parts
from inventory.queries.intakes import and_filled_from

LOOKED_BACK = timedelta(days=730)
MOST_CRATES, MOST_SENT_BACK = 300, 20
# Of its life: old enough to tell something. From 0.6 on Sell first has it too, if not before.
ASKED_FROM, ASKED_TO = 0.5, 0.75

Kind, Reason, Judgement = Movement.Kind, Movement.Reason, Movement.Judgement
_DECAY = (Reason.SPOILED, Reason.WILTED, Reason.YELLOWED)
_HARMED = (Reason.FROZE, Reason.CHILLED, Reason.DAMAGED, Reason.PESTS, Reason.UNSAFE)


def estimate_of(crop: Crop, harvests: Iterable[Harvest]) -> Estimate:
    """Return what the farm's own record says of a crop, leaning on the handbook."""
    published = load_reference()[crop.reference_key]
    return farm_estimate(harvests, published.life_low_days, published.life_high_days)


def read_harvests(crop: Crop, farm: Farm, at: datetime) -> list[Harvest]:
    """Return how long the crates of the last two years lasted, by harvest; the 300 that came last.

    A crate and what was filled from it are one piece. Crates whose cut nobody gave have no age.
    """
    lots = {lot.pk: lot for lot in _lots(crop, at)}
    pieces = _pieces(lots)
    findings = list(_findings(lots, pieces))
    clocks = _clocks_for(lots, [entry for entry, _finding in findings], farm)
    untimed = {pieces[code] for code in lots if not clocks.time_given(code)}
    seen: dict[str, list[tuple[float, Finding]]] = defaultdict(list)
    for entry, finding in findings:
        seen[pieces[entry.lot_id]].append((_age(entry, clocks), finding))
    harvests: dict[int | None, list[Lasted]] = defaultdict(list)
    for piece in seen.keys() - untimed:
        harvests[lots[piece].intake_id].append(lasted(seen[piece]))
    return [Harvest(tuple(crates)) for crates in harvests.values()]


def sent_back(crop: Crop, farm: Farm, at: datetime) -> list[tuple[Movement, float]]:
    """Return what kitchens sent back in the last two years, latest first, with its age. [d]

    It stands beside the estimate and not in it: of what pleased them nobody hears.
    """
    # The sum keeps a database from looking through all crates the crop ever had.
    entries = (
        Movement.objects.alias(of=F("lot__crop_id") + 0)
        .filter(kind=Kind.BACK, purpose=Movement.Purpose.ORDER, undone_by__isnull=True)
        .filter(of=crop.pk, occurred_at__gte=at - LOOKED_BACK)
        .select_related("lot__crop", "lot__intake__source", "lot__position", "lot__container")
        .order_by("-occurred_at", "-pk")[:MOST_SENT_BACK]
    )
    clocks = _clocks_for({entry.lot_id: entry.lot for entry in entries}, entries, farm)
    return [(entry, _age(entry, clocks)) for entry in entries]


def unknown_ages(crop: Crop, farm: Farm, at: datetime) -> list[Movement]:
    """Return the entries that tell of a crop and keep no age, with the age they had."""
    lots = {lot.pk: lot for lot in _lots(crop, at)}
    told = (entry for entry, _finding in _findings(lots, _pieces(lots)))
    entries = [entry for entry in told if entry.aged_days is None]
    clocks = _clocks_for(lots, entries, farm)
    for entry in entries:
        entry.aged_days = _age(entry, clocks)
    return entries


def _clocks_for(lots: dict[str, Lot], entries: Iterable[Movement], farm: Farm) -> Clocks:
    """Return the clocks of some crates; what their rooms went through only for unknown ages."""
    ageless = {entry.lot_id for entry in entries if entry.aged_days is None}
    return read_clocks(lots.values(), farm, lived=ageless)


def _age(entry: Movement, clocks: Clocks) -> float:
    """Return a crate's age when an entry was written, which keeps it, or as is known now. [d]"""
    if entry.aged_days is not None:
        return entry.aged_days
    return clocks.aged_days(entry.lot_id, entry.occurred_at)


def _lots(crop: Crop, at: datetime) -> list[Lot]:
    """Return the crates of a crop that came last, and what was filled from them."""
    came = (
        Lot.objects.filter(intake__crop=crop, intake__arrived_at__gte=at - LOOKED_BACK)
        .exclude(state=Lot.State.VOID)
        .order_by("-intake__arrived_at", "-intake", "pk")
        .values_list("pk", flat=True)
    )
    codes = and_filled_from(came[:MOST_CRATES])
    return with_parts(Lot.objects.filter(pk__in=codes).exclude(state=Lot.State.VOID))


def _pieces(lots: dict[str, Lot]) -> dict[str, str]:
    """Return the crate that stands for each: of all that share content, the first made."""
    links = Parentage.objects.filter(child__in=lots, parent__in=lots).order_by("at", "pk")
    stands_for = {code: code for code in lots}
    for parent, child in links.values_list("parent_id", "child_id"):
        kept, gone = stands_for[parent], stands_for[child]
        for code, piece in stands_for.items():
            if piece == gone:
                stands_for[code] = kept
    return stands_for


def _findings(lots: dict[str, Lot], pieces: dict[str, str]) -> Iterable[tuple[Movement, Finding]]:
    """Yield what each standing entry says of its piece, in the order it happened."""
    held: dict[str, Decimal] = defaultdict(Decimal)
    entries = Movement.objects.filter(lot__in=lots, undone_by__isnull=True).only(
        "lot_id", "kind", "occurred_at", "change", "purpose", "reason", "judgement", "aged_days"
    )
    for entry in entries.exclude(kind=Kind.UNDONE).order_by("occurred_at", "pk"):
        piece = pieces[entry.lot_id]
        before = held[piece]  # what goes from crate to crate of it cancels
        held[piece] += entry.change
        finding = _finding(entry, float(-entry.change / before) if before else 0.0)
        if finding:
            yield entry, finding


def _finding(entry: Movement, share: float) -> Finding | None:
    """Return what an entry says; share: how much of the piece it threw out.

    What left for the kitchens or the market was good then. What was lost or sent back to its
    supplier, or went only because the list or its date said so, tells nothing beyond what was seen
    before; nor does a little that somebody called no longer good: the rest may be either.
    """
    if entry.kind == Kind.INSPECTED:
        return Finding.GONE if entry.judgement == Judgement.GONE else Finding.GOOD
    if entry.kind == Kind.OUT:
        return None if entry.purpose == Movement.Purpose.SENT_BACK else Finding.GOOD
    if entry.kind != Kind.DISCARDED:
        return None
    if entry.judgement == Judgement.GONE and share < AN_END:
        return None
    if entry.judgement in (Judgement.GOOD, Judgement.JUST) or entry.reason in _HARMED:
        return Finding.GOOD
    if entry.reason in _DECAY or entry.judgement == Judgement.GONE:
        return Finding.GONE if share >= AN_END else Finding.GOOD
    return None if entry.reason in (Reason.LISTED, Reason.PAST_DATE) else Finding.GOOD


def ask_about(room: Room, farm: Farm, at: datetime) -> Crate | None:
    """Return the one crate of a room that today's check asks about, picked by chance.

    Of those between half and three quarters of their life, so that the farm's record is not
    built only of what a list had already sent somebody to. Crates on hold wait for the owner.
    """
    asked = [
        crate
        for crate in crates_here(farm, at, Q(position__room=room, held=False))
        if ASKED_FROM <= crate.life.used <= ASKED_TO and not crate.is_past_use_by
    ]
    today = at.astimezone(farm.zone).date()
    return Random(f"{room.pk} {today}").choice(asked) if asked else None
