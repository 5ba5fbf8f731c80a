"""Reads what the lives of crates depend on, as plain values, with a fixed number of queries."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import datetime, time

from inventory.keeping import Reference
from inventory.keeping.cooling import Cooling
from inventory.lives.clocks import Clocks
from inventory.lives.logs import room_logs
from inventory.lives.stays import Came, Link, Record, Step
from inventory.models import Farm, Intake, Lot, Movement, Parentage, ProbeReading

NOTHING_YET_S = 4e9  # a moment no log reaches
_MOST_IN_A_CLAUSE = 500


def read_clocks(lots: Iterable[Lot], farm: Farm) -> Clocks:
    """Return the clocks of these crates. Their crop, intake's source and container are read."""
    known = {lot.pk: lot for lot in lots}
    links = _links(known)
    steps = _steps(known)
    firsts = [found[0].at for found in steps.values() if found]
    oldest = min(firsts, default=NOTHING_YET_S)
    good, gone = _looks(known)
    references: dict[int, Reference] = {}
    records = {}
    for code, lot in known.items():
        if lot.crop_id not in references:
            references[lot.crop_id] = lot.crop.reference
        records[code] = Record(
            code=code,
            crop_id=lot.crop_id,
            reference=references[lot.crop_id],
            came=_came(lot.intake, farm) if lot.intake else None,
            steps=steps.get(code, ()),
            links=links.get(code, ()),
            looked_at=good.get(code, 0.0),
            gone_at=gone.get(code, 0.0),
            half_cooling_h=_usual_half_cooling_h(lot),
            room_id=lot.position.room_id if lot.position else None,
        )
    return Clocks(records, room_logs(oldest), _probes(oldest, farm), farm.zone)


def _came(intake: Intake, farm: Farm) -> Came:
    packed = intake.packed_on
    return Came(
        id=intake.pk,
        bought=intake.is_bought,
        arrived_at=intake.arrived_at.timestamp(),
        cut_at=intake.cut_at.timestamp() if intake.cut_at else None,
        packed_at=datetime.combine(packed, time(0), farm.zone).timestamp() if packed else None,
        pulp_c=None if intake.pulp_c is None else float(intake.pulp_c),
    )


def _usual_half_cooling_h(lot: Lot) -> float | None:
    usual = lot.container.half_cooling_h if lot.container else None
    return float(usual) if usual else None


def _links(known: dict[str, Lot]) -> dict[str, list[Link]]:
    """Return from what each crate was filled, and add those crates to the known ones."""
    links: dict[str, list[Link]] = defaultdict(list)
    fresh = set(known)
    while fresh:
        rows = Parentage.objects.filter(child_id__in=_some(fresh)).values_list(
            "child_id", "parent_id", "at"
        )
        found = [row for row in rows if row[0] in fresh]
        for child, parent, at in found:
            links[child].append(Link(parent, at.timestamp()))
        fresh = {parent for _, parent, _ in found} - set(known)
        parents = Lot.objects.filter(pk__in=fresh).select_related(
            "crop", "intake__source", "container", "position"
        )
        known |= {lot.pk: lot for lot in parents}
    return links


def _steps(known: dict[str, Lot]) -> dict[str, list[Step]]:
    steps: dict[str, list[Step]] = defaultdict(list)
    rows = (
        Movement.objects.filter(lot_id__in=_some(known), undone_by__isnull=True)
        .exclude(state="")
        .order_by("occurred_at", "pk")
        .values_list("lot_id", "kind", "occurred_at", "state", "position__room_id", "warm_hours")
    )
    for code, kind, at, state, room_id, warm_hours in rows:
        if code in known:
            warm = None if warm_hours is None else float(warm_hours)
            steps[code].append(Step(kind, at.timestamp(), state, room_id, warm))
    return steps


def _looks(known: dict[str, Lot]) -> tuple[dict[str, float], dict[str, float]]:
    """Return when each crate was last found good, and when last found no longer good."""
    rows = (
        Movement.objects.filter(
            lot_id__in=_some(known), kind=Movement.Kind.INSPECTED, undone_by__isnull=True
        )
        .order_by("occurred_at", "pk")
        .values_list("lot_id", "occurred_at", "judgement", "kept_until")
    )
    good: dict[str, float] = {}
    gone: dict[str, float] = {}
    for code, at, judgement, kept_until in rows:
        if judgement != Movement.Judgement.GONE:
            good[code] = at.timestamp()
        elif not kept_until:  # once one could say so and keep it all the same
            gone[code] = at.timestamp()
    return good, gone


def _probes(oldest: float, farm: Farm) -> dict[int, list[tuple[float, float]]]:
    probes: dict[int, list[tuple[float, float]]] = defaultdict(list)
    since = datetime.fromtimestamp(oldest, farm.zone)
    for probe in ProbeReading.objects.filter(at__gte=since, taken_back_at__isnull=True):
        probes[probe.intake_id].append((probe.at.timestamp(), float(probe.temperature_c)))
    return probes


def _some(codes: Collection[str]) -> Iterable[str]:
    """Return codes for an IN clause, or all lots where a database would refuse so many."""
    return (
        list(codes) if len(codes) <= _MOST_IN_A_CLAUSE else Lot.objects.values_list("pk", flat=True)
    )


def coolings_of(intakes: Iterable[Intake], farm: Farm) -> dict[int, Cooling]:
    """Return how intakes cool, by their key; without cases that came cold, and after an undo."""
    warm = [intake.pk for intake in intakes if not intake.came_cold]
    lots = (
        Lot.objects.filter(intake__in=warm, parent_links__isnull=True)
        .exclude(state=Lot.State.VOID)
        .select_related("crop", "container", "intake__source", "position")
    )
    firsts = {lot.intake_id: lot for lot in lots.order_by("-pk") if lot.intake_id}
    clocks = read_clocks(firsts.values(), farm)
    return {key: clocks.cooling(lot.pk) for key, lot in firsts.items()}


def cooling_of(intake: Intake, farm: Farm) -> Cooling | None:
    """Return how one intake cools, if it does."""
    return coolings_of([intake], farm).get(intake.pk)
