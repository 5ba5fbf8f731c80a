"""A week as it goes: harvests, a delivery, orders got and handed over, a market, a review."""

from datetime import date, datetime, timedelta
from decimal import Decimal

from inventory.actions import empties, handing, intakes, movements, orders, quality, reshape
from inventory.actions.market import CropClosing, close_market_by_crop
from inventory.demo import scenario
from inventory.demo.season import Season
from inventory.ledger.outings import read_at_market
from inventory.models import Container, Crop, Lot, Movement, Outlet, Source
from inventory.queries.book import BookOrder, BookPlan, Wanted, plan_book, read_book
from inventory.queries.empties import crates_to_wash, crates_with
from inventory.queries.market import CropOut, by_crop
from inventory.rotation import Worklist


def live_day(season: Season, day: date) -> None:
    weekday = day.weekday()
    for key, harvest in scenario.HARVESTS.items():
        if weekday in harvest.days:
            _harvest(season, day, key, harvest.crates)
    if weekday == scenario.DELIVERY_DAY:
        _delivery(season, day)
        _sort_beets(season, day)
    if weekday == scenario.ORDER_DAY:
        _get_orders(season, season.at(day, 13))
    if weekday == scenario.MARKET_DAY:
        load_market(season, season.at(day, 5), scenario.TO_MARKET)
        _close_market(season, season.at(day, 14))
    if weekday == scenario.REVIEW_DAY:
        _review(season, season.at(day, 17))


def _harvest(season: Season, day: date, key: str, crates: int) -> None:
    at = season.at(day, 8, season.chance.randrange(60))
    some = max(1, crates + season.chance.choice((-1, 0, 0, 1)))
    ago = timedelta(minutes=season.chance.choice((30, 60, 120)))
    bring_in(season, at, key, some, ago)
    put_away(season, at + timedelta(minutes=20), season.crop(key))


def bring_in(season: Season, at: datetime, key: str, crates: int, ago: timedelta) -> None:
    harvest = scenario.HARVESTS[key]
    intakes.bring_in_harvest(
        season.act("Tomas", at),
        crop=season.crop(key),
        source=Source.objects.get(name=harvest.block),
        quantities=[Decimal(harvest.per_crate)] * crates,
        unit=harvest.unit,
        container=Container.objects.order_by("pk").first(),
        cut_ago=ago,
    )


def put_away(season: Season, at: datetime, crop: Crop) -> None:
    waiting = [crate.code for crate in season.crates(at, crop=crop, state=Lot.State.TO_PUT_AWAY)]
    for start in range(0, len(waiting), 3):
        few = waiting[start : start + 3]
        place = season.good_place(crop, len(few))
        movements.move_lots(season.act("Wren", at), lots=few, position=place)


def _delivery(season: Season, day: date) -> None:
    if day.isocalendar().week % 2:
        return
    at = season.at(day, 10)
    crop = season.crop(scenario.BOUGHT)
    intakes.bring_in_cases(
        season.act(scenario.OWNER, at),
        crop=crop,
        source=Source.objects.get(name=scenario.SUPPLIER),
        quantities=[scenario.CASE_KG] * scenario.CASES,
        unit="kg",
        container=Container.objects.get(name="Waxed carton"),
        packed_on=day - timedelta(days=9),
        supplier_reference=f"HO-{day:%m%d}",
        origin="next valley",
        case_cost=scenario.CASE_COST,
    )
    put_away(season, at + timedelta(minutes=10), crop)


def _sort_beets(season: Season, day: date) -> None:
    """One Tuesday a crate smells of a bad root: sorted into firsts, seconds, culls and loss."""
    at = season.at(day, 15)
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


def say_orders(season: Season, first: date) -> None:
    """Three kitchens order the same every week."""
    due = first + timedelta(days=(scenario.ORDER_DAY - first.weekday()) % 7)
    for name, wanted in scenario.ORDERS.items():
        orders.say_order(
            season.act("Wren", season.at(first, 9)),
            outlet=Outlet.objects.get(name=name),
            lines=wanted_of(season, wanted),
            due=due,
            repeats=True,
        )


def wanted_of(season: Season, wanted: dict[str, int]) -> list[Wanted]:
    return [
        Wanted(crop := season.crop(key), crop.unit, Decimal(quantity))
        for key, quantity in wanted.items()
    ]


def _get_orders(season: Season, at: datetime) -> None:
    """Get what is due on a day together, and hand it over; the crates before come back, but two."""
    day = season.day_of(at)
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
                to_whom=scenario.TAKERS[order.outlet.name],
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


def load_market(season: Season, at: datetime, load: dict[str, int]) -> None:
    market = Outlet.objects.get(name=scenario.MARKET)
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
                season.act(scenario.OWNER, at),
                lot=crate.code,
                portion="all",
                reason=season.chance.choice(("spoiled", "wilted", "yellowed", "unsold")),
                destination=season.chance.choice(("compost", "compost", "animal feed")),
            )
        elif crate.verdict.worklist == Worklist.SELL_FIRST and season.chance.random() < 0.3:
            movements.take_out(
                season.act(scenario.OWNER, at),
                lot=crate.code,
                portion="half",
                purpose=Movement.Purpose.GIVEN,
                to=scenario.PANTRY,
            )
    counted = [crate for crate in season.crates(at) if crate.lot.quantity > 5]
    if counted:
        crate = season.chance.choice(counted)
        reshape.count_lots(
            season.act("Inés", at),
            figures={crate.code: crate.lot.quantity - 1},
            reason="missing",
        )
