"""The whole demo farm, from its first shelf to what waits today, in one transaction."""

import random
from datetime import datetime, timedelta

from django.db import connection, transaction

from inventory.actions.setup import set_up_farm
from inventory.demo import scenario
from inventory.demo.season import Season
from inventory.demo.temperatures import check_rooms, log_temperatures
from inventory.demo.today import leave_today, walk_the_field
from inventory.demo.week import live_day, say_orders
from inventory.models import Container, Crop, Farm, Outlet, Person, Position, Source


def load_demo(now: datetime, password: str) -> None:
    """Write the whole demo farm in one transaction. password: of its owner."""
    chance = random.Random(2604)
    with transaction.atomic():
        owner = set_up_farm(
            name=scenario.FARM,
            weight_unit="kg",
            temperature_unit="C",
            time_zone=scenario.TIME_ZONE,
            rooms=scenario.ROOMS,
            owner_name=scenario.OWNER,
            password=password,
            language="en",
            choose=chance.choice,
        )
        season = Season(Farm.objects.get(), now, chance, {scenario.OWNER: owner})
        _furnish(season)
        first = season.today - timedelta(weeks=scenario.WEEKS)
        log_temperatures(season)
        say_orders(season, first)
        for offset in range((season.today - first).days):
            if offset % 7 == 0:
                _count_rows()
            live_day(season, first + timedelta(days=offset))
        _count_rows()
        check_rooms(season)
        leave_today(season)
        walk_the_field(season)


def _count_rows() -> None:
    """Let PostgreSQL see how full tables are: of a transaction that goes on it learns that from
    nobody, and takes minutes for a question about few rows."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")


def _furnish(season: Season) -> None:
    for name, language in scenario.CREW.items():
        person = Person(name=name, language=language)
        person.set_unusable_password()
        person.save()
        season.people[name] = person
    handled = [*scenario.HARVESTS, scenario.BOUGHT, scenario.ALSO_GROWN]
    Crop.objects.filter(reference_key__in=handled).update(grown=True)
    for key, harvest in scenario.HARVESTS.items():
        weight = scenario.WEIGHTS_KG.get(key)
        Crop.objects.filter(reference_key=key).update(unit=harvest.unit, piece_weight_kg=weight)
    _make_sources(season)
    for name, tare in scenario.CONTAINERS_KG.items():
        Container.objects.create(name=name, tare_kg=tare)
    Outlet.objects.filter(name="Market").update(
        name=scenario.MARKET,
        own_grown_only=True,
        delivery_days=str(scenario.MARKET_DAY),
        minimum_days=0,
    )
    for name, known in scenario.BUYERS.items():
        Outlet.objects.create(name=name, **known)
    Outlet.objects.create(name="Farm stand", kind=Outlet.Kind.STAND)
    cold = Position.objects.filter(rack=scenario.COLD_RACK, shelf=scenario.COLD_SHELF)
    cold.update(cold_spot=True)


def _make_sources(season: Season) -> None:
    Source.objects.all().delete()
    for block in sorted({harvest.block for harvest in scenario.HARVESTS.values()}):
        Source.objects.create(kind=Source.Kind.BLOCK, name=block)
    Source.objects.create(
        kind=Source.Kind.BLOCK,
        name=scenario.SPRAYED_BLOCK,
        not_before_reason="sprayed",
        not_before=season.now.date() + timedelta(days=scenario.SPRAYED_DAYS),
    )
    Source.objects.create(kind=Source.Kind.SUPPLIER, name=scenario.SUPPLIER)
