"""Crates of ours that come back by themselves and are washed, and how many are left where."""

from inventory.errors import Conflict
from inventory.ledger.book import Book, recorded
from inventory.models import Action, CratesLeft, Empties, Farm, Outlet
from inventory.queries.empties import count_to_wash, count_with, crates_to_wash


@recorded(Action.Kind.EMPTIES)
def bring_empties(book: Book, *, outlet: Outlet, number: int) -> None:
    """Say that crates of ours came back from a buyer by themselves."""
    Empties.objects.create(action=book.action, kind=Empties.Kind.BACK, outlet=outlet, number=number)
    recount_crates(outlet.pk)


@recorded(Action.Kind.EMPTIES)
def wash_empties(book: Book, *, number: int) -> None:
    """Say that so many of the crates that came back are washed; no more than there are.

    Raises Conflict("nothing-to-wash").
    """
    Farm.objects.select_for_update().get()
    washed = min(number, crates_to_wash())
    if washed <= 0:
        raise Conflict("nothing-to-wash")
    Empties.objects.create(action=book.action, kind=Empties.Kind.WASHED, number=washed)
    recount_crates(None)


def recount_crates(outlet: int | None) -> None:
    """Count anew the crates of ours that stand with a buyer, if one is named, and those to wash.

    The farm's row is held meanwhile: of two who bring crates at once neither is left out.
    """
    Farm.objects.select_for_update().get()
    if outlet is not None:
        _keep_count(Outlet.objects.get(pk=outlet), count_with(outlet))
    _keep_count(None, count_to_wash())


def _keep_count(outlet: Outlet | None, crates: int) -> None:
    CratesLeft.objects.update_or_create(outlet=outlet, defaults={"crates": crates})


def take_back_crates(action: Action) -> None:
    """Count anew after a handover, a return or a washing was taken back."""
    if action.kind == Action.Kind.HANDOVER:
        recount_crates(action.handover.order.outlet_id)
    elif action.kind == Action.Kind.EMPTIES:
        recount_crates(action.empties.outlet_id)
