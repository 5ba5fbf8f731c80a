"""Taking back an action by reversing its entries; nothing is ever erased."""

from inventory.actions.intakes import restore_intake
from inventory.errors import Conflict, Refused
from inventory.ledger.book import Book, recorded
from inventory.models import Action, Intake, Movement


@recorded(Action.Kind.UNDO)
def undo(book: Book, *, action: Action) -> None:
    """Reverse an action, unless a later one that stands touched any of its crates.

    Crew undo their own entries until the end of the farm's day, the owner any.
    """
    if action.kind == Action.Kind.UNDO:
        raise Refused("undo-of-undo")
    _need_right(book, action)
    codes = set(action.movements.values_list("lot_id", flat=True))
    locked = {lot.pk: lot for lot in book.lock(codes)}
    if Action.objects.filter(undoes=action).exists():
        raise Conflict("undone-already")
    blocker = blocking_action(action)
    if blocker is not None:
        raise Conflict("undo-blocked", blocker=blocker)
    book.action.undoes = action
    book.action.save(update_fields=["undoes"])
    _restore_facts(action)
    for movement in action.movements.order_by("-number"):
        book.write(
            locked[movement.lot_id],
            Movement.Kind.UNDONE,
            change=-movement.change,
            undoes=movement,
        )


def may_undo(action: Action, person, as_owner: bool, day, day_of) -> bool:
    """Return whether this person may undo it today. day_of: farm day of a moment."""
    own = action.person_id == person.pk and day_of(action.recorded_at) == day
    return as_owner or (own and not hasattr(action, "final"))


def blocking_action(action: Action) -> Action | None:
    """Return the latest standing action that touched one of its crates afterwards."""
    last = action.movements.order_by("-pk").values_list("pk", flat=True).first()
    lots = action.movements.values("lot_id")
    later = (
        Movement.objects.filter(lot_id__in=lots, pk__gt=last or 0, undone_by__isnull=True)
        .exclude(kind=Movement.Kind.UNDONE)
        .exclude(action=action)
        .select_related("action__person")
        .order_by("-pk")
        .first()
    )
    return later.action if later else None


def _need_right(book: Book, action: Action) -> None:
    act = book.act
    if not may_undo(action, act.person, act.as_owner, act.today, act.local_day):
        raise Refused("undo-not-yours")


def _restore_facts(action: Action) -> None:
    corrected = action.movements.filter(kind=Movement.Kind.CORRECTED).first()
    if corrected is not None:
        intake = Intake.objects.get(pk=corrected.lot.intake_id)
        restore_intake(intake, corrected.detail["before"])
