"""Taking back an action by reversing its entries; nothing is ever erased."""

from inventory.actions.empties import take_back_crates
from inventory.actions.intakes import restore_intake
from inventory.actions.market_days import hold_market_of, take_back_market_day
from inventory.actions.orders import take_back_entry
from inventory.actions.tags import take_back_tags
from inventory.errors import Conflict, Refused
from inventory.ledger.book import Book, recorded
from inventory.models import Action, Movement, OrderEntry
from inventory.queries.ledger import blocking_action, may_undo


@recorded(Action.Kind.UNDO)
def undo(book: Book, *, action: Action) -> None:
    """Reverse an action, unless a later one that stands touched any of its crates.

    Crew undo their own entries until the end of the farm's day, the owner any. Tags never stand
    in the way: undoing an intake frees them.

    Raises Refused("undo-of-undo", "undo-of-change", "undo-not-yours"), Conflict("undone-already",
    "undo-blocked", "tag-in-use").
    """
    if action.kind == Action.Kind.UNDO:
        raise Refused("undo-of-undo")
    if action.kind == Action.Kind.CHANGE:
        raise Refused("undo-of-change")
    _need_right(book, action)
    codes = set(action.movements.values_list("lot_id", flat=True))
    locked = {lot.pk: lot for lot in book.lock(codes)}
    for lot in locked.values():
        book.as_of_now(lot)
    if Action.objects.filter(undoes=action).exists():
        raise Conflict("undone-already")
    hold_market_of(action)
    blocker = blocking_action(action)
    if blocker is not None:
        raise Conflict("undo-blocked", blocker=blocker)
    book.action.undoes = action
    book.action.save(update_fields=["undoes"])
    _restore_facts(action)
    entry = OrderEntry.objects.filter(action=action).first()
    if entry is not None:
        take_back_entry(entry, book.act)
    for movement in action.movements.order_by("-number"):
        book.write(
            locked[movement.lot_id],
            Movement.Kind.UNDONE,
            change=-movement.change,
            undoes=movement,
        )
    take_back_tags(book, action, locked)
    take_back_crates(action)
    take_back_market_day(action)


def _need_right(book: Book, action: Action) -> None:
    act = book.act
    if not may_undo(action, act.person, act.as_owner, act.farm, act.at):
        raise Refused("undo-not-yours")


def _restore_facts(action: Action) -> None:
    corrected = action.movements.filter(kind=Movement.Kind.CORRECTED).first()
    intake = corrected.lot.intake if corrected is not None else None
    if corrected is not None and intake is not None:
        restore_intake(intake, corrected.detail["before"])
