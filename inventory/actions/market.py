"""Closing the market day by crop: crates are not what is sold at a stall."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from inventory import measures
from inventory.actions.market_days import CropKey, Settling, keep_market_day
from inventory.actions.movements import need_out, settle
from inventory.actions.quality import discard_from
from inventory.actions.reshape import combine, into_one, need_free
from inventory.errors import Conflict, Refused
from inventory.ledger.book import Book, need_quantity, recorded
from inventory.ledger.fold import Outing
from inventory.models import Action, Lot, MarketDay, Movement, Position
from inventory.queries.crates import with_life
from inventory.rotation.fit import Doing
from inventory.rotation.stall import deal_out, in_crates


class Goes(StrEnum):
    """What becomes of what came back, if it is not just put in a place."""

    SECONDS = "seconds"
    GIVEN = "given"
    DISCARDED = "discarded"


@dataclass(frozen=True)
class CropClosing:
    """What became of one crop in one unit at a market; the rest was sold.

    out: what was shown as out of each crate, by code. crates: in how many what came back is; None
    is as few as it fills. to: to whom it was given. goes: a Goes, or "" for a place. reason,
    destination: of what is thrown out.
    """

    out: dict[str, Decimal]
    back: Decimal = Decimal(0)
    given: Decimal = Decimal(0)
    lost: Decimal = Decimal(0)
    to: str = ""
    crates: int | None = None
    sold_out: str = ""
    goes: str = ""
    position: Position | None = None
    reason: str = ""
    destination: str = ""


@recorded(Action.Kind.SETTLE)
def close_market_by_crop(
    book: Book,
    *,
    market: Outing,
    crops: list[CropClosing],
    weather: str = MarketDay.Weather.USUAL,
    warm_hours: Decimal | None = None,
) -> None:
    """Close a market day, crop by crop. What left after the page was shown stays out.

    What sold is taken to have been in the crates that go first. What came back and is given away
    at once was given at the market.

    Raises Refused("warm-hours", "not-positive", "too-fine", "not-whole", "crates-back",
    "to-whom"), Conflict("nothing-out", "more-than-out", "more-than-market", "past-use-by", "held",
    "happened-before", "not-here").
    """
    if not crops:
        raise Conflict("nothing-out", code=market.to)
    locked = {lot.pk: lot for lot in book.lock(code for said in crops for code in said.out)}
    settled: list[tuple[Lot, Settling]] = []
    sold_out: dict[CropKey, str] = {}
    for said in crops:
        lots = _in_order(book, [locked[code] for code in said.out])
        rows = _deal(book, market, said, lots)
        _close(book, market, said, rows, warm_hours)
        settled += rows
        sold_out[lots[0].crop_id, lots[0].unit] = said.sold_out
    keep_market_day(book, market, settled, sold_out, weather)


def _in_order(book: Book, lots: list[Lot]) -> list[Lot]:
    """Return crates as they should have gone, the first first."""
    crates = with_life(lots, book.act.farm, book.act.happened_at)
    return [crate.lot for crate in sorted(crates, key=lambda crate: crate.key)]


def _deal(
    book: Book, market: Outing, said: CropClosing, lots: list[Lot]
) -> list[tuple[Lot, Settling]]:
    """Return what became of each crate's load, as the sums said of a crop tell it."""
    key = f"{lots[0].crop_id}-{lots[0].unit}"
    for lot in lots:
        need_out(book, lot, market, said.out[lot.pk], f"back-{key}")
    back, given = _amounts(said, lots[0].unit, key)
    total = sum(said.out.values(), Decimal(0))
    if back + given + said.lost > total:
        raise Conflict("more-than-market", field=f"back-{key}", left=total, unit=lots[0].unit)
    whole = measures.is_count(lots[0].unit)
    _need_crates(said, back, whole, f"crates-{key}")
    shares = deal_out(
        [said.out[lot.pk] for lot in lots], back, given, said.lost, said.crates, whole
    )
    return [
        (lot, Settling(lot.pk, said.out[lot.pk], share.back, share.given, share.lost))
        for lot, share in zip(lots, shares, strict=True)
    ]


def _amounts(said: CropClosing, unit: str, key: str) -> tuple[Decimal, Decimal]:
    """Return what came back to the farm, and what was given away at the market or right after."""
    for name in ("back", "given", "lost"):
        if amount := getattr(said, name):
            need_quantity(amount, unit, field=f"{name}-{key}")
    if said.goes != Goes.GIVEN:
        return said.back, said.given
    if said.back and not said.to:
        raise Refused("to-whom", field=f"to-{key}")
    return Decimal(0), said.given + said.back


def _need_crates(said: CropClosing, back: Decimal, whole: bool, field: str) -> None:
    most = min(len(said.out), int(back)) if whole else len(said.out)
    if back and said.crates is not None and not 1 <= said.crates <= most:
        raise Refused("crates-back", field=field, most=most)


def _close(
    book: Book,
    market: Outing,
    said: CropClosing,
    rows: list[tuple[Lot, Settling]],
    warm_hours: Decimal | None,
) -> None:
    found = [
        settle(book, lot, market, row, warm_hours, said.position, to=said.to) for lot, row in rows
    ]
    back = [lot for lot in found if lot is not None]
    if said.goes == Goes.DISCARDED:
        for lot in back:
            discard_from(book, lot, "all", {"reason": said.reason, "destination": said.destination})
        return
    for places in in_crates([lot.quantity for lot in back], said.crates or len(back)):
        _put_together(book, [back[place] for place in places], said)


def _put_together(book: Book, lots: list[Lot], said: CropClosing) -> None:
    """Write that what came back in these is in one crate, or is sold as seconds from now on."""
    seconds = said.goes == Goes.SECONDS
    if not seconds and len(lots) == 1:
        return
    for lot in lots:
        need_free(book, lot, Doing.SORT if seconds else Doing.COMBINE)
    if seconds:
        into_one(book, lots, Movement.Kind.RESORTED, Lot.Grade.SECONDS, said.position)
    else:
        combine(book, lots, said.position)
