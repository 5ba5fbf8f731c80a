"""Discarding, looking and keeping, holding and releasing."""

from collections.abc import Sequence
from datetime import timedelta
from decimal import Decimal
from itertools import chain

from inventory.actions.movements import lock_in_order, need_in_date
from inventory.errors import Conflict, Refused
from inventory.ledger.book import (
    Act,
    Book,
    need,
    need_owner,
    portion_of,
    recorded,
)
from inventory.models import Action, FinalAction, Intake, Lot, Movement
from inventory.queries.crates import age_of
from inventory.queries.intakes import brought_in, came_back_since, crates_from
from inventory.queries.ledger import open_discards
from inventory.queries.was_out import tags_of
from inventory.rotation.fit import WAS_OUT, CrateNow, Doing, why_not
from inventory.rotation.order import LONGEST_KEEP_DAYS


@recorded(Action.Kind.DISCARD)
def discard(
    book: Book,
    *,
    lot: str,
    portion: Decimal | str,
    reason: str,
    destination: str,
    judgement: str = "",
    note: str = "",
) -> None:
    """Throw out all or part of a crate, saying why and where to.

    judgement: the answer to "Still good?", which builds the farm's own record.

    Raises Refused("not-positive", "too-fine", "not-whole"), Conflict("not-here",
    "more-than-there").
    """
    why = {"reason": reason, "destination": destination, "judgement": judgement, "note": note}
    discard_from(book, book.lock_one(lot), portion, why)


@recorded(Action.Kind.DISCARD)
def discard_lots(
    book: Book,
    *,
    lots: list[str],
    reason: str,
    destination: str,
    judgement: str = "",
    note: str = "",
) -> None:
    """Throw out several crates whole, for one reason; else as discard.

    Raises Refused("no-crates"), Conflict("not-here").
    """
    why = {"reason": reason, "destination": destination, "judgement": judgement, "note": note}
    for lot in lock_in_order(book, lots):
        discard_from(book, lot, "all", why)


def discard_from(book: Book, lot: Lot, portion: Decimal | str, why: dict[str, str]) -> None:
    """Write what is thrown out of one locked crate. why: as the columns of an entry.

    Raises Refused("not-positive", "too-fine", "not-whole"), Conflict("not-here",
    "more-than-there").
    """
    need(lot, Doing.DISCARD)
    amount = portion_of(lot, portion)
    aged_days = age_of(lot.pk, book.act.farm, book.moment(lot))
    book.write(lot, Movement.Kind.DISCARDED, change=-amount, aged_days=aged_days, **why)


def end_discard_round(act: Act) -> int:
    """Make this person's discards of the day final, and return how many they were."""
    ended = open_discards(act.person, act.farm, act.at)
    final = [FinalAction(action=action, person=act.person, at=act.at) for action in ended]
    # The same form sent twice at once finds them all still open both times.
    FinalAction.objects.bulk_create(final, ignore_conflicts=True)
    return len(ended)


@recorded(Action.Kind.INSPECT)
def inspect(book: Book, *, lot: str, days: int, seen: str, judgement: str = "") -> None:
    """Record what a person saw and for how many days they keep the crate, to that farm day.

    Raises Refused("keep-days", "what-seen"), Conflict("not-here", "past-use-by").
    """
    if not 1 <= days <= LONGEST_KEEP_DAYS:
        raise Refused("keep-days", field="days", most=LONGEST_KEEP_DAYS)
    if not seen:
        raise Refused("what-seen", field="seen")
    locked = book.lock_one(lot)
    need_in_date(book, locked, Doing.LOOK)
    book.write(
        locked,
        Movement.Kind.INSPECTED,
        note=seen,
        judgement=judgement,
        kept_until=book.act.today + timedelta(days=days),
        aged_days=age_of(lot, book.act.farm, book.moment(locked)),
    )


@recorded(Action.Kind.INSPECT)
def judge_crate(book: Book, *, lot: str, answer: str) -> None:
    """Record what a person answered to "Still good?"; it builds the farm's own record.

    answer: a Movement.Judgement. Raises Conflict("not-here", "past-use-by").
    """
    locked = book.lock_one(lot)
    need_in_date(book, locked, Doing.GOOD)
    aged_days = age_of(lot, book.act.farm, book.moment(locked))
    book.write(locked, Movement.Kind.INSPECTED, judgement=answer, aged_days=aged_days)


@recorded(Action.Kind.HOLD)
def hold(
    book: Book,
    *,
    reason: str,
    lot: str = "",
    intake: Intake | None = None,
    lots: Sequence[str] = (),
) -> None:
    """Put a crate, several, or all that is left of an intake on hold: off every list at once.

    What is out is held too, so that it is held when it comes back. Told late, a hold is also on
    what was made of the crates since, and where it does not fit what came after it counts from
    now.

    Raises Refused("hold-reason"), Conflict("held-already", "nothing-to-hold").
    """
    if not reason:
        raise Refused("hold-reason", field="reason")
    if intake:
        locked = book.lock(brought_in(intake), crates_from(intake))
    else:
        codes = lots or [lot]
        came_back = [came_back_since(code, book.act.happened_at) for code in codes]
        locked = book.lock(codes, chain.from_iterable(came_back))
    held = [_hold(book, crate, reason) for crate in locked]
    if not any(held):
        already = any(crate.held for crate in locked)
        raise Conflict("held-already" if already else "nothing-to-hold")


def _hold(book: Book, lot: Lot, reason: str) -> bool:
    """Write the hold of a crate, and return whether it could be held."""
    if not _can_hold(book, lot):
        return False
    try:
        book.write(lot, Movement.Kind.HELD, note=reason)
    except Conflict:
        book.as_of_now(lot)
        if not _can_hold(book, lot):
            return False
        book.write(lot, Movement.Kind.HELD, note=reason)
    return True


def _can_hold(book: Book, lot: Lot) -> bool:
    now = CrateNow(lot.state, lot.held, bool(book.out_of(lot)))
    return not why_not(Doing.HOLD, now)


@recorded(Action.Kind.RELEASE)
def release(book: Book, *, lot: str, reason: str) -> None:
    """Let a held crate go again, or to kitchens what was out of our hands; only the owner does,
    saying why. Past a use-by date nobody can.

    Raises Refused("owner-only", "release-reason"), Conflict("not-held", "past-use-by").
    """
    need_owner(book.act)
    if not reason:
        raise Refused("release-reason", field="reason")
    locked = book.lock_one(lot)
    if not locked.held and WAS_OUT not in tags_of(locked):
        raise Conflict("not-held", code=lot)
    need_in_date(book, locked, Doing.RELEASE)
    detail = {} if locked.held else {WAS_OUT: True}
    book.write(locked, Movement.Kind.RELEASED, note=reason, detail=detail)
