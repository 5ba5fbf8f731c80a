"""Farms with a past, by chance with a seed: rows put straight into the tables.

The last fourteen weeks are the same however long the past is; before them crates came and went
evenly. All of it is made up, and `check_ledger` accepts it.
"""

import math
import random
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field, fields
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import models, transaction
from django.db.models import Model

from inventory.actions.empties import recount_crates
from inventory.actions.setup import Shelving
from inventory.actions.temperatures import hash_token
from inventory.codes import draw_code
from inventory.ledger.book import FOLDED_FIELDS
from inventory.ledger.fold import fold
from inventory.models import (
    Action,
    Code,
    Crop,
    FirstInLine,
    Handover,
    Intake,
    LogChange,
    Lot,
    Movement,
    Order,
    OrderEntry,
    OrderLine,
    Outlet,
    Person,
    Position,
    Reading,
    Room,
    RoomCheck,
    Sensor,
    Source,
    StandingOrder,
    Take,
)
from inventory.queries.book import day_of
from tests import builders
from tests.builders import NOW

RECENT = timedelta(days=98)
LIVE_SINCE = timedelta(days=9)
RECENT_DEAD = 1300
READ_EVERY = timedelta(minutes=10)
TOKEN = "bench-sensor-token"
CROPS = (
    "kale", "salad-mix", "basil", "spinach", "lettuce-romaine", "carrot-bunched", "beet-topped",
    "carrot-topped", "tomato-ripe", "collards", "apple", "swiss-chard",
)  # fmt: skip
BLOCKS = "Long field", "Tunnel 1", "Tunnel 2"
KITCHENS = ("Alder Table", "Birch House", "Cedar Inn", "Dogwood Hall")
_PARTY = {"name": "somebody", "address": "", "telephone": ""}
PIECE = 5000

Kind, Purpose, Outcome = Movement.Kind, Movement.Purpose, Movement.Outcome
State = Lot.State
_KIND_OF_ACTION = {
    Kind.BROUGHT_IN: "bring in", Kind.MOVED: "move", Kind.OUT: "take out", Kind.BACK: "settle",
    Kind.SETTLED: "settle", Kind.COUNTED: "count", Kind.DISCARDED: "discard",
    Kind.INSPECTED: "inspect", Kind.HELD: "hold", Kind.UNDONE: "undo",
}  # fmt: skip


@dataclass(frozen=True)
class Size:
    """How long a farm's past is, and how many crates it had and has."""

    days: int
    lots: int
    live: int


SIZES = {"year": Size(365, 6000, 500), "three": Size(1096, 40_000, 500)}
SIZES["many"] = Size(365, 10_000, 5000)


@dataclass(slots=True)
class Line:
    """One entry on its way into the ledger; what it undoes or is taken for is filled in later."""

    lot_id: str
    kind: str
    occurred_at: datetime
    action_id: UUID
    person_id: int
    number: int = 1
    change: Decimal = Decimal(0)
    amount: Decimal = Decimal(0)
    figure: Decimal | None = None
    state: str = ""
    position_id: str | None = None
    purpose: str = ""
    outcome: str = ""
    reason: str = ""
    destination: str = ""
    outlet_id: int | None = None
    other_party: str = ""
    kept_until: date | None = None
    judgement: str = ""
    undoes_id: int | None = None
    undoes: "Line | None" = None
    pk: int = 0


_COLUMNS = [
    each.name for each in fields(Line) if each.name not in ("person_id", "undoes", "pk")
]  # fmt: skip


@dataclass
class Making:
    """The rows of a farm on their way into the tables."""

    chance: random.Random
    crops: list[Crop]
    sources: list[Source]
    places: list[Position]
    people: list[Person]
    market: Outlet
    kitchens: list[Outlet]
    rows: dict[type[Model], list[Model]] = field(default_factory=lambda: defaultdict(list))
    lines: dict[str, list[Line]] = field(default_factory=dict)
    lots: dict[str, Lot] = field(default_factory=dict)
    taken: list[Line] = field(default_factory=list)
    coding: random.Random = field(default_factory=lambda: random.Random("codes"))
    coding_again: random.Random = field(default_factory=lambda: random.Random("again"))

    def id(self) -> UUID:
        return UUID(int=self.chance.getrandbits(128), version=4)

    def code(self) -> str:
        """By a chance of its own, and another for a code drawn twice: the rest stays as it is."""
        found = draw_code(self.coding.choice)
        while found in self.lots:
            found = draw_code(self.coding_again.choice)
        return found

    def action(self, kind: str, at: datetime, person: int | None = None) -> UUID:
        made = Action(
            id=self.id(), kind=kind, recorded_at=at, occurred_at=at, fingerprint="bench",
            person_id=person or self.chance.choice(self.people).pk,
        )  # fmt: skip
        self.rows[Action].append(made)
        return made.id

    def line(self, code: str, kind: str, at: datetime, **columns: Any) -> Line:
        person = self.chance.choice(self.people).pk
        action = columns.pop("action_id", None) or self.action(_KIND_OF_ACTION[kind], at, person)
        made = Line(code, kind, at, action, person, **columns)
        self.lines[code].append(made)
        return made


def build(size: Size) -> None:
    """Make a farm of this size in empty tables, in one transaction."""
    with transaction.atomic():
        making = _set_up(size)
        making.chance.seed("past")
        begin = NOW - timedelta(days=size.days)
        _harvests(making, begin, NOW - RECENT, size.lots - size.live - RECENT_DEAD, live=False)
        making.chance.seed("recent")
        making.coding.seed("recent")
        _harvests(making, NOW - RECENT, NOW - timedelta(days=7), RECENT_DEAD, live=False)
        _harvests(making, NOW - LIVE_SINCE, NOW - timedelta(hours=3), size.live, live=True)
        _number_and_fold(making)
        _orders(making, begin.date())
        _write(making)
        _rooms_history(making, size.days)
        for outlet in Outlet.objects.all():
            recount_crates(outlet.pk)


def _set_up(size: Size) -> Making:
    chance = random.Random("farm")
    shelf = max(size.live // 60, 4)
    builders.make_farm(
        rooms=[
            Shelving("Cold room", Decimal(3), racks=10, shelves=6, capacity=shelf),
            Shelving("Warm corner", Decimal(12), racks=2, shelves=4, capacity=shelf, damp=False),
        ],
        choose=chance.choice,
    )
    Crop.objects.filter(reference_key__in=CROPS).update(grown=True)
    for name in BLOCKS:
        Source.objects.create(kind=Source.Kind.BLOCK, name=name)
    for name in ("Ben", "Cleo", "Dan"):
        builders.make_crew(name)
    kitchens = [
        Outlet.objects.create(name=name, delivery_days="024", minimum_days=2) for name in KITCHENS
    ]
    return Making(
        chance,
        list(Crop.objects.filter(reference_key__in=CROPS).order_by("pk")),
        list(Source.objects.filter(kind=Source.Kind.BLOCK).order_by("pk")),
        list(Position.objects.select_related("room").order_by("walk")),
        list(Person.objects.order_by("pk")),
        builders.market(),
        kitchens,
    )


def _harvests(making: Making, start: datetime, end: datetime, crates: int, live: bool) -> None:
    """Bring in so many crates, five a harvest, evenly between two moments."""
    harvests = max(crates // 5, 1)
    step = (end - start) / harvests
    for number in range(harvests):
        here = crates // harvests + (number < crates % harvests)
        _harvest(making, start + step * number, here, live)


def _harvest(making: Making, at: datetime, crates: int, live: bool) -> None:
    crop = making.chance.choice(making.crops)
    action = making.action("bring in", at)
    intake = Intake(
        pk=len(making.rows[Intake]) + 1, action_id=action, crop=crop, arrived_at=at,
        source=making.chance.choice(making.sources), lot_code=f"B{len(making.rows[Intake]):06d}",
        cut_at=at - timedelta(hours=1), pulp_c=Decimal(making.chance.randint(6, 18)),
    )  # fmt: skip
    making.rows[Intake].append(intake)
    for number in range(1, crates + 1):
        code = making.code()
        held = Decimal(making.chance.randint(8, 20))
        making.lots[code] = Lot(
            code_id=code, crop=crop, intake=intake, unit=crop.unit, born_with=held,
            stamp=1 + making.chance.getrandbits(62),
        )  # fmt: skip
        making.lines[code] = []
        place = making.chance.choice(making.places).pk
        waits = live and NOW - at < timedelta(hours=8)
        making.line(
            code, Kind.BROUGHT_IN, at, action_id=action, number=number, change=held,
            state=State.TO_PUT_AWAY if waits else State.IN_PLACE,
            position_id=None if waits else place,
        )  # fmt: skip
        if not waits:
            _days_of(making, code, at, held, live)


def _days_of(making: Making, code: str, at: datetime, held: Decimal, live: bool) -> None:
    """Move a crate about, count and look at it, and let it go unless it is still here."""
    chance = making.chance
    for _ in range(chance.choice((2, 3, 4)) if not live else chance.choice((1, 2))):
        at = min(at + timedelta(hours=chance.uniform(0.3, 20)), NOW - timedelta(hours=1))
        place = chance.choice(making.places).pk
        moved = making.line(code, Kind.MOVED, at, state=State.IN_PLACE, position_id=place)
        if chance.random() < 0.02:
            making.line(code, Kind.UNDONE, at + timedelta(minutes=1), undoes=moved)
    if chance.random() < 0.6:
        at = min(at + timedelta(hours=2), NOW - timedelta(minutes=50))
        making.line(code, Kind.COUNTED, at, figure=held)
    if chance.random() < 0.05:
        at = min(at + timedelta(hours=1), NOW - timedelta(minutes=40))
        making.line(code, Kind.INSPECTED, at, judgement=Movement.Judgement.GOOD)
    if not live:
        _let_go(making, code, at + timedelta(hours=chance.uniform(1, 30)), held)
    elif chance.random() < 0.02:
        _to_market(making, code, NOW - timedelta(minutes=30), held)
    elif chance.random() < 0.01:
        making.line(code, Kind.HELD, NOW - timedelta(minutes=20))


def _let_go(making: Making, code: str, at: datetime, held: Decimal) -> None:
    fate = making.chance.random()
    if fate < 0.5:
        _to_kitchen(making, code, at, held)
    elif fate < 0.85:
        _to_market(making, code, at, held)
        _settle(making, code, at + timedelta(hours=6), held)
    else:
        making.line(
            code, Kind.DISCARDED, at, change=-held, reason=Movement.Reason.SPOILED,
            destination=Movement.Destination.COMPOST,
        )  # fmt: skip


def _to_kitchen(making: Making, code: str, at: datetime, held: Decimal) -> None:
    """Send a crate to a kitchen in two parts."""
    kitchen = making.chance.choice(making.kitchens)
    part = held // 2
    for amount, state in ((part, ""), (held - part, State.OUT)):
        at += timedelta(hours=2)
        making.taken.append(
            making.line(
                code, Kind.OUT, at, change=-amount, amount=amount, state=state,
                purpose=Purpose.ORDER, outlet_id=kitchen.pk, other_party=kitchen.name,
            )
        )  # fmt: skip


def _to_market(making: Making, code: str, at: datetime, held: Decimal) -> None:
    making.line(
        code, Kind.OUT, at, change=-held, amount=held, state=State.OUT, purpose=Purpose.MARKET,
        outlet_id=making.market.pk, other_party=making.market.name,
    )  # fmt: skip


def _settle(making: Making, code: str, at: datetime, held: Decimal) -> None:
    market = making.market
    to = {"purpose": Purpose.MARKET, "outlet_id": market.pk, "other_party": market.name}
    back = held // 4 if making.chance.random() < 0.4 else Decimal(0)
    sold, ends = held - back, "" if back else State.EMPTY
    if back:
        making.line(
            code, Kind.BACK, at, change=back, amount=back, state=State.IN_PLACE,
            position_id=making.chance.choice(making.places).pk, **to,
        )  # fmt: skip
    making.line(
        code, Kind.SETTLED, at + timedelta(minutes=1), amount=sold, outcome=Outcome.SOLD,
        state=ends, **to,
    )  # fmt: skip
    if back:
        making.line(
            code, Kind.DISCARDED, at + timedelta(hours=9), change=-back,
            reason=Movement.Reason.UNSOLD, destination=Movement.Destination.ANIMALS,
        )  # fmt: skip


def _number_and_fold(making: Making) -> None:
    """Give every entry its number, in the order in which they happened, and fold each crate."""
    lines = sorted(
        (line for lines in making.lines.values() for line in lines),
        key=lambda line: line.occurred_at,
    )
    for number, line in enumerate(lines, start=1):
        line.pk = number
    for line in lines:
        line.undoes_id = line.undoes.pk if line.undoes else None
        columns = {name: getattr(line, name) for name in _COLUMNS}
        making.rows[Movement].append(Movement(pk=line.pk, **columns))
        if line.kind == Kind.OUT:
            making.rows[FirstInLine].append(FirstInLine(movement_id=line.pk))
    undone = {line.undoes.action_id: line.action_id for line in lines if line.undoes}
    undoing = {undo: done for done, undo in undone.items()}
    for action in making.rows[Action]:
        action.undoes_id = undoing.get(action.pk)
    for code, lot in making.lots.items():
        folded = fold(making.lines[code])
        for name in FOLDED_FIELDS:
            setattr(lot, name, getattr(folded, name))
        making.rows[Code].append(Code(text=code))
        making.rows[Lot].append(lot)


def _orders(making: Making, begin: date) -> None:
    """Write the orders that were taken for, each handed over and closed, and those to come."""
    standing = {
        kitchen.pk: StandingOrder(
            id=making.id(), outlet=kitchen, starts=begin, said_by=making.people[0], said_at=NOW
        )
        for kitchen in making.kitchens[:2]
    }
    making.rows[StandingOrder] += standing.values()
    by_order: dict[tuple[date, int], list[Line]] = defaultdict(list)
    for line in sorted(making.taken, key=lambda line: line.pk):
        by_order[line.occurred_at.date(), line.outlet_id or 0].append(line)
    for (due, outlet), lines in by_order.items():
        repeats = standing.get(outlet)
        if repeats is None or due.weekday() != repeats.starts.weekday():
            repeats = None
        _past_order(making, due, outlet, lines, repeats)
    making.chance.seed("to come")
    for number in range(8):
        _order_to_come(making, NOW.date() + timedelta(days=number // 2), number)


def _order(making: Making, key: UUID, at: datetime, **columns: Any) -> Order:
    order = Order(id=key, said_by=making.people[0], said_at=at, **columns)
    making.rows[Order].append(order)
    making.rows[OrderEntry].append(
        OrderEntry(action_id=making.action("order", at), order=order, kind="said")
    )
    return order


def _line_of(making: Making, order: Order, crop: Crop, quantity: Decimal) -> OrderLine:
    made = OrderLine(
        pk=len(making.rows[OrderLine]) + 1, order=order, crop=crop, unit=crop.unit,
        quantity=quantity,
    )  # fmt: skip
    making.rows[OrderLine].append(made)
    return made


def _past_order(
    making: Making, due: date, outlet: int, lines: list[Line], repeats: StandingOrder | None
) -> None:
    at = lines[0].occurred_at - timedelta(days=1)
    closed_at = lines[-1].occurred_at + timedelta(hours=1)
    key = day_of(repeats, due) if repeats else making.id()
    order = _order(
        making, key, at, outlet_id=outlet, due=due, standing=repeats, closed_at=closed_at
    )
    by_crop: dict[int, list[Line]] = defaultdict(list)
    for line in lines:
        by_crop[making.lots[line.lot_id].crop_id].append(line)
    crops = {crop.pk: crop for crop in making.crops}
    for crop, taken in by_crop.items():
        row = _line_of(making, order, crops[crop], sum((one.amount for one in taken), Decimal(0)))
        making.rows[Take] += [
            Take(line=row, lot_id=one.lot_id, quantity=one.amount, taken_id=one.action_id)
            for one in taken
        ]
    making.rows[Handover].append(
        Handover(
            action_id=making.action("hand over", closed_at), order=order, at=closed_at,
            number=len(making.rows[Handover]) + 1, crates_out=2, crates_back=2, to_whom="the cook",
            paper={"farm": _PARTY, "buyer": _PARTY, "fridge_known": False, "lines": []},
        )
    )  # fmt: skip


def _order_to_come(making: Making, due: date, number: int) -> None:
    kitchen = making.kitchens[number % len(making.kitchens)]
    order = _order(making, making.id(), NOW - timedelta(hours=5), outlet=kitchen, due=due)
    for crop in making.chance.sample(making.crops, min(4, len(making.crops))):
        _line_of(making, order, crop, Decimal(making.chance.randint(5, 40)))


_ORDER_OF_TABLES: tuple[type[Model], ...] = (
    Code, Action, Intake, Lot, Movement, FirstInLine, StandingOrder, Order, OrderLine, OrderEntry,
    Take, Handover,
)  # fmt: skip


def _write(making: Making) -> None:
    undone = [action for action in making.rows[Action] if action.undoes_id]
    making.rows[Action] = [one for one in making.rows[Action] if not one.undoes_id] + undone
    for table in _ORDER_OF_TABLES:
        table._default_manager.bulk_create(making.rows.pop(table, []), batch_size=PIECE)


def _rooms_history(making: Making, days: int) -> None:
    """Write readings of three sensors, each with its change of the log, and the daily checks."""
    cold, warm = Room.objects.order_by("order")
    sensors = (("door", cold), ("back", cold), ("corner", warm))
    for number, (name, room) in enumerate(sensors):
        Sensor.objects.create(
            name=name, room=room, made_at=NOW, token_hash=hash_token(f"{TOKEN}-{number}")
        )
    _in_pieces(Reading, (
        Reading(
            room=room, sensor=name, at=at, temperature_c=_celsius(room, at), kind="sensor"
        )
        for at in _moments(days) for name, room in sensors
    ))  # fmt: skip
    _in_pieces(LogChange, (
        LogChange(room=room, since=at, recorded_at=at + timedelta(seconds=5))
        for at in _moments(days) for _name, room in sensors
    ))  # fmt: skip
    RoomCheck.objects.bulk_create(
        RoomCheck(
            room=room, day=at.date(), at=at, person=making.people[0], door_shut=True,
            opens_from_inside=True if at.weekday() == 6 else None,
        )
        for at in (NOW - timedelta(days=n, hours=6) for n in range(days, 0, -1))
        for room in (cold, warm)
    )  # fmt: skip


def _moments(days: int) -> Iterator[datetime]:
    steps = timedelta(days=days) // READ_EVERY
    return (NOW - READ_EVERY * number for number in range(steps, 0, -1))


def _celsius(room: Room, at: datetime) -> float:
    """Return the same for a moment however long the past is: warmer by day, and a slow wave."""
    days = at.timestamp() / 86_400
    return round(float(room.target_c) + 0.6 * math.sin(days * 6.283) + 0.4 * math.sin(days), 2)


def _in_pieces(table: type[Model], rows: Iterator[models.Model]) -> None:
    piece: list[Model] = []
    for row in rows:
        piece.append(row)
        if len(piece) == PIECE:
            table._default_manager.bulk_create(piece)
            piece = []
    table._default_manager.bulk_create(piece)
