"""Sound farms, crates and entries for tests; a test states only what it is about."""

import secrets
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from uuid import uuid4

from django.apps import apps
from django.core.management.color import no_style
from django.db import connection, transaction
from django.db.models.sql import InsertQuery

from inventory.actions import orders
from inventory.actions.intakes import bring_in_cases, bring_in_harvest
from inventory.actions.movements import take_out
from inventory.actions.owner import save_row
from inventory.actions.people import pair_phone
from inventory.actions.setup import Shelving, set_up_farm
from inventory.actions.tags import make_tags
from inventory.ledger.book import Act
from inventory.ledger.fold import Outing
from inventory.models import (
    Action,
    Crop,
    Farm,
    Lease,
    Lot,
    Order,
    Outlet,
    Person,
    Position,
    Room,
    Source,
    Tag,
)
from inventory.queries.book import Wanted, plan_book

NOW = datetime(2026, 6, 10, 14, 0, tzinfo=UTC)
PASSWORD = "correct-horse-staple"


def make_farm(**changes) -> Farm:
    """A farm with a cold room at 2 °C of two racks and three shelves, and its owner Ada."""
    values = {
        "name": "Test Farm",
        "weight_unit": "kg",
        "temperature_unit": "C",
        "time_zone": "America/New_York",
        "rooms": [Shelving("Cold room", Decimal(2), racks=2, shelves=3, capacity=5)],
        "owner_name": "Ada",
        "password": PASSWORD,
        "language": "en",
        "choose": secrets.choice,
    }
    values |= changes
    written = _farms.get(repr(values))
    if written:
        _write_again(written)
    else:
        set_up_farm(**values)
        Crop.objects.filter(reference_key__in=["kale", "apple", "basil", "salad-mix"]).update(
            grown=True
        )
        Source.objects.create(kind="block", name="Bed 3")
        Source.objects.create(kind="supplier", name="Orchard")
        _farms[repr(values)] = [*_statements()]
    return Farm.objects.get()


# A farm takes ninety queries to set up, and nearly every test wants the same one: the rows that
# were made first in a process are written again as they were, by statements made once.
Statement = tuple[str, tuple | None]
_farms: dict[str, list[Statement]] = {}


def _statements() -> Iterator[Statement]:
    """Yield what writes every row there is."""
    models = apps.get_app_config("inventory").get_models(include_auto_created=True)
    filled = [(model, rows) for model in models if (rows := list(model._base_manager.all()))]
    for model, rows in filled:
        fields = model._meta.local_concrete_fields
        size = connection.ops.bulk_batch_size(fields, rows)
        for first in range(0, len(rows), size):
            query = InsertQuery(model)
            query.insert_values(fields, rows[first : first + size])
            yield from query.get_compiler(connection=connection).as_sql()
    # PostgreSQL's numbers of new rows go on after these, wherever an earlier test left them.
    numbers = connection.ops.sequence_reset_sql(no_style(), [model for model, _ in filled])
    if numbers:
        yield ";".join(numbers), None


def _write_again(written: list[Statement]) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        for statement, values in written:
            cursor.execute(statement, values)


def owner() -> Person:
    return Person.objects.get(name="Ada")


def make_crew(name: str = "Ben", **changes) -> Person:
    person = Person(name=name, **changes)
    person.set_unusable_password()
    person.save()
    return person


def act(at: datetime = NOW, person: Person | None = None, **changes) -> Act:
    """An entry by the owner, with the owner's rights unless somebody else is named."""
    return Act(
        **{
            "id": uuid4(),
            "person": person or owner(),
            "farm": Farm.objects.get(),
            "at": at,
            "as_owner": person is None,
            "proven": True,
        }
        | changes
    )


def make_tag(at: datetime = NOW) -> Tag:
    return Tag.objects.get(made_in=make_tags(act(at), count=1))


def crop(key: str = "kale") -> Crop:
    return Crop.objects.get(reference_key=key)


def place(name: str = "A1") -> Position:
    return Position.objects.get(rack=name[0], shelf=int(name[1:]))


def make_lots(*quantities, at: datetime = NOW, key: str = "kale", **changes) -> list[Lot]:
    """Crates of one harvest cut at `at` and as cold as the room, in A1 unless told otherwise."""
    values = {
        "crop": crop(key),
        "source": Source.objects.get(name="Bed 3"),
        "quantities": [Decimal(quantity) for quantity in quantities],
        "unit": "bunch",
        "position": place(),
        "cut_ago": timedelta(0),
        "pulp_c": Decimal(2),
    }
    action = bring_in_harvest(act(at), **values | changes)
    return list(Lot.objects.filter(intake__action=action).order_by("movements__number"))


def make_lot(quantity=12, **changes) -> Lot:
    return make_lots(quantity, **changes)[0]


def fresh(lot: Lot) -> Lot:
    """A crate as it is in the tables now."""
    return Lot.objects.get(pk=lot.pk)


def take(lot: Lot, portion, at: datetime = NOW, purpose="market", **changes) -> Action:
    """Take some of a crate out, to the farm's market unless told otherwise."""
    outlet = market() if purpose == "market" else None
    return take_out(act(at), lot=lot.pk, portion=portion, purpose=purpose, outlet=outlet, **changes)


def make_cases(*quantities, at: datetime = NOW, **changes) -> list[Lot]:
    values = {
        "crop": crop("apple"),
        "source": Source.objects.get(name="Orchard"),
        "quantities": [Decimal(str(quantity)) for quantity in quantities],
        "unit": "kg",
        "position": place("B1"),
    }
    action = bring_in_cases(act(at), **values | changes)
    return list(Lot.objects.filter(intake__action=action).order_by("movements__number"))


def set_target(celsius, at: datetime = NOW, name: str = "Cold room") -> Room:
    """The owner's form of a room, with another temperature to be kept."""
    room = Room.objects.get(name=name)
    room.target_c = Decimal(str(celsius))
    save_row(act(at), row=room, values={"target_c": room.target_c})
    return room


def market() -> Outlet:
    return Outlet.objects.get(name="Market")


def at_market() -> Outing:
    """What went to the farm's market."""
    return Outing("market", market().pk, "Market")


def sign_in(client, person: Person | None = None, as_owner: bool = True) -> Person:
    """Sign a test client in on a paired phone."""
    from django.core import signing

    person = person or owner()
    phone = pair_phone(person, "test phone", NOW)
    client.force_login(person)
    session = client.session
    session["as_owner"] = as_owner and person.is_owner
    session["proven"] = True
    session.save()
    client.cookies["phone"] = signing.get_cookie_signer(salt="phone").sign(phone.pk)
    return person


def timezone_now() -> datetime:
    """The real moment, for pages that read the clock themselves."""
    return datetime.now(UTC)


def say_order(said: Act, *, lines: list[Wanted], due=None, **changes) -> Order:
    """An order due on the day it is said unless another day is named."""
    orders.say_order(said, lines=lines, due=due or said.local_day(said.at), **changes)
    return Order.objects.get(pk=said.id)


def keep_for(order: Order, *lots: tuple[Lot, int], person: Person | None = None) -> None:
    """Somebody who gets an order is on the way to these crates: the plan leaves them to it."""
    for lot, quantity in lots:
        Lease.objects.create(
            line=order.lines.get(crop=lot.crop, unit=lot.unit),
            lot=lot,
            person=person or owner(),
            quantity=quantity,
            until=datetime(2100, 1, 1, tzinfo=UTC),
        )


def planned(order: Order, at: datetime = NOW) -> list[tuple[str, Decimal]]:
    """What the plan sends to an order, (code, quantity) in walking order."""
    plan = plan_book(Farm.objects.get(), at)
    return [(take.crate.code, take.quantity) for take in plan.of(order.pk)]
