"""Orders got together for a kitchen, ready to be handed over."""

from datetime import date, datetime
from decimal import Decimal
from uuid import UUID, uuid4

from inventory.actions.handing import hand_over
from inventory.actions.orders import say_order, take_for_order
from inventory.models import Action, Handover, Lot, Outlet
from inventory.queries.book import Wanted
from tests.builders import NOW, act


def kitchen(name: str = "Lantern House", **changes) -> Outlet:
    known = {"address": "2 Lantern Row, Tamberlow", "telephone": "555-0142"}
    return Outlet.objects.create(name=name, **known | changes)


def got(
    outlet: Outlet, *takes: tuple[Lot, int], at: datetime = NOW, due: date | None = None
) -> UUID:
    """The id of an order of which so much of each crate was taken, all of what it asks for."""
    key = uuid4()
    wanted: dict[tuple, Decimal] = {}
    for lot, quantity in takes:
        what = lot.crop, lot.unit
        wanted[what] = wanted.get(what, Decimal(0)) + Decimal(quantity)
    lines = [Wanted(crop, unit, quantity) for (crop, unit), quantity in wanted.items()]
    say_order(act(at, id=key), outlet=outlet, lines=lines, due=due or act(at).today)
    for lot, quantity in takes:
        take_for_order(act(at), order=key, lot=lot.pk, quantity=Decimal(quantity))
    return key


def handed(order: UUID, at: datetime = NOW, to_whom: str = "Chef Ana", **changes) -> Handover:
    """What hands an order over."""
    action: Action = hand_over(act(at), order=order, to_whom=to_whom, **changes)
    return action.handover
