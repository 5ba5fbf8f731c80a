"""Bringing in a harvest or bought cases, and putting right what was entered wrongly."""

import contextlib
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import IntegrityError, transaction
from django.db.models import Field, ForeignKey

from inventory import measures
from inventory.actions.movements import move_to
from inventory.errors import Conflict, Refused
from inventory.ledger.book import (
    CLOCKS_DIFFER,
    Book,
    forget_ages,
    need_owner,
    need_quantity,
    recorded,
)
from inventory.models import (
    Action,
    CaseKind,
    Container,
    Crop,
    Intake,
    Lot,
    Movement,
    Position,
    Source,
)
from inventory.queries.intakes import crates_from

MOST_CRATES = 200
MOST_IN_A_CRATE = Decimal(1000)
OLDEST_CUT = timedelta(days=60)
OLDEST_PACK = timedelta(days=730)


@recorded(Action.Kind.BRING_IN)
def bring_in_harvest(
    book: Book,
    *,
    crop: Crop,
    source: Source,
    quantities: list[Decimal],
    unit: str,
    container: Container | None = None,
    position: Position | None = None,
    cut_at: datetime | None = None,
    cut_ago: timedelta | None = None,
    pulp_c: Decimal | None = None,
    variety: str = "",
    overrule: str = "",
) -> None:
    """Make one lot per crate of a harvest. quantities: what each crate holds, in `unit`.

    cut_at or cut_ago: when the first was cut; neither means not given. overrule: the owner's
    reason for harvesting from a block that says "not before". source: may be a new one, not
    saved yet; a crop the farm had not switched on is from now on.

    Raises Refused("not-a-block", "block-closed", "owner-only", "future", "too-long-ago",
    "crate-count", "crate-too-full", "not-positive", "too-fine", "not-whole").
    """
    if cut_ago is not None:
        cut_at = book.act.happened_at - cut_ago
    if cut_at is not None:
        _need_plausible(book, cut_at, OLDEST_CUT, "cut_at")
    if source.kind != Source.Kind.BLOCK:
        raise Refused("not-a-block", field="source")
    source = _known(source)
    _need_open_block(book, source, cut_at or book.act.happened_at, overrule)
    _bring_in(
        book,
        Intake(
            crop=crop, variety=variety, source=source, cut_at=cut_at, pulp_c=pulp_c, note=overrule
        ),
        quantities,
        unit,
        container,
        position,
    )


@recorded(Action.Kind.BRING_IN)
def bring_in_cases(
    book: Book,
    *,
    crop: Crop,
    source: Source,
    quantities: list[Decimal],
    unit: str,
    container: Container | None = None,
    position: Position | None = None,
    packed_on: date | None = None,
    best_before: date | None = None,
    best_before_kind: str = "",
    supplier_reference: str = "",
    origin: str = "",
    case_cost: Decimal | None = None,
    pulp_c: Decimal | None = None,
    variety: str = "",
    gtin: str = "",
) -> None:
    """Make one lot per bought case; the supplier's own lot or invoice number is kept.

    gtin: the trade item number on the case; it brings crop and crate the next time.

    Raises Refused("not-a-supplier", "future", "too-long-ago", "crate-count", "crate-too-full",
    "not-positive", "too-fine", "not-whole").
    """
    if source.kind != Source.Kind.SUPPLIER:
        raise Refused("not-a-supplier", field="source")
    source = _known(source)
    if packed_on is not None:
        _need_plausible_day(book, packed_on)
    if gtin:
        facts = {"crop": crop, "source": source, "container": container, "unit": unit}
        CaseKind.objects.update_or_create(gtin=gtin, defaults=facts)
    _bring_in(
        book,
        Intake(
            crop=crop,
            variety=variety,
            source=source,
            packed_on=packed_on,
            best_before=best_before,
            best_before_kind=_kind_of(best_before, best_before_kind),
            supplier_reference=supplier_reference,
            origin=origin,
            case_cost=case_cost,
            pulp_c=pulp_c,
        ),
        quantities,
        unit,
        container,
        position,
    )


def _kind_of(day: date | None, kind: str, known: Intake | None = None) -> str:
    """Return what a date on a case says; a date told without its kind is taken as best before.

    known: the intake as it stands; a date that stays as it was is no word on its kind.
    """
    if known is not None and not kind and day == known.best_before:
        return known.best_before_kind
    return (kind or Intake.DateKind.BEST_BEFORE) if day else ""


def _bring_in(
    book: Book,
    intake: Intake,
    quantities: list[Decimal],
    unit: str,
    container: Container | None,
    position: Position | None,
) -> None:
    if not 1 <= len(quantities) <= MOST_CRATES:
        raise Refused("crate-count", field="crates", most=MOST_CRATES)
    for quantity in quantities:
        need_quantity(quantity, unit)
        if quantity > MOST_IN_A_CRATE:
            raise Refused("crate-too-full", field="quantity", most=MOST_IN_A_CRATE)
    if not intake.crop.grown:
        intake.crop.grown = True
        intake.crop.save(update_fields=["grown"])
    intake.action = book.action
    intake.lot_code = book.new_code().text
    intake.arrived_at = book.act.happened_at
    intake.save()
    state = Lot.State.IN_PLACE if position else Lot.State.TO_PUT_AWAY
    for quantity in quantities:
        lot = book.new_lot(
            crop=intake.crop, intake=intake, container=container, unit=unit, born_with=quantity
        )
        book.write(lot, Movement.Kind.BROUGHT_IN, change=quantity, state=state, position=position)


def _known(source: Source) -> Source:
    """Return a source typed for the first time as one of the farm's own from now on."""
    if source.pk is not None:
        return source
    named = Source.objects.filter(kind=source.kind, name__iexact=source.name)
    if not named.exists():
        # Somebody else may type the same name at the same moment.
        with contextlib.suppress(IntegrityError), transaction.atomic():
            source.save()
    return named.get()


def _need_plausible(book: Book, moment: datetime, oldest: timedelta, field: str) -> None:
    if moment > book.act.happened_at + CLOCKS_DIFFER:
        raise Refused("future", field=field)
    if moment < book.act.happened_at - oldest:
        raise Refused("too-long-ago", field=field, days=oldest.days)


def _need_plausible_day(book: Book, day: date) -> None:
    if day > book.act.today:
        raise Refused("future", field="packed_on")
    if day < book.act.today - OLDEST_PACK:
        raise Refused("too-long-ago", field="packed_on", days=OLDEST_PACK.days)


def _need_open_block(book: Book, source: Source, cut_at: datetime, overrule: str) -> None:
    closed = source.not_before and book.act.local_day(cut_at) < source.not_before
    if not closed:
        return
    if not overrule:
        raise Refused(
            "block-closed", field="source", day=source.not_before, reason=source.not_before_reason
        )
    need_owner(book.act)


@recorded(Action.Kind.CORRECT)
def correct_intake(
    book: Book,
    *,
    intake: Intake,
    crop: Crop,
    source: Source,
    cut_at: datetime | None = None,
    packed_on: date | None = None,
    best_before: date | None = None,
    best_before_kind: str = "",
    variety: str = "",
    supplier_reference: str = "",
    origin: str = "",
    case_cost: Decimal | None = None,
    reason: str,
) -> None:
    """Put right what was entered wrongly of an intake; the life of its crates follows.

    Every crate filled from it takes the crop along, so a crop can't be put right any more
    once crates of another intake were mixed in.

    Raises Refused("other-kind-of-source", "future", "too-long-ago", "block-closed",
    "nothing-changed", "date-reason"), Conflict("already-mixed", "intake-undone",
    "happened-before").
    """
    intake = Intake.objects.select_for_update(of=("self",)).get(pk=intake.pk)
    if source.kind != intake.source.kind:
        raise Refused("other-kind-of-source", field="source")
    if cut_at is not None and cut_at != intake.cut_at:
        _need_plausible(book, cut_at, OLDEST_CUT, "cut_at")
    if packed_on is not None and packed_on != intake.packed_on:
        _need_plausible_day(book, packed_on)
    before = _facts(intake)
    if crop.pk != intake.crop_id and _is_mixed(intake):
        raise Conflict("already-mixed", field="crop")
    if source.kind == Source.Kind.BLOCK:
        overrule = reason if book.act.as_owner else ""
        _need_open_block(book, source, cut_at or intake.arrived_at, overrule)
    lots = book.lock(intake.lots.exclude(state=Lot.State.VOID).values_list("pk", flat=True))
    if not lots:
        raise Conflict("intake-undone")
    for lot in lots:
        book.need_latest(lot)
    intake.crop, intake.source = crop, source
    intake.best_before_kind = _kind_of(best_before, best_before_kind, intake)
    intake.cut_at, intake.packed_on, intake.best_before = cut_at, packed_on, best_before
    intake.variety, intake.supplier_reference = variety, supplier_reference
    intake.origin, intake.case_cost = origin, case_cost
    intake.save()
    after = _facts(intake)
    _need_change(before, after, reason)
    forget_ages(crates_from(intake))
    for lot in lots:
        lot.crop = crop
        lot.save(update_fields=["crop"])
        book.write(
            lot, Movement.Kind.CORRECTED, note=reason, detail={"before": before, "after": after}
        )


@recorded(Action.Kind.MOVE)
def put_away_lots(
    book: Book, *, lots: list[str], position: Position, cut_ago: timedelta | None = None
) -> None:
    """Put crates at a position; and tell when their harvest was cut, if nobody had.

    cut_ago: how long before now.

    Raises Refused("no-crates", "cut-after-arrival"), Conflict("not-here").
    """
    _put_away(book, dict.fromkeys(lots, position), cut_ago)


@recorded(Action.Kind.MOVE)
def put_away_over(
    book: Book, *, shelves: list[tuple[Position, list[str]]], cut_ago: timedelta | None = None
) -> None:
    """Put a batch that no one place holds at several, in one; as put_away_lots.

    shelves: the places, and which crates go to each.

    Raises Refused("no-crates", "cut-after-arrival"), Conflict("not-here").
    """
    _put_away(book, {code: position for position, lots in shelves for code in lots}, cut_ago)


def _put_away(book: Book, places: dict[str, Position], cut_ago: timedelta | None) -> None:
    locked = move_to(book, places)
    intake_id = locked[0].intake_id
    if cut_ago is None or intake_id is None:
        return
    intake = Intake.objects.select_for_update(of=("self",)).get(pk=intake_id)
    if intake.cut_at is None:
        _tell_cut(book, intake, book.act.happened_at - cut_ago)


def _tell_cut(book: Book, intake: Intake, cut_at: datetime) -> None:
    if cut_at > intake.arrived_at:
        raise Refused("cut-after-arrival", field="cut_ago")
    before = _facts(intake)
    intake.cut_at = cut_at
    intake.save(update_fields=["cut_at"])
    forget_ages(crates_from(intake))
    detail = {"before": before, "after": _facts(intake)}
    standing = intake.lots.exclude(state=Lot.State.VOID).values_list("pk", flat=True)
    for lot in book.lock([], perhaps_since=standing):
        book.write(lot, Movement.Kind.CORRECTED, detail=detail)


def restore_intake(intake: Intake, facts: dict[str, object]) -> None:
    """Set an intake back to what a correction had found."""
    for name, told in facts.items():
        field = _column(name)
        kind = field.target_field if isinstance(field, ForeignKey) else field
        setattr(intake, field.attname, kind.to_python(told))
    if intake.best_before is None:
        # A correction of before kinds were written down says nothing of them.
        intake.best_before_kind = ""
    intake.save()
    intake.lots.update(crop=intake.crop_id)
    forget_ages(crates_from(intake))


_CORRECTABLE = (
    "crop", "source", "cut_at", "packed_on", "best_before", "best_before_kind", "variety",
    "supplier_reference", "origin", "case_cost",
)  # fmt: skip


def _facts(intake: Intake) -> dict[str, object]:
    """Return what of an intake can be corrected, as JSON keeps it."""
    return {name: _as_json(intake, name) for name in _CORRECTABLE}


def _need_change(before: dict[str, object], after: dict[str, object], reason: str) -> None:
    """Raise Refused unless something changed; a use-by date never without a reason."""
    if after == before:
        raise Refused("nothing-changed")
    if not reason and _use_by(before) not in (None, _use_by(after)):
        raise Refused("date-reason", field="reason")


def _use_by(facts: dict[str, object]) -> object:
    """Return the use-by date among an intake's facts, None where it has none."""
    return facts["best_before"] if facts["best_before_kind"] == Intake.DateKind.USE_BY else None


def _column(name: str) -> Field:
    field = Intake._meta.get_field(name)
    assert isinstance(field, Field)
    return field


def _as_json(intake: Intake, name: str) -> object:
    value = getattr(intake, _column(name).attname)
    if isinstance(value, Decimal):
        return measures.plain(value)
    return value.isoformat() if isinstance(value, date) else value


def _is_mixed(intake: Intake) -> bool:
    return (
        Lot.objects.filter(intake__isnull=True, parent_links__parent__intake=intake)
        .exclude(state=Lot.State.VOID)
        .exists()
    )
