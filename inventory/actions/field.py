"""Walking the field: how much each block should give, and from which day on."""

from datetime import timedelta

from inventory.errors import Refused
from inventory.ledger.book import Book, need_quantity, recorded
from inventory.models import Action, Estimate, Source
from inventory.models.field import ESTIMATE_DAYS
from inventory.queries.field import Seen


@recorded(Action.Kind.WALK)
def say_walk(book: Book, *, rows: list[Seen]) -> None:
    """Write down what the blocks should give; what is not said of them stays as it was said.

    Raises Refused("no-lines", "not-a-block", "not-positive", "too-fine", "not-whole", "due-past",
    "not-spoken-of").
    """
    if not rows:
        raise Refused("no-lines")
    said = {(row.crop.pk, row.block.pk, row.unit): row for row in rows}
    for row in said.values():
        _need_sensible(book, row)
    Estimate.objects.bulk_create(
        Estimate(
            action=book.action,
            crop=row.crop,
            block=row.block,
            unit=row.unit,
            quantity=row.quantity,
            from_day=row.from_day,
            said_by=book.act.person,
            said_at=book.act.happened_at,
        )
        for row in said.values()
    )


def _need_sensible(book: Book, row: Seen) -> None:
    if row.block.kind != Source.Kind.BLOCK:
        raise Refused("not-a-block")
    if row.quantity:
        need_quantity(row.quantity, row.unit)
    if row.from_day < book.act.today:
        raise Refused("due-past")
    if row.from_day >= book.act.today + timedelta(days=ESTIMATE_DAYS):
        raise Refused("not-spoken-of", days=ESTIMATE_DAYS)
