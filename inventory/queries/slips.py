"""What goes with a delivery: its crates, how long each keeps there, and the slip as printed."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db.models import F

from inventory.keeping.chilling import is_too_cold
from inventory.ledger.outings import out_of_each
from inventory.models import Crop, Farm, Handover, Intake, Lot, Order, Outlet, Take
from inventory.queries.crates import Crate, share, with_life, with_parts

# A kitchen out of the cold: 70 °F, as FDA Food Code 3-501.19(C) has it.
COUNTER_C = 21.11
# No kitchen is told to hold produce colder: its fridge could freeze it.
COLDEST_SAID_C = 1.0


@dataclass(frozen=True)
class Keeps:
    """How long whole, uncut produce keeps with a buyer. [d, °C]

    days: at low_c to high_c, where high_c is the fridge it was reckoned at; of what that fridge
    hurts by cold it is the span it wants, and counter and fridge are its days there. fridge:
    None where nobody has published how long it stands that.
    """

    days: int
    low_c: float
    high_c: float
    hurt_by_cold: bool = False
    counter: int = 0
    fridge: int | None = None


def keeps_there(crate: Crate, day: date, outlet: Outlet) -> Keeps:
    """Return how long a crate keeps with a buyer from the day it gets there."""
    reference, way = crate.lot.crop.reference, float(outlet.way_hours)
    there = crate.days_on_arrival(day, outlet.fridge, way)
    if not is_too_cold(reference, outlet.fridge):
        low = max(reference.temp_low_c, COLDEST_SAID_C)
        return Keeps(max(there.days, 0), min(low, outlet.fridge), outlet.fridge)
    best = crate.days_on_arrival(day, reference.temp_high_c, way)
    counter = crate.days_on_arrival(day, COUNTER_C, way)
    return Keeps(
        days=max(best.days, 0),
        low_c=reference.temp_low_c,
        high_c=reference.temp_high_c,
        hurt_by_cold=True,
        counter=max(counter.days, 0),
        fridge=max(there.days, 0) if there.in_fridge else None,
    )


@dataclass(frozen=True)
class Handed:
    """What of a crate goes out with an order. whole: in its own crate."""

    take: Take
    quantity: Decimal
    whole: bool


def to_hand_over(row: Order) -> list[Handed]:
    """Return what was taken for an order and did not come back since, by crop."""
    return to_hand_over_of([row])[row.pk]


def to_hand_over_of(orders: Collection[Order]) -> dict[UUID, list[Handed]]:
    """Return the same of each of several orders, by its id."""
    rows = Take.objects.standing().filter(line__order__in=orders)
    takes = list(rows.select_related("line__crop", "taken").prefetch_related("taken__movements"))
    codes = {take.lot_id for take in takes}
    share(takes, lot={lot.pk: lot for lot in with_parts(Lot.objects.filter(pk__in=codes))})
    out = out_of_each(codes)
    outlet_of = {row.pk: row.outlet_id for row in orders}
    found: dict[UUID, list[Handed]] = {row.pk: [] for row in orders}
    takes.sort(key=lambda take: (take.line.crop.shown_name.lower(), take.pk))
    for take in takes:
        order = take.line.order_id
        left = sum(
            (
                amount
                for outing, amount in out.get(take.lot_id, {}).items()
                if outing.outlet_id == outlet_of[order]
            ),
            Decimal(0),
        )
        if left > 0:
            whole = any(entry.state == Lot.State.OUT for entry in take.taken.movements.all())
            found[order].append(Handed(take, min(take.quantity, left), whole))
    return found


def crates_needed(handed: Iterable[Handed]) -> int:
    """Return how many crates of ours go with these: a part crate's goods share one by crop.

    What was bought goes whole in its supplier's case. Common practice, no source.
    """
    handed = list(handed)
    whole = [one for one in handed if one.whole and one.take.lot.supplier is None]
    parts = {one.take.lot.crop_id for one in handed if not one.whole}
    return len(whole) + len(parts)


def make_paper(row: Order, handed: Iterable[Handed], farm: Farm, day: date) -> dict[str, Any]:
    """Return what the slip of an order says, as plain text and numbers."""
    outlet = row.outlet
    return {
        "farm": {
            "name": farm.name, "address": farm.postal_address, "telephone": farm.telephone,
        },
        "buyer": {
            "name": outlet.name, "address": outlet.address, "telephone": outlet.telephone,
        },
        "fridge_known": outlet.fridge_c is not None,
        "lines": [_line(one, farm, day, outlet) for one in handed],
    }  # fmt: skip


def _line(one: Handed, farm: Farm, day: date, outlet: Outlet) -> dict[str, Any]:
    lot = one.take.lot
    # As it stood when it was taken: of a part only what stays behind goes on in the room.
    crate = with_life([lot], farm, one.take.taken.occurred_at)[0]
    keeps = keeps_there(crate, day, outlet)
    life = crate.life
    kind = "in" if not life.time_given else "packed" if life.bought else "cut"
    moment = life.harvested_at if life.time_given else life.arrived_at
    return {
        "code": lot.pk,
        "lot_codes": lot_codes(lot),
        "crop": lot.crop_id,
        "name": lot.shown_name,
        "quantity": str(one.quantity),
        "unit": lot.unit,
        "day": moment.astimezone(farm.zone).date().isoformat(),
        "kind": kind,
        "keeps": vars(keeps),
        "was_out": crate.was_out,
    }


def lot_codes(lot: Lot) -> list[str]:
    """Return the traceability lot codes of all that is in a crate, in order."""
    return sorted(intake.lot_code for intake in intakes_of(lot))


def intakes_of(lot: Lot) -> set[Intake]:
    """Return the harvests and deliveries of all that is in a crate."""
    found: set[Intake] = set()
    asked = [lot]
    while asked:
        one = asked.pop()
        if one.intake is not None:
            found.add(one.intake)
        else:
            asked += one.parents.select_related("intake")
    return found


@dataclass(frozen=True)
class SlipLine:
    """One crate on a slip. kind: its day is the one it was "cut", "packed", or came "in".
    was_out: out of our hands before, and back."""

    code: str
    lot_codes: tuple[str, ...]
    crop: Crop
    name: str
    quantity: Decimal
    unit: str
    day: date
    kind: str
    keeps: Keeps
    was_out: bool = False


@dataclass(frozen=True)
class Slip:
    """A delivery slip, as it was printed. own, buyer: name, address and telephone."""

    handover: Handover
    own: dict[str, str]
    buyer: dict[str, str]
    fridge_known: bool
    lines: tuple[SlipLine, ...]

    @property
    def crops(self) -> list[tuple[Crop, list[SlipLine]]]:
        """The lines by crop, in the order of the slip."""
        found: dict[Crop, list[SlipLine]] = defaultdict(list)
        for line in self.lines:
            found[line.crop].append(line)
        return list(found.items())

    @property
    def has_reckoned_fridge(self) -> bool:
        """Whether any of its days were reckoned for a fridge nobody knows."""
        return not self.fridge_known and any(
            not line.keeps.hurt_by_cold or line.keeps.fridge is not None for line in self.lines
        )


def read_slip(number: int) -> Slip | None:
    found = Handover.objects.select_related("action__person", "order__outlet", "action__undone_by")
    handover = found.filter(number=number).first()
    if handover is None:
        return None
    paper = handover.paper
    crops = Crop.objects.in_bulk(line["crop"] for line in paper["lines"])
    return Slip(
        handover=handover,
        own=paper["farm"],
        buyer=paper["buyer"],
        fridge_known=paper["fridge_known"],
        lines=tuple(_read_line(line, crops) for line in paper["lines"]),
    )


def _read_line(line: dict[str, Any], crops: dict[int, Crop]) -> SlipLine:
    return SlipLine(
        code=line["code"],
        lot_codes=tuple(line["lot_codes"]),
        crop=crops[line["crop"]],
        name=line["name"],
        quantity=Decimal(line["quantity"]),
        unit=line["unit"],
        day=date.fromisoformat(line["day"]),
        kind=line["kind"],
        keeps=Keeps(**line["keeps"]),
        was_out=line.get("was_out", False),
    )


def delivery_link(handover: Handover, farm: Farm) -> str:
    """Return the address of a delivery's page; "" where none opens."""
    if not has_page(handover) or not farm.label_address:
        return ""
    # In capitals, as on labels: their QR code is smaller.
    return f"{farm.label_address.upper()}/D/{handover.page_token}"


def has_page(handover: Handover) -> bool:
    """Return whether a delivery's page opens for whoever has its slip."""
    return bool(handover.page_token) and handover.page_open and not handover.is_withdrawn


def find_delivery(token: str) -> Slip | None:
    """Return the delivery whose page a token opens."""
    if not (token.isascii() and token.isalnum()):
        return None
    number = Handover.objects.filter(page_token=token).values_list("number", flat=True).first()
    found = read_slip(number) if number is not None else None
    return found if found is not None and has_page(found.handover) else None


@dataclass(frozen=True)
class Delivered:
    """What of one harvest came, without the crates it came in."""

    line: SlipLine
    quantity: Decimal


def read_delivered(slip: Slip) -> list[Delivered]:
    """Return what came, each harvest once, in the order of the slip."""
    sums: dict[tuple, Decimal] = defaultdict(Decimal)
    lines: dict[tuple, SlipLine] = {}
    for line in slip.lines:
        alike = (line.name, line.unit, line.day, line.kind, line.lot_codes, line.keeps)
        lines.setdefault(alike, line)
        sums[alike] += line.quantity
    return [Delivered(line, sums[alike]) for alike, line in lines.items()]


def slip_of(row: Order) -> Handover | None:
    """Return the handing over of an order that stands."""
    return Handover.objects.standing().filter(order=row).first()


def last_taker(outlet: Outlet) -> str:
    """Return who took the buyer's latest delivery, "" of a first one."""
    # Walked back from the last slip: of a buyer's orders there are more every week.
    slips = Handover.objects.standing().alias(to=F("order__outlet_id") + 0)
    latest = slips.filter(to=outlet.pk).order_by("-number")
    return latest.values_list("to_whom", flat=True).first() or ""
