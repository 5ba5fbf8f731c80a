"""Answering what the week suggests: to be done, with this number or another, or not now."""

from datetime import date
from decimal import Decimal

from inventory.errors import Conflict, Refused
from inventory.learning.advice import is_done
from inventory.ledger.book import Book, need_owner, recorded
from inventory.models import Action, Farm, Suggestion
from inventory.queries.advice import Suggested, count_advice


@recorded(Action.Kind.ADVICE)
def answer_suggestion(
    book: Book, *, week: date, key: str, accepted: bool, figure: Decimal | None = None
) -> None:
    """Write down what the owner answered to a suggestion on the page of a week.

    figure: another number than the suggestion's, None for that one.

    Raises Refused("owner-only", "other-way"), Conflict("suggestion-gone").
    """
    need_owner(book.act)
    # Of two answers at once the second finds the first.
    farm = Farm.objects.select_for_update(no_key=True).get()
    read = count_advice(farm, week, book.act.today)
    found = next((one for one in read.open if one.key == key), None)
    if found is None:
        raise Conflict("suggestion-gone")
    _write(book, read.drawn_from, found, accepted, figure)


def _write(
    book: Book, week: date, found: Suggested, accepted: bool, figure: Decimal | None
) -> None:
    advice, topic = found.advice, found.topic
    wanted = advice.proposed if figure is None else figure
    if accepted and not is_done(topic.rule, advice.before, wanted):
        raise Refused("other-way", field="figure", number=advice.before)
    Suggestion.objects.create(
        action=book.action,
        week=week,
        rule=topic.rule,
        crop=found.crop,
        unit=topic.unit,
        about="" if found.market else topic.about,
        outlet=found.market,
        answer=Suggestion.Answer.ACCEPTED if accepted else Suggestion.Answer.WAVED,
        before=advice.before,
        proposed=advice.proposed,
        figure=wanted,
        outcome=advice.outcome,
        sums=[[str(share.part), str(share.whole)] for share in advice.sums],
    )
