"""What was brought in last time, so that the same again takes few taps."""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Min, OuterRef, QuerySet, Subquery

from inventory.models import Action, Container, Crop, Intake, Lot, Movement, Source
from inventory.queries.crates import Crate
from inventory.queries.crops import by_group

OFFERED_FIRST = 8


@dataclass(frozen=True)
class LastTime:
    """The latest standing intake of a crop: what to fill the form with."""

    intake: Intake
    crates: int
    quantity: Decimal
    unit: str
    container: Container | None


@dataclass(frozen=True)
class Left:
    """How many crates wait to be put away; intake: the key of the one they are all of."""

    crates: int
    intake: int | None = None


def last_time(crop: Crop, kind: str) -> LastTime | None:
    """Return how this crop was brought in last. kind: a Source.Kind."""
    return last_times({crop.pk}, kind).get(crop.pk)


def last_times(crops: Iterable[int], kind: str) -> dict[int, LastTime]:
    """Return how each of these crops was brought in last, if it ever was. Five queries."""
    intakes = _latest(crops, kind)
    lots: dict[int | None, list[Lot]] = defaultdict(list)
    for lot in _as_brought_in(intakes).select_related("container"):
        lots[lot.intake_id].append(lot)
    return {intake.crop_id: _last(intake, lots[intake.pk]) for intake in intakes}


def _latest(crops: Iterable[int], kind: str) -> list[Intake]:
    """Return the latest standing intake of each of these crops, the latest of all first.

    Asked source by source, for of a crop that is cut daily and was bought once all there ever
    was of it stands before that one delivery.
    """
    standing = Intake.objects.filter(crop=OuterRef("pk"), action__undone_by__isnull=True)
    latest = standing.order_by("-arrived_at", "-pk").values("pk")
    asked = Crop.objects.filter(pk__in=crops).order_by()
    of_each = [
        asked.values_list(Subquery(latest.filter(source=source)[:1]), flat=True)
        for source in Source.objects.filter(kind=kind).values_list("pk", flat=True)
    ]
    found = set(of_each[0].union(*of_each[1:])) if of_each else ()
    rows = Intake.objects.filter(pk__in=found).order_by("arrived_at", "pk")
    last_of = dict(rows.values_list("crop_id", "pk"))
    intakes = Intake.objects.filter(pk__in=last_of.values()).select_related("crop", "source")
    return list(intakes.order_by("-arrived_at", "-pk"))


def _last(intake: Intake, lots: list[Lot]) -> LastTime:
    usual = Counter(lot.born_with for lot in lots).most_common(1)[0][0]
    return LastTime(intake, len(lots), usual, lots[0].unit, lots[0].container)


def crops_first(kind: str) -> list[Crop]:
    """Return at most eight crops, those brought in latest first, today's among them."""
    grown = Crop.objects.filter(grown=True).order_by().values_list("pk", flat=True)
    return [intake.crop for intake in _latest(grown, kind)[:OFFERED_FIRST]]


def other_crops(first: list[Crop]) -> list[Crop]:
    """Return the rest of the crops the farm grows or buys, by name."""
    shown = {crop.pk for crop in first}
    rest = [crop for crop in Crop.objects.filter(grown=True) if crop.pk not in shown]
    return sorted(rest, key=lambda crop: crop.shown_name.lower())


def crops_off() -> dict[str, list[Crop]]:
    """Return the crops the farm has not switched on, by kind; bringing one in does."""
    return by_group(Crop.objects.filter(grown=False))


def sources_for(kind: str, last: LastTime | None) -> list[Source]:
    """Return the sources in use, the one a crop came from last first."""
    first = last.intake.source_id if last else None
    sources = Source.objects.filter(kind=kind, in_use=True)
    return sorted(sources, key=lambda source: source.pk != first)


def dates_of_unknown_kind() -> list[Intake]:
    """Return the standing deliveries with a packer's date that may be of any kind."""
    return list(
        # "From the first day there is": for "is not null" SQLite looks into no index.
        Intake.objects.filter(
            best_before__gte=date.min, best_before_kind="", action__undone_by__isnull=True
        )
        .select_related("crop", "source")
        .order_by("pk")
    )


def brought_in(intake: Intake) -> list[str]:
    """Return the codes of the crates an intake came in."""
    return list(_as_brought_in([intake]).values_list("pk", flat=True))


def _as_brought_in(intakes: Collection[Intake]) -> QuerySet[Lot]:
    """Return the crates of intakes, but for those made later of their crates."""
    return Lot.objects.filter(intake__in=intakes, parent_links__isnull=True)


def crates_from(intake: Intake) -> list[str]:
    """Return the codes of every crate of an intake and every crate filled from one of them."""
    return sorted(and_filled_from(intake.lots.values_list("pk", flat=True)))


def and_filled_from(codes: Iterable[str]) -> set[str]:
    """Return the codes of these crates and of every crate filled from one of them."""
    found: set[str] = set()
    fresh = set(codes)
    while fresh:
        found |= fresh
        fresh = set(Lot.objects.filter(parents__in=fresh).values_list("pk", flat=True)) - found
    return found


def by_arrival(crates: Iterable[Crate]) -> list[Crate]:
    """Return crates in the order in which they were brought in, as they were typed.

    Those made here of others stand where they were made.
    """
    crates = list(crates)
    first = dict(
        Movement.objects.filter(lot__in=[crate.code for crate in crates])
        .values_list("lot_id")
        .annotate(Min("pk"))
        .order_by()
    )
    return sorted(crates, key=lambda crate: first[crate.code])


def first_of(intake: Intake, crates: Iterable[Crate]) -> Crate | None:
    """Return the crate by which an intake cools, of those that are read; None after an undo."""
    came = (
        crate
        for crate in crates
        if crate.lot.intake_id == intake.pk
        and not crate.is_filled
        and crate.lot.state != Lot.State.VOID
    )
    return min(came, key=lambda crate: crate.code, default=None)


def left_to_put_away(action: Action) -> Left | None:
    """Return what waits beside the crates an action has put away; None if it put away none.

    First the rest of the same harvest or delivery, then all that waits.
    """
    lot = action.movements.order_by("number").values("lot__intake", "lot", "pk").first()
    if action.kind != Action.Kind.MOVE or lot is None or not _waited(lot["lot"], lot["pk"]):
        return None
    waiting = Lot.objects.filter(state=Lot.State.TO_PUT_AWAY)
    of_it = waiting.filter(intake=lot["lot__intake"]).count() if lot["lot__intake"] else 0
    return Left(of_it, lot["lot__intake"]) if of_it else Left(waiting.count())


def _waited(code: str, entry: int) -> bool:
    """Return whether a crate was to be put away before an entry."""
    earlier = Movement.objects.filter(lot=code, pk__lt=entry, undone_by=None).exclude(state="")
    last = earlier.order_by("-occurred_at", "-pk").first()
    return last is not None and last.state == Lot.State.TO_PUT_AWAY


def came_back_since(code: str, moment: datetime) -> list[str]:
    """Return the crates in which parts of one came back after a moment."""
    parts = Lot.objects.filter(
        parents=code, movements__kind=Movement.Kind.BACK, movements__occurred_at__gt=moment
    ).exclude(state=Lot.State.VOID)
    return sorted(parts.values_list("pk", flat=True).distinct())
