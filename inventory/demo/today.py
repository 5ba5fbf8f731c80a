"""What a newcomer finds: fresh harvests, a market still out, a doubt, a forgotten crate."""

from datetime import datetime, timedelta
from decimal import Decimal

from inventory.actions import handing, intakes, movements, orders, quality
from inventory.actions.field import say_walk
from inventory.demo import scenario
from inventory.demo.season import Season
from inventory.demo.temperatures import close_alarms
from inventory.demo.week import bring_in, load_market, put_away, wanted_of
from inventory.ledger.outings import out_of
from inventory.models import Farm, Handover, Lot, Movement, Outlet, Position, Source
from inventory.queries.field import Seen
from inventory.rotation import Worklist


def leave_today(season: Season) -> None:
    now = season.now
    _forgotten(season, now - timedelta(days=26))
    bring_in(season, now - timedelta(hours=3), "kale", 4, timedelta(hours=1))
    put_away(season, now - timedelta(hours=2, minutes=45), season.crop("kale"))
    bring_in(season, now - timedelta(minutes=25), "lettuce-romaine", 4, timedelta(hours=1))
    _delivery_spoilt_on_the_way(season, now - timedelta(hours=2))
    _looked_at(season, now - timedelta(hours=1))
    close_alarms(season, now - timedelta(days=6))
    load_market(season, now - timedelta(minutes=50), scenario.MARKET_TODAY)
    _orders_of_today(season)
    _said_soft(season, now - timedelta(minutes=20))


def _said_soft(season: Season, at: datetime) -> None:
    """A kitchen found some of its kale soft."""
    slips = Handover.objects.filter(order__outlet__name=scenario.LANTERN)
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


def _orders_of_today(season: Season) -> None:
    """One due today that will lack something; one for the day after, changed since."""
    now, tomorrow = season.now, season.today + timedelta(days=1)
    orders.say_order(
        season.act(scenario.OWNER, now - timedelta(minutes=30)),
        outlet=Outlet.objects.get(name=scenario.LANTERN),
        lines=wanted_of(season, scenario.LANTERN_TODAY),
        due=season.today,
    )
    later = season.act(scenario.OWNER, now - timedelta(hours=20))
    orders.say_order(
        later,
        outlet=Outlet.objects.get(name=scenario.KITCHEN),
        lines=wanted_of(season, scenario.KITCHEN_SAID),
        due=tomorrow,
    )
    orders.change_order(
        season.act(scenario.OWNER, now - timedelta(hours=2)),
        order=later.id,
        lines=wanted_of(season, scenario.KITCHEN_CHANGED),
        due=tomorrow,
    )


def _forgotten(season: Season, at: datetime) -> None:
    """A crate of kale at the back of the lowest shelf that every review walked past."""
    intakes.bring_in_harvest(
        season.act("Tomas", at),
        crop=season.crop("kale"),
        source=Source.objects.get(name=scenario.HARVESTS["kale"].block),
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
        outlet=Outlet.objects.get(name=scenario.INN),
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
        quality.inspect(
            season.act(scenario.OWNER, at), lot=past[-1].code, days=2, seen="firm, smells fresh"
        )
    fresh = [crate for crate in season.crates(at) if not crate.verdict.worklist]
    quality.hold(season.act("Inés", at), lot=fresh[-1].code, reason="a doubt")


def walk_the_field(season: Season) -> None:
    """The last three Sundays' walks; the farm cuts on Mondays, Wednesdays and Fridays."""
    Farm.objects.update(
        harvest_days=scenario.CUT_DAYS, waste_aim_percent=scenario.WASTE_AIM_PERCENT
    )
    Source.objects.filter(name=scenario.SUPPLIER).update(lead_days=scenario.LEAD_DAYS)
    sunday = season.today - timedelta(days=(season.today.weekday() + 1) % 7)
    for back in (14, 7, 0):
        day = sunday - timedelta(days=back)
        rows = [
            Seen(
                season.crop(key), Source.objects.get(name=grown.block), grown.unit,
                Decimal(grown.per_crate) * grown.crates * len(grown.days)
                + season.chance.randrange(-5, 6),
                day,
            )
            for key, grown in scenario.HARVESTS.items()
        ]  # fmt: skip
        say_walk(season.act("Inés", season.at(day, 10)), rows=rows)
