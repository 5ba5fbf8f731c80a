"""The ledger as a person searches it, and as it is exported."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Q, QuerySet

from inventory import measures
from inventory.codes import is_tail, normalise
from inventory.models import (
    Action,
    Change,
    Credit,
    Crop,
    Farm,
    Handover,
    Movement,
    OrderEntry,
    Person,
    Take,
)
from inventory.queries.days import day_bounds, day_start


@dataclass(frozen=True)
class LedgerSearch:
    """What is looked for. code: a crate's or a tag's, or the last four of it."""

    crop: Crop | None = None
    code: str = ""
    person: Person | None = None
    from_day: date | None = None
    to_day: date | None = None


def find_movements(search: LedgerSearch, farm: Farm) -> QuerySet[Movement]:
    """Return matching entries, latest first."""
    movements = Movement.objects.select_related(
        "action__person", "action__phone", "lot__crop", "position__room", "undone_by"
    ).order_by("-occurred_at", "-pk")
    if search.crop:
        movements = movements.filter(lot__crop=search.crop)
    if search.code:
        code = normalise(search.code)
        ends = "__endswith" if is_tail(code) else ""
        crate, tag = f"lot__code__text{ends}", f"detail__tag{ends}"
        movements = movements.filter(Q((crate, code)) | Q((tag, code)))
    if search.person:
        movements = movements.filter(action__person=search.person)
    if search.from_day:
        movements = movements.filter(occurred_at__gte=day_start(farm, search.from_day))
    if search.to_day:
        after = day_start(farm, search.to_day + timedelta(days=1))
        movements = movements.filter(occurred_at__lt=after)
    return movements


def find_changes(search: LedgerSearch, farm: Farm) -> QuerySet[Change]:
    """Return what the owner set, latest first; of a search only the person and the days count."""
    changes = Change.objects.select_related("action__person").order_by(
        "-action__recorded_at", "-pk"
    )
    if search.person:
        changes = changes.filter(action__person=search.person)
    if search.from_day:
        start = day_start(farm, search.from_day)
        changes = changes.filter(action__recorded_at__gte=start)
    if search.to_day:
        after = day_start(farm, search.to_day + timedelta(days=1))
        changes = changes.filter(action__recorded_at__lt=after)
    return changes


CSV_COLUMNS = (
    "when", "day", "who", "entered as", "action", "entry", "kind", "crate", "crop", "change",
    "amount", "count", "unit", "state", "place", "for", "to", "outcome", "reason", "destination",
    "warm hours", "note", "undone",
)  # fmt: skip


def csv_rows(movements: QuerySet[Movement], farm: Farm) -> Iterator[list[str]]:
    """Yield the exported table, one entry a row. Times are the farm's, with their offset."""
    yield list(CSV_COLUMNS)
    for entry in movements.iterator(chunk_size=2000):
        local = entry.occurred_at.astimezone(farm.zone)
        yield [
            local.isoformat(timespec="seconds"),
            local.date().isoformat(),
            safe_cell(entry.action.person.name),
            "signed in" if entry.action.proven else "entered as",
            str(entry.action_id),
            str(entry.number),
            entry.kind,
            entry.lot_id,
            safe_cell(entry.lot.crop.shown_name),
            measures.plain(entry.change),
            measures.plain(entry.amount),
            "" if entry.figure is None else measures.plain(entry.figure),
            entry.lot.unit,
            entry.state,
            safe_cell(f"{entry.position.room} {entry.position}") if entry.position else "",
            entry.purpose,
            safe_cell(entry.other_party),
            entry.outcome,
            entry.reason,
            entry.destination,
            "" if entry.warm_hours is None else measures.plain(entry.warm_hours),
            safe_cell(entry.note),
            "yes" if hasattr(entry, "undone_by") else "",
        ]


def safe_cell(text: str) -> str:
    """Return text a spreadsheet will not run as a formula (OWASP ASVS 5.0, 1.2.10)."""
    return f"'{text}" if text[:1] in {"=", "+", "-", "@", "\t", "\r", "\0"} else text


def open_discards(person: Person, farm: Farm, at: datetime) -> list[Action]:
    """Return what this person threw out on this farm day and has not made final."""
    start, end = day_bounds(farm, at)
    return list(
        Action.objects.filter(
            kind=Action.Kind.DISCARD,
            person=person,
            final__isnull=True,
            undone_by__isnull=True,
            recorded_at__gte=start,
            recorded_at__lt=end,
        ).prefetch_related("movements__lot__crop")
    )


def may_undo(action: Action, person: Person, as_owner: bool, farm: Farm, at: datetime) -> bool:
    """Return whether this person may undo it: crew their own of the farm day, unless final."""
    start, end = day_bounds(farm, at)
    own = action.person_id == person.pk and start <= action.recorded_at < end
    return as_owner or (own and not hasattr(action, "final"))


def blocking_action(action: Action) -> Action | None:
    """Return the latest standing action that touched one of its crates, or its order, after it.

    What was taken for an order stays taken as long as that is handed over, and that as long as
    the buyer is credited for any of it.
    """
    credited = Credit.objects.standing().filter(handover__action=action)
    credit = credited.select_related("action__person").last()
    if credit is not None:
        return credit.action
    entry = OrderEntry.objects.filter(action=action).first()
    if entry is not None:
        return _later_on_order(entry)
    handed = Handover.objects.standing().filter(order__lines__takes__taken=action)
    found = handed.select_related("action__person").first()
    if found is not None:
        return found.action
    last = action.movements.order_by("-pk").values_list("pk", flat=True).first()
    lots = action.movements.values("lot_id")
    later = (
        Movement.objects.filter(lot_id__in=lots, pk__gt=last or 0, undone_by__isnull=True)
        .exclude(kind__in=(Movement.Kind.UNDONE, Movement.Kind.TAG_ON, Movement.Kind.TAG_OFF))
        .exclude(action=action)
        .select_related("action__person")
        .order_by("-pk")
        .first()
    )
    return later.action if later else None


def _later_on_order(entry: OrderEntry) -> Action | None:
    """Return what was done later about an order; of its writing also what was taken for it."""
    later = OrderEntry.objects.filter(
        order=entry.order_id, pk__gt=entry.pk, action__undone_by__isnull=True
    )
    found = later.select_related("action__person").order_by("-pk").first()
    if found is not None:
        return found.action
    if entry.kind != OrderEntry.Kind.SAID:
        return None
    takes = Take.objects.standing().filter(line__order=entry.order_id)
    take = takes.select_related("taken__person").order_by("-pk").first()
    return take.taken if take else None
