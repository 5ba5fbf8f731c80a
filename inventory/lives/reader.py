"""Reads what the lives of crates depend on, as plain values, with a fixed number of queries."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime, time
from decimal import Decimal
from typing import NamedTuple

from inventory.keeping import Reference
from inventory.keeping.cooling import Cooling
from inventory.ledger.fold import HERE
from inventory.lives.clocks import Clocks
from inventory.lives.entries import Past, in_pieces, read_pasts, read_pasts_unfilled
from inventory.lives.logs import past_logs, room_logs
from inventory.lives.stays import Came, Record
from inventory.models import Farm, Intake, Lot, ProbeReading

NOTHING_YET_S = 4e9  # a moment no log reaches
# Put together once, asked anew by every page.
_PROBES = ProbeReading.objects.filter(taken_back_at__isnull=True).values_list(
    "intake_id", "at", "temperature_c"
)


def read_clocks(
    lots: Iterable[Lot],
    farm: Farm,
    at: datetime | None = None,
    lived: Collection[str] | None = None,
) -> Clocks:
    """Return the clocks of these crates. Their crop, intake's source and container are read.

    at: when their lives are asked for, where what is to come is asked for too. What is kept of the
    rooms' logs is stretched only by crates in the house and what those were filled from. lived:
    the codes whose days in the rooms are asked for, None for all.
    """
    known = {vars(lot)["code_id"]: lot for lot in lots}
    asked = set(known if lived is None else lived)
    here = [code for code, lot in known.items() if lot.state in HERE and code in asked]
    pasts = read_pasts(known)
    came: dict[int | None, Came | None] = {None: None}
    alike: dict[tuple, Record] = {}
    records = {}
    for code, lot in known.items():
        columns = vars(lot)  # to ask a row for the key of another takes ten times as long
        intake_id, past, ended_at = columns["intake_id"], pasts[code], _ended_at(lot)
        if intake_id not in came and lot.intake:
            came[intake_id] = _came(lot.intake, farm)
        key = columns["crop_id"], intake_id, columns["container_id"], past, ended_at
        if key not in alike:
            alike[key] = _record(lot, came[intake_id], past, ended_at)
        records[code] = alike[key]
    return _clocks(records, here, asked, farm, at)


def _record(lot: Lot, came: Came | None, past: Past, ended_at: float | None) -> Record:
    container = lot.container
    usual = container.half_cooling_h if container else None
    return Record(
        crop_id=lot.crop_id,
        reference=lot.crop.reference,
        came=came,
        steps=past.steps,
        links=past.links,
        looked_at=past.looked_at,
        gone_at=past.gone_at,
        half_cooling_h=float(usual) if usual else None,
        ended_at=ended_at,
    )


class Harvest(NamedTuple):
    """A crate as it came from the field, as plain values: what is read of it by the hundred."""

    code: str
    intake_id: int
    arrived_at: datetime
    cut_at: datetime
    pulp_c: Decimal | None
    crop_id: int
    half_cooling_h: Decimal | None
    state: str
    seen_at: datetime | None
    stamp: int


def read_harvest_clocks(
    harvests: Iterable[Harvest], references: Mapping[int, Reference], farm: Farm
) -> Clocks:
    """Return the clocks of crates that were filled in the field. references: by crop."""
    known = {one.code: one for one in harvests}
    pasts = read_pasts_unfilled({code: one.stamp for code, one in known.items()})
    records = {
        code: Record(
            crop_id=one.crop_id,
            reference=references[one.crop_id],
            came=Came(
                id=one.intake_id,
                bought=False,
                arrived_at=one.arrived_at.timestamp(),
                cut_at=one.cut_at.timestamp(),
                pulp_c=None if one.pulp_c is None else float(one.pulp_c),
            ),
            steps=pasts[code].steps,
            half_cooling_h=float(one.half_cooling_h) if one.half_cooling_h else None,
            ended_at=_ended_at(one),
        )
        for code, one in known.items()
    }
    here = [code for code, one in known.items() if one.state in HERE]
    return _clocks(records, here, set(known), farm)


def _clocks(
    records: dict[str, Record],
    here: Collection[str],
    asked: Collection[str],
    farm: Farm,
    at: datetime | None = None,
) -> Clocks:
    """Return the clocks of crates, with the logs of the rooms as far back as is asked for."""
    kept = _with_parents(here, records)
    firsts = [records[code].steps[0].at for code in kept if records[code].steps]
    oldest = min(firsts, default=at.timestamp() if at else NOTHING_YET_S)
    rooms = room_logs(oldest)
    reached = max((room.from_s for room in rooms.values()), default=oldest)
    left = _with_parents(asked, records) - kept
    spans = [_span(records, code) for code in left if records[code].steps]
    past = [past_logs(*span) for span in _joined(span for span in spans if span[0] < reached)]
    probes = _probes({record.came.id for record in records.values() if record.came})
    return Clocks(records, rooms, probes, farm.zone, past, farm.unplaced_room_id)


def _ended_at(lot: Lot | Harvest) -> float | None:
    """Return when a crate was empty for good, None while it is not."""
    return lot.seen_at.timestamp() if lot.state == Lot.State.EMPTY and lot.seen_at else None


def _with_parents(codes: Iterable[str], records: Mapping[str, Record]) -> set[str]:
    """Return these crates and all they were filled from."""
    found: set[str] = set()
    fresh = set(codes)
    while fresh:
        found |= fresh
        fresh = {link.parent for code in fresh for link in records[code].links} - found
    return found


def _span(records: dict[str, Record], code: str) -> tuple[float, float]:
    """Return from when to when the rooms' logs count for a crate that is not in the house."""
    record = records[code]
    left = [link.at for each in records.values() for link in each.links if link.parent == code]
    starts = [record.steps[0].at, *(link.at for link in record.links)]
    return min(starts), max(record.steps[-1].at, record.ended_at or 0.0, *left, 0.0)


def _joined(spans: Iterable[tuple[float, float]]) -> Sequence[tuple[float, float]]:
    """Return spans of time with those that overlap made one."""
    found: list[tuple[float, float]] = []
    for start, end in sorted(spans):
        if found and start <= found[-1][1]:
            found[-1] = found[-1][0], max(found[-1][1], end)
        else:
            found.append((start, end))
    return found


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


def _probes(intakes: set[int]) -> dict[int, list[tuple[float, float]]]:
    probes: dict[int, list[tuple[float, float]]] = defaultdict(list)
    for piece in in_pieces(intakes):
        for intake, at, celsius in _PROBES.filter(intake__in=piece):
            probes[intake].append((at.timestamp(), float(celsius)))
    return probes


def coolings_of(intakes: Iterable[Intake], farm: Farm) -> dict[int, Cooling]:
    """Return how intakes cool, by their key; without cases that came cold, and after an undo."""
    warm = [intake.pk for intake in intakes if not intake.came_cold]
    if not warm:
        return {}
    lots = (
        Lot.objects.filter(intake__in=warm, parent_links__isnull=True)
        .exclude(state=Lot.State.VOID)
        .select_related("crop", "container", "intake__source")
    )
    firsts = {lot.intake_id: lot for lot in lots.order_by("-pk") if lot.intake_id}
    if not firsts:
        return {}
    clocks = read_clocks(firsts.values(), farm)
    return {key: clocks.cooling(lot.pk) for key, lot in firsts.items()}


def cooling_of(intake: Intake, farm: Farm) -> Cooling | None:
    """Return how one intake cools, if it does."""
    return coolings_of([intake], farm).get(intake.pk)
