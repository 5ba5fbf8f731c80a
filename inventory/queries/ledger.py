"""The ledger as a person searches it, and as it is exported."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Generic, TypeVar

from django.db.models import F, Max, Model, Q, QuerySet

from inventory import measures
from inventory.codes import is_tail, normalise
from inventory.models import (
    Action,
    Change,
    Code,
    Credit,
    Crop,
    Farm,
    Handover,
    Lot,
    MarketDay,
    Movement,
    OrderEntry,
    Person,
    Position,
    TagBinding,
    Take,
)
from inventory.models.codes import TAIL
from inventory.queries.days import day_bounds, day_start
from inventory.queries.figures import ENTRIES, standing_entries

RARE = 200  # up to so many crates of a crop, or things that somebody did


@dataclass(frozen=True)
class LedgerSearch:
    """What is looked for. code: a crate's or a tag's, or the last four of it.

    figure: one of the week's, which is of a unit, and of a reason and a destination where it is
    of what was discarded.
    """

    crop: Crop | None = None
    code: str = ""
    person: Person | None = None
    from_day: date | None = None
    to_day: date | None = None
    figure: str = ""
    reason: str = ""
    destination: str = ""
    unit: str = ""


def find_movements(search: LedgerSearch, farm: Farm) -> QuerySet[Movement]:
    """Return matching entries, latest first."""
    movements: QuerySet[Movement] = (
        Movement.objects.with_who()
        .select_related("lot__crop", "position__room", "undone_by")
        .order_by("-occurred_at", "-pk")
    )
    if search.crop:
        movements = _of_crop(movements, search.crop)
    if search.code:
        movements = movements.filter(_about(normalise(search.code)))
    if search.person:
        movements = _by(movements, search.person)
    if search.from_day:
        movements = movements.filter(occurred_at__gte=day_start(farm, search.from_day))
    if search.to_day:
        after = day_start(farm, search.to_day + timedelta(days=1))
        movements = movements.filter(occurred_at__lt=after)
    if search.figure:
        movements = movements.filter(standing_entries(), ENTRIES[search.figure])
    exactly = {"reason": search.reason, "destination": search.destination,
               "lot__unit": search.unit}  # fmt: skip
    return movements.filter(**{name: wanted for name, wanted in exactly.items() if wanted})


# Of what there is much the latest is found by walking back in time, not by gathering all of it
# first: the sum keeps the database to that. What is rare would be looked for in vain among all
# that ever happened, so that is gathered.
def _of_crop(movements: QuerySet[Movement], crop: Crop) -> QuerySet[Movement]:
    if not Lot.objects.filter(crop=crop)[RARE:].exists():
        return movements.filter(lot__crop=crop)
    return movements.alias(of=F("lot__crop_id") + 0).filter(of=crop.pk)


def _by(movements: QuerySet[Movement], person: Person) -> QuerySet[Movement]:
    latest = Action.objects.filter(person=person).order_by("-recorded_at")[: RARE + 1]
    actions = list(latest.values_list("pk", flat=True))
    if len(actions) <= RARE:
        return movements.filter(action__person=person)
    # Who left long ago wrote none of what was written since.
    last = Movement.objects.filter(action__in=actions).aggregate(last=Max("pk"))["last"]
    by = movements.alias(by=F("action__person_id") + 0).filter(by=person.pk)
    return by.filter(pk__lte=last) if last else by


def _about(code: str) -> Q:
    """Return what picks the entries of a crate or tag of this code, or of this tail."""
    codes = [code]
    if is_tail(code):
        codes = list(Code.objects.alias(tail=TAIL).filter(tail=code).values_list("pk", flat=True))
    tagged = TagBinding.objects.filter(tag__in=codes).values_list("lot_id", flat=True)
    return Q(lot__in=[*codes, *tagged]) & (Q(lot__in=codes) | Q(detail__tag__in=codes))


Row = TypeVar("Row", bound=Model)


@dataclass(frozen=True)
class LedgerPage(Generic[Row]):
    """Some rows, latest first. later, earlier: the row to go on from, None where nothing is."""

    rows: list[Row]
    later: Any = None
    earlier: Any = None


def page_of(
    found: QuerySet[Row],
    when: str,
    size: int,
    *,
    before: str = "",
    after: str = "",
    number: int = 1,
) -> LedgerPage[Row]:
    """Return the rows before or after one of them, or a page by its number; nothing is counted.

    found: latest first by `when`, then by key. A number beyond the last page is the last rows.
    """
    mark = _mark(found, when, before or after)
    if mark and after:
        rows = list(found.filter(_beyond(when, *mark, "gt")).reverse()[: size + 1])
        page = rows[:size][::-1]
        return LedgerPage(page, _key(page, 0, len(rows) > size), _key(page, -1, True))
    if mark:
        found, start = found.filter(_beyond(when, *mark, "lt")), 0
    else:
        start = (number - 1) * size
    rows = list(found[start : start + size + 1])
    if not rows and start:
        rows = list(found.reverse()[: size + 1])
        page = rows[:size][::-1]
        return LedgerPage(page, _key(page, 0, len(rows) > size))
    page = rows[:size]
    return LedgerPage(page, _key(page, 0, bool(mark or start)), _key(page, -1, len(rows) > size))


def _mark(found: QuerySet[Row], when: str, key: str) -> tuple[datetime, int] | None:
    if not key.isdecimal() or len(key) > 18:
        return None
    return found.model._default_manager.filter(pk=key).values_list(when, "pk").first()


def _beyond(when: str, at: datetime, key: int, way: str) -> Q:
    same = Q((when, at), (f"pk__{'lte' if way == 'gt' else 'gte'}", key))
    return Q((f"{when}__{way}e", at)) & ~same


def _key(page: list[Row], which: int, there: bool) -> Any:
    return page[which].pk if page and there else None


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


_OF_A_ROW = (
    "occurred_at", "action__person__name", "action__proven", "action_id", "number", "kind",
    "lot_id", "lot__crop_id", "change", "amount", "figure", "lot__unit", "state", "position_id",
    "purpose", "other_party", "outcome", "reason", "destination", "warm_hours", "note",
    "undone_by__id",
)  # fmt: skip


def csv_rows(movements: QuerySet[Movement], farm: Farm) -> Iterator[list[str]]:
    """Yield the exported table, one entry a row. Times are the farm's, with their offset."""
    yield list(CSV_COLUMNS)
    crops = {crop.pk: safe_cell(crop.shown_name) for crop in Crop.objects.all()}
    places = {
        place.pk: safe_cell(f"{place.room} {place}")
        for place in Position.objects.select_related("room")
    }
    zone, plain = farm.zone, measures.plain
    # Plain values: eight rows of other tables made into objects for each entry cost most of it.
    found = movements.select_related(None).values_list(*_OF_A_ROW)
    for (
        at, person, proven, action, number, kind, code, crop, change, amount, figure, unit, state,
        position, purpose, other_party, outcome, reason, destination, warm_hours, note, undone,
    ) in found.iterator(chunk_size=2000):  # fmt: skip
        local = at.astimezone(zone)
        yield [
            local.isoformat(timespec="seconds"), local.date().isoformat(), safe_cell(person),
            "signed in" if proven else "entered as", str(action), str(number), kind, code,
            crops[crop], plain(change), plain(amount), "" if figure is None else plain(figure),
            unit, state, places.get(position, ""), purpose, safe_cell(other_party), outcome,
            reason, destination, "" if warm_hours is None else plain(warm_hours),
            safe_cell(note), "yes" if undone else "",
        ]  # fmt: skip


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
    the buyer is credited for any of it. A market day closed once more stands in the later,
    and what came back before it was closed is in it.
    """
    for known in (_credited, _later_said, _handed, _stands_for, _counted_in):
        found = known(action)
        if found is not None:
            return found
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


def _credited(action: Action) -> Action | None:
    """Return the latest credit on the slip that an action made."""
    if action.kind != Action.Kind.HANDOVER:
        return None
    credited = Credit.objects.standing().filter(handover__action=action)
    credit = credited.select_related("action__person").last()
    return credit.action if credit else None


def _later_said(action: Action) -> Action | None:
    """Return what was said later of the order that an action is about."""
    if action.kind not in (Action.Kind.ORDER, Action.Kind.HANDOVER):
        return None
    entry = OrderEntry.objects.filter(action=action).first()
    return _later_on_order(entry) if entry else None


def _handed(action: Action) -> Action | None:
    """Return the handing over of what an action took for an order."""
    if action.kind != Action.Kind.TAKE_OUT:
        return None
    handed = Handover.objects.standing().filter(order__lines__takes__taken=action)
    found = handed.select_related("action__person").first()
    return found.action if found else None


def _stands_for(action: Action) -> Action | None:
    """Return the closing of a market day that has what an earlier one closed in it."""
    if action.kind != Action.Kind.SETTLE or hasattr(action, "undone_by"):
        return None
    day = MarketDay.objects.filter(action=action, stands=False).first()
    if day is None:
        return None
    later = MarketDay.objects.standing().filter(outlet=day.outlet, day=day.day)
    found = later.select_related("action__person").first()
    return found.action if found else None


def _counted_in(action: Action) -> Action | None:
    """Return the closing of a market day in which what came back before is counted."""
    if action.kind != Action.Kind.BRING_BACK or hasattr(action, "undone_by"):
        return None
    at_market = {"purpose": Movement.Purpose.MARKET, "outlet__isnull": False}
    back = action.movements.filter(kind=Movement.Kind.BACK, **at_market).first()
    if back is None:
        return None
    day = back.occurred_at.astimezone(Farm.objects.get().zone).date()
    closed = MarketDay.objects.standing().filter(
        outlet=back.outlet_id, day__lte=day, action__occurred_at__gte=back.occurred_at
    )
    found = closed.select_related("action__person").first()
    return found.action if found else None


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
