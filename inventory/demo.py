"""Brindlemoor, an invented farm in the invented Tamberlow Valley: ten weeks of its log.

Made by the same actions as the pages, the same every time but for today's date. All figures
and names here are made up.
"""

import random
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from uuid import UUID

from django.db import connection, transaction
from django.db.models import Q

from inventory.actions import empties, handing, intakes, movements, orders, quality, reshape
from inventory.actions.field import say_walk
from inventory.actions.market import CropClosing, close_market_by_crop
from inventory.actions.setup import Shelving, set_up_farm
from inventory.actions.temperatures import check_room, close_alarm, record_readings
from inventory.ledger.book import Act
from inventory.ledger.outings import out_of, read_at_market
from inventory.models import (
    Container,
    Crop,
    Farm,
    Handover,
    Lot,
    Movement,
    Outlet,
    Person,
    Position,
    Reading,
    Room,
    Source,
)
from inventory.queries.alarms import open_alarms
from inventory.queries.book import BookOrder, BookPlan, Wanted, plan_book, read_book
from inventory.queries.crates import Crate, crates_here
from inventory.queries.empties import crates_to_wash, crates_with
from inventory.queries.field import Seen
from inventory.queries.market import CropOut, by_crop
from inventory.queries.rooms import places_for
from inventory.rotation import Worklist

WEEKS = 10
PIECE = 12  # readings of a logger, three an hour
OWNER = "Odile"
_MARKET = "Saturday market"

# crop key: (unit, per crate, crates a harvest, block, weekdays of harvest)
_HARVESTS: dict[str, tuple[str, int | str, int, str, tuple[int, ...]]] = {
    "kale": ("bunch", 12, 4, "Bed 3", (0, 2, 4)),
    "lettuce-romaine": ("head", 18, 4, "Bed 7", (0, 4)),
    "salad-mix": ("kg", "2.5", 3, "Tunnel 1", (0, 2, 4)),
    "spinach": ("kg", 4, 3, "Bed 12", (2,)),
    "carrot-bunched": ("bunch", 20, 2, "Bed 5", (2, 4)),
    "beet-topped": ("kg", 15, 1, "Long field", (0, 2)),
    "carrot-topped": ("kg", 18, 1, "Long field", (2,)),
    "basil": ("bunch", 10, 1, "Tunnel 2", (2,)),
    "tomato-ripe": ("kg", 8, 2, "Tunnel 2", (0, 4)),
}
_WEIGHTS_KG = {"kale": "0.25", "lettuce-romaine": "0.4", "carrot-bunched": "0.5"}
_ORDERS = {
    "Lantern House, Tamberlow": {
        "kale": 24, "lettuce-romaine": 30, "salad-mix": 3, "carrot-topped": 15,
    },
    "Tamberlow Inn": {"kale": 18, "spinach": 6, "beet-topped": 12, "basil": 7, "apple": 18},
    "Brindle Kitchen": {"kale": 12, "carrot-bunched": 18, "tomato-ripe": 8, "salad-mix": 2},
}  # fmt: skip
_BUYERS: dict[str, dict[str, object]] = {
    "Lantern House, Tamberlow": {
        "minimum_days": 5, "delivery_days": "3", "by_time": time(11), "freshest": True,
        "address": "2 Lantern Row, Tamberlow", "telephone": "555-0142",
    },
    "Tamberlow Inn": {
        "minimum_days": 4, "delivery_days": "13", "by_time": time(9), "cut_off_days": 1,
        "address": "1 Market Cross, Tamberlow", "telephone": "555-0117",
    },
    "Brindle Kitchen": {
        "minimum_days": 3, "delivery_days": "3", "by_time": time(10, 30), "fridge_c": Decimal(4),
        "address": "Mill Lane, Brindle", "telephone": "555-0163",
    },
}  # fmt: skip
_TAKERS = {
    "Lantern House, Tamberlow": "Perpetua", "Tamberlow Inn": "Osric", "Brindle Kitchen": "Delfina",
}  # fmt: skip
_TO_MARKET = {
    "lettuce-romaine": 5, "kale": 4, "carrot-bunched": 3, "salad-mix": 4, "tomato-ripe": 3,
    "spinach": 1, "beet-topped": 1,
}  # fmt: skip


@dataclass
class Season:
    """The farm while its log is being written: the clock, the crew, and chance with a seed."""

    farm: Farm
    now: datetime
    chance: random.Random
    people: dict[str, Person] = field(default_factory=dict)

    def act(self, who: str, at: datetime) -> Act:
        person = self.people[who]
        return Act(
            id=UUID(int=self.chance.getrandbits(128), version=4),
            person=person,
            farm=self.farm,
            at=min(at, self.now),
            as_owner=person.is_owner,
            proven=person.is_owner,
            choose=self.chance.choice,
        )

    def crop(self, key: str) -> Crop:
        return Crop.objects.get(reference_key=key)

    def crates(self, at: datetime, **where: object) -> list[Crate]:
        return crates_here(self.farm, at, Q(**where) if where else None)

    def good_place(self, crop: Crop, crates: int = 1) -> Position:
        choices = [choice for choice in places_for(crop, crates) if not choice.harm]
        good = [choice.position for choice in choices if choice.suggested]
        return good[0] if good else max(choices, key=lambda choice: choice.free).position


def load_demo(now: datetime, password: str) -> None:
    """Write the whole demo farm in one transaction. password: of its owner."""
    chance = random.Random(2604)
    with transaction.atomic():
        owner = set_up_farm(
            name="Brindlemoor",
            weight_unit="kg",
            temperature_unit="C",
            time_zone="America/New_York",
            rooms=[
                Shelving("Cold room", Decimal(4), racks=4, shelves=4, capacity=8),
                Shelving("Warm corner", Decimal(13), racks=1, shelves=3, capacity=6, damp=False),
            ],
            owner_name=OWNER,
            password=password,
            language="en",
            choose=chance.choice,
        )
        season = Season(Farm.objects.get(), now, chance, {OWNER: owner})
        _furnish(season)
        first = season.now.astimezone(season.farm.zone).date() - timedelta(weeks=WEEKS)
        today = season.now.astimezone(season.farm.zone).date()
        _temperatures(season)
        _say_orders(season, first)
        for offset in range((today - first).days):
            if offset % 7 == 0:
                _count_rows()
            _one_day(season, first + timedelta(days=offset))
        _count_rows()
        _checks(season, today)
        _today(season, today)
        _walks(season, today)


def _count_rows() -> None:
    """Let PostgreSQL see how full tables are: of a transaction that goes on it learns that from
    nobody, and takes minutes for a question about few rows."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")


def _checks(season: Season, today: date) -> None:
    """A month of daily checks, some missed; on Mondays the weekly questions too."""
    room = Room.objects.all()[0]
    for back in range(30, 0, -1):
        day = today - timedelta(days=back)
        if season.chance.random() < 0.15:
            continue
        weekly = dict.fromkeys(
            ("drip_tray_clean", "thermometer_right", "opens_from_inside"),
            True if day.weekday() == 0 else None,
        )
        act = season.act("Wren", _at(season, day, 7))
        celsius = round(season.chance.gauss(3.6, 0.2), 1)
        check_room(act, room=room, celsius=celsius, door_shut=True, odd="", **weekly)


def _walks(season: Season, today: date) -> None:
    """The last three Sundays' walks; the farm cuts on Mondays, Wednesdays and Fridays."""
    Farm.objects.update(harvest_days="024", waste_aim_percent=25)
    Source.objects.filter(name="Highledge Orchard").update(lead_days=2)
    sunday = today - timedelta(days=(today.weekday() + 1) % 7)
    for back in (14, 7, 0):
        day = sunday - timedelta(days=back)
        rows = [
            Seen(
                season.crop(key), Source.objects.get(name=block), unit,
                Decimal(per_crate) * crates * len(days) + season.chance.randrange(-5, 6),
                day,
            )
            for key, (unit, per_crate, crates, block, days) in _HARVESTS.items()
        ]  # fmt: skip
        say_walk(season.act("Inés", _at(season, day, 10)), rows=rows)


def _furnish(season: Season) -> None:
    for name, language in (("Tomas", "en"), ("Inés", "es"), ("Wren", "en")):
        person = Person(name=name, language=language)
        person.set_unusable_password()
        person.save()
        season.people[name] = person
    Crop.objects.filter(reference_key__in=[*_HARVESTS, "apple", "onion-bulb"]).update(grown=True)
    for key, (unit, *_) in _HARVESTS.items():
        weight = _WEIGHTS_KG.get(key)
        Crop.objects.filter(reference_key=key).update(unit=unit, piece_weight_kg=weight)
    Source.objects.all().delete()
    for block in sorted({block for *_, block, _ in _HARVESTS.values()}):
        Source.objects.create(kind=Source.Kind.BLOCK, name=block)
    Source.objects.create(
        kind=Source.Kind.BLOCK,
        name="Bed 9",
        not_before_reason="sprayed",
        not_before=season.now.date() + timedelta(days=6),
    )
    Source.objects.create(kind=Source.Kind.SUPPLIER, name="Highledge Orchard")
    Container.objects.create(name="Bulb crate", tare_kg=Decimal("1.9"))
    Container.objects.create(name="Waxed carton", tare_kg=Decimal("0.8"))
    Outlet.objects.filter(name="Market").update(
        name=_MARKET, own_grown_only=True, delivery_days="5", minimum_days=0
    )
    for name, known in _BUYERS.items():
        Outlet.objects.create(name=name, **known)
    Outlet.objects.create(name="Farm stand", kind=Outlet.Kind.STAND)
    Position.objects.filter(rack="A", shelf=3).update(cold_spot=True)


def _temperatures(season: Season) -> None:
    """A logger in each room, three times an hour, and the afternoon the power failed."""
    failed = _at(season, season.now.date() - timedelta(days=8), 13, 20)
    for room in Room.objects.all():
        moments = [
            season.now - timedelta(minutes=20 * number) for number in range(WEEKS * 7 * 24 * 3)
        ]
        readings = [(moment, _celsius(season, room, moment, moment - failed)) for moment in moments]
        # As they would have come, a few hours at a time, so that none counts as late.
        for start in range(0, len(readings), PIECE):
            piece = readings[start : start + PIECE]
            record_readings(
                room, piece, kind=Reading.Kind.SENSOR, at=piece[0][0], sensor=f"{room} logger"
            )


def _celsius(season: Season, room: Room, moment: datetime, since_failure: timedelta) -> float:
    """A day's swing, a little noise, a door now and then, and one power failure."""
    hour = moment.astimezone(season.farm.zone).hour
    celsius = float(room.target_c) + (0.5 if 11 <= hour <= 19 else -0.4)
    celsius += season.chance.gauss(0, 0.2)
    if room.target_c < 10 and hour in (8, 13) and season.chance.random() < 0.3:
        celsius += 2.8
    if room.target_c < 10 and timedelta(0) <= since_failure <= timedelta(hours=3, minutes=50):
        celsius = 9.0
    return round(celsius, 1)


def _one_day(season: Season, day: date) -> None:
    weekday = day.weekday()
    for key, (_, _, crates, _, days) in _HARVESTS.items():
        if weekday in days:
            _harvest(season, day, key, crates)
    if weekday == 1:
        _delivery(season, day)
        _sort_beets(season, day)
    if weekday == 3:
        _get_orders(season, _at(season, day, 13))
    if weekday == 5:
        _load_market(season, _at(season, day, 5), _TO_MARKET)
        _close_market(season, _at(season, day, 14))
    if weekday == 6:
        _review(season, _at(season, day, 17))


def _at(season: Season, day: date, hour: int, minute: int = 0) -> datetime:
    return datetime.combine(day, time(hour, minute), season.farm.zone)


def _harvest(season: Season, day: date, key: str, crates: int) -> None:
    at = _at(season, day, 8, season.chance.randrange(60))
    some = max(1, crates + season.chance.choice((-1, 0, 0, 1)))
    ago = timedelta(minutes=season.chance.choice((30, 60, 120)))
    _bring_in(season, at, key, some, ago)
    _put_away(season, at + timedelta(minutes=20), season.crop(key))


def _bring_in(season: Season, at: datetime, key: str, crates: int, ago: timedelta) -> None:
    unit, per_crate, _, block, _ = _HARVESTS[key]
    intakes.bring_in_harvest(
        season.act("Tomas", at),
        crop=season.crop(key),
        source=Source.objects.get(name=block),
        quantities=[Decimal(per_crate)] * crates,
        unit=unit,
        container=Container.objects.order_by("pk").first(),
        cut_ago=ago,
    )


def _put_away(season: Season, at: datetime, crop: Crop) -> None:
    waiting = [crate.code for crate in season.crates(at, crop=crop, state=Lot.State.TO_PUT_AWAY)]
    for start in range(0, len(waiting), 3):
        few = waiting[start : start + 3]
        place = season.good_place(crop, len(few))
        movements.move_lots(season.act("Wren", at), lots=few, position=place)


def _delivery(season: Season, day: date) -> None:
    if day.isocalendar().week % 2:
        return
    at = _at(season, day, 10)
    apple = season.crop("apple")
    intakes.bring_in_cases(
        season.act(OWNER, at),
        crop=apple,
        source=Source.objects.get(name="Highledge Orchard"),
        quantities=[Decimal("18.1")] * 3,
        unit="kg",
        container=Container.objects.get(name="Waxed carton"),
        packed_on=day - timedelta(days=9),
        supplier_reference=f"HO-{day:%m%d}",
        origin="next valley",
        case_cost=Decimal(34),
    )
    _put_away(season, at + timedelta(minutes=10), apple)


def _sort_beets(season: Season, day: date) -> None:
    """One Tuesday a crate smells of a bad root: sorted into firsts, seconds, culls and loss."""
    at = _at(season, day, 15)
    beets = season.crates(at, crop=season.crop("beet-topped"), held=False)
    beets = [crate for crate in beets if crate.lot.quantity == 15][:2]
    if day.isocalendar().week % 4 or len(beets) < 2:
        return
    reshape.resort_lots(
        season.act("Wren", at),
        lots=[crate.code for crate in beets],
        firsts=Decimal(24),
        seconds=Decimal(3),
        culls=Decimal("2.5"),
        lost=Decimal("0.5"),
        destination=Movement.Destination.ANIMALS,
    )


def _say_orders(season: Season, first: date) -> None:
    """Three kitchens order the same every Thursday."""
    thursday = first + timedelta(days=(3 - first.weekday()) % 7)
    for name, wanted in _ORDERS.items():
        orders.say_order(
            season.act("Wren", _at(season, first, 9)),
            outlet=Outlet.objects.get(name=name),
            lines=_wanted(season, wanted),
            due=thursday,
            repeats=True,
        )


def _wanted(season: Season, wanted: dict[str, int]) -> list[Wanted]:
    return [
        Wanted(crop := season.crop(key), crop.unit, Decimal(quantity))
        for key, quantity in wanted.items()
    ]


def _get_orders(season: Season, at: datetime) -> None:
    """Get what is due on a day together, and hand it over; the crates before come back, but two."""
    day = at.astimezone(season.farm.zone).date()
    for order in read_book(season.farm, at):
        if order.due == day:
            plan = plan_book(season.farm, at, {line.crop.pk for line in order.lines})
            _tell_shorts(season, at, order, plan)
            for take in plan.of(order.id):
                orders.take_for_order(
                    season.act("Wren", at),
                    order=order.id,
                    lot=take.crate.code,
                    quantity=take.quantity,
                )
            act = season.act("Wren", at)
            if not plan.of(order.id):
                orders.close_order(act, order=order.id)
                continue
            handing.hand_over(
                act,
                order=order.id,
                to_whom=_TAKERS[order.outlet.name],
                crates_back=max(crates_with(order.outlet) - 2, 0),
            )


def _tell_shorts(season: Season, at: datetime, order: BookOrder, plan: BookPlan) -> None:
    """Tell a kitchen before anybody walks what it will not get."""
    lacks = {
        f"{line.crop.pk}:{line.unit}": plan.shorts[line.id].quantity
        for line in order.lines
        if line.id in plan.shorts
    }
    if lacks:
        orders.tell_short(season.act("Wren", at), order=order.id, lacks=lacks)


def _load_market(season: Season, at: datetime, load: dict[str, int]) -> None:
    market = Outlet.objects.get(name=_MARKET)
    for key, crates in load.items():
        fit = [
            crate
            for crate in season.crates(at, crop=season.crop(key), state="in place", held=False)
            if crate.is_fit
        ]
        for crate in fit[:crates]:
            movements.take_out(
                season.act("Tomas", at),
                lot=crate.code,
                portion="all",
                purpose=Movement.Purpose.MARKET,
                outlet=market,
            )


def _close_market(season: Season, at: datetime) -> None:
    out = read_at_market()
    if out:
        close_market_by_crop(
            season.act("Tomas", at),
            market=out[0].outing,
            crops=[_sold(season, one) for one in by_crop(out)],
            weather=season.chance.choice(("usual", "usual", "usual", "usual", "poor", "strong")),
            warm_hours=Decimal(5),
        )
    for crate in season.crates(at, state=Lot.State.TO_PUT_AWAY):
        movements.move_lots(
            season.act("Tomas", at),
            lots=[crate.code],
            position=season.good_place(crate.lot.crop),
        )


def _sold(season: Season, out: CropOut) -> CropClosing:
    """What became of a crop at market: in most weeks some comes back, now and then one is lost."""
    back = Decimal(int(out.amount * season.chance.choice((0, 0, 8, 15, 25)) / 100))
    lost = Decimal(season.chance.choice((0, 0, 1))) if out.amount > back + 1 else Decimal(0)
    gone = season.chance.choice(("end", "end", "early"))
    return CropClosing(
        out={row.lot.pk: row.amount for row in out.crates},
        back=back,
        lost=lost,
        sold_out="no" if back else gone,
    )


def _review(season: Season, at: datetime) -> None:
    """Sunday: what is past its time goes, but for one crate; a count finds small differences."""
    if waiting := crates_to_wash():
        empties.wash_empties(season.act("Wren", at), number=waiting)
    for crate in season.crates(at):
        if crate.verdict.worklist == Worklist.DISCARD:
            quality.discard(
                season.act(OWNER, at),
                lot=crate.code,
                portion="all",
                reason=season.chance.choice(("spoiled", "wilted", "yellowed", "unsold")),
                destination=season.chance.choice(("compost", "compost", "animal feed")),
            )
        elif crate.verdict.worklist == Worklist.SELL_FIRST and season.chance.random() < 0.3:
            movements.take_out(
                season.act(OWNER, at),
                lot=crate.code,
                portion="half",
                purpose=Movement.Purpose.GIVEN,
                to="Tamberlow food pantry",
            )
    counted = [crate for crate in season.crates(at) if crate.lot.quantity > 5]
    if counted:
        crate = season.chance.choice(counted)
        reshape.count_lots(
            season.act("Inés", at),
            figures={crate.code: crate.lot.quantity - 1},
            reason="missing",
        )


def _today(season: Season, today: date) -> None:
    """What a newcomer finds: fresh harvests, a market still out, a doubt, a forgotten crate."""
    now = season.now
    _forgotten(season, now - timedelta(days=26))
    _bring_in(season, now - timedelta(hours=3), "kale", 4, timedelta(hours=1))
    _put_away(season, now - timedelta(hours=2, minutes=45), season.crop("kale"))
    _bring_in(season, now - timedelta(minutes=25), "lettuce-romaine", 4, timedelta(hours=1))
    _delivery_spoilt_on_the_way(season, now - timedelta(hours=2))
    _looked_at(season, now - timedelta(hours=1))
    _close_alarm(season, now - timedelta(days=6))
    _load_market(season, now - timedelta(minutes=50), {"carrot-bunched": 1, "salad-mix": 1})
    _orders_of_today(season, now)
    _said_soft(season, now - timedelta(minutes=20))


def _said_soft(season: Season, at: datetime) -> None:
    """A kitchen found some of its kale soft."""
    slips = Handover.objects.filter(order__outlet__name="Lantern House, Tamberlow")
    slip = slips.order_by("-number").first()
    kale = season.crop("kale").pk
    lines = [line for line in slip.paper["lines"] if line["crop"] == kale] if slip else []
    if slip and lines:
        handing.give_credit(
            season.act("Wren", at),
            slip=slip.number,
            lot=lines[0]["code"],
            what="soft",
            quantity=Decimal(2),
        )


def _orders_of_today(season: Season, now: datetime) -> None:
    """One due today that will lack something; one for the day after, changed since."""
    today = now.astimezone(season.farm.zone).date()
    orders.say_order(
        season.act(OWNER, now - timedelta(minutes=30)),
        outlet=Outlet.objects.get(name="Lantern House, Tamberlow"),
        lines=_wanted(season, {"kale": 30, "beet-topped": 10, "basil": 60}),
        due=today,
    )
    later = season.act(OWNER, now - timedelta(hours=20))
    orders.say_order(
        later,
        outlet=Outlet.objects.get(name="Brindle Kitchen"),
        lines=_wanted(season, {"salad-mix": 2, "kale": 12}),
        due=today + timedelta(days=1),
    )
    orders.change_order(
        season.act(OWNER, now - timedelta(hours=2)),
        order=later.id,
        lines=_wanted(season, {"salad-mix": 4, "kale": 12}),
        due=today + timedelta(days=1),
    )


def _forgotten(season: Season, at: datetime) -> None:
    """A crate of kale at the back of the lowest shelf that every review walked past."""
    crop = season.crop("kale")
    intakes.bring_in_harvest(
        season.act("Tomas", at),
        crop=crop,
        source=Source.objects.get(name="Bed 3"),
        quantities=[Decimal(11)],
        unit="bunch",
        cut_ago=timedelta(hours=2),
        position=Position.objects.get(rack="D", shelf=4),
    )


def _delivery_spoilt_on_the_way(season: Season, at: datetime) -> None:
    """A chef sent half a crate back; the van had stood in the sun all day."""
    crates = [
        crate
        for crate in season.crates(at, crop=season.crop("lettuce-romaine"), state="in place")
        if crate.verdict.worklist != Worklist.DISCARD and not crate.was_out
    ]
    if not crates:
        return
    code = crates[0].code
    movements.take_out(
        season.act("Wren", at - timedelta(hours=9)),
        lot=code,
        portion="all",
        purpose=Movement.Purpose.ORDER,
        outlet=Outlet.objects.get(name="Tamberlow Inn"),
    )
    out = list(out_of(Lot.objects.get(pk=code)).values())[-1]
    movements.bring_back(
        season.act("Wren", at),
        lot=code,
        quantity=min(out, Decimal(6)),
        warm_hours=Decimal(9),
        position=season.good_place(season.crop("lettuce-romaine")),
    )


def _looked_at(season: Season, at: datetime) -> None:
    """One crate kept after a look, one on hold for a doubt."""
    past = [crate for crate in season.crates(at) if crate.verdict.worklist == Worklist.DISCARD]
    if len(past) > 1:
        quality.inspect(season.act(OWNER, at), lot=past[-1].code, days=2, seen="firm, smells fresh")
    fresh = [crate for crate in season.crates(at) if not crate.verdict.worklist]
    quality.hold(season.act("Inés", at), lot=fresh[-1].code, reason="a doubt")


def _close_alarm(season: Season, at: datetime) -> None:
    """What was done about the power failure."""
    for alarm in open_alarms(at):
        spell = alarm.excursion
        close_alarm(
            season.act(OWNER, at),
            room=alarm.room,
            started_at=spell.start,
            ended_at=spell.end,
            side=spell.side,
            peak_c=spell.peak_c,
            done="power failed; generator outside, 5 m off; looked at the greens",
        )
