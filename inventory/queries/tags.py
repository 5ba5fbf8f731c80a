"""Permanent tags: what each hangs on, and which crates still want one."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db.models import OuterRef, QuerySet, Subquery

from inventory.codes import is_tail, normalise
from inventory.ledger.fold import Outing
from inventory.ledger.outings import out_of, out_of_each
from inventory.models import Farm, Intake, LabelPrint, Lot, Movement, Tag, TagBinding
from inventory.queries.crates import HERE, Crate, by_tail, one_crate, with_life, with_parts

MOST_OFFERED = 5  # crates to tap for a free tag; any other is found by its code
MOST_TOLD = 12  # entries of what happened to a tag
_WITH_A_BUYER = (Movement.Purpose.MARKET, Movement.Purpose.ORDER)


def without_tag() -> QuerySet[Lot]:
    """Return the crates in the house that no tag is on, newest first.

    Those that came in together stand in the order they were typed in.
    """
    first = Movement.objects.filter(lot=OuterRef("pk")).order_by("pk")
    return (
        Lot.objects.filter(state__in=HERE)
        .exclude(tag_bindings__in=TagBinding.objects.filter(taken_off_at__isnull=True))
        .annotate(
            came=Subquery(first.values("action__recorded_at")[:1]),
            number=Subquery(first.values("number")[:1]),
        )
        .order_by("-came", "number", "pk")
    )


def crates_to_tag(farm: Farm, at: datetime) -> list[Crate]:
    """Return the newest crates without a tag, as many as a person looks through."""
    return with_life(with_parts(without_tag()[:MOST_OFFERED]), farm, at)


def crates_of_code(code: str, farm: Farm, at: datetime) -> list[Crate]:
    """Return the crates in the house of a code, or of the last four of one."""
    if is_tail(code):
        return by_tail(code, farm, at)
    found = one_crate(code, farm, at)
    return [found] if found and found.lot.is_here else []


@dataclass(frozen=True)
class Hanging:
    """A tag and the crate it hangs on now. outing: what that is out for; None where it is here."""

    tag: Tag
    lot: Lot | None
    outing: Outing | None = None

    @property
    def is_free(self) -> bool:
        return self.lot is None


def hanging(tags: Iterable[Tag]) -> list[Hanging]:
    """Return what each tag hangs on, the tags of one crop together and the free ones last."""
    tags = list(tags)
    on = TagBinding.objects.filter(tag__in=tags, taken_off_at__isnull=True)
    on = on.exclude(lot__state__in=(Lot.State.EMPTY, Lot.State.VOID))
    bindings = on.select_related("lot__crop", "lot__intake", "lot__position__room")
    lots = {binding.tag_id: binding.lot for binding in bindings}
    out = out_of_each(lot.pk for lot in lots.values() if lot.state == Lot.State.OUT)
    rows = [_hanging(tag, lots.get(tag.pk), out) for tag in tags]
    return sorted(rows, key=_listed)


def _hanging(tag: Tag, lot: Lot | None, out: Mapping[str, Mapping[Outing, object]]) -> Hanging:
    outings = list(out.get(lot.pk, ())) if lot else []
    return Hanging(tag, lot, outings[-1] if outings else None)


def _listed(row: Hanging) -> tuple:
    if row.lot is None:
        return (True, "", "", row.tag.pk)
    place = row.lot.position.name if row.lot.position else ""
    return (False, row.lot.crop.shown_name.lower(), place, row.tag.pk)


def tags_ending(tail: str) -> list[Hanging]:
    """Return the tags whose code ends in these characters, and what they hang on."""
    return hanging(Tag.objects.filter(code__text__endswith=normalise(tail)))


def told_of(tag: Tag) -> QuerySet[Movement]:
    """Return the latest of what happened to a tag: put on, taken off, undone or not."""
    movements = Movement.objects.with_who().filter(detail__tag=tag.pk)
    movements = movements.select_related("lot__crop", "lot__intake", "position__room", "undone_by")
    return movements.order_by("-occurred_at", "-pk")[:MOST_TOLD]


@dataclass(frozen=True)
class LeftBare:
    """A crate still out with a buyer, and the tag about to come off it.

    labelled: something else on it says which crate it is.
    """

    lot: Lot
    outing: Outing
    labelled: bool


def left_bare(tag: Tag) -> LeftBare | None:
    """Return the crate that comes back without this tag if it goes on another; None of none."""
    lot = tag.current_lot()
    if lot is None or lot.state != Lot.State.OUT:
        return None
    outings = [outing for outing in out_of(lot) if outing.purpose in _WITH_A_BUYER]
    if not outings:
        return None
    printed = LabelPrint.objects.filter(lot=lot).exists()
    return LeftBare(lot, outings[-1], labelled=printed or bool(others_on(lot, tag)))


def others_on(lot: Lot, tag: Tag) -> list[str]:
    """Return the codes of the other tags that are on a crate."""
    on = lot.tag_bindings.filter(taken_off_at__isnull=True).exclude(tag=tag)
    return list(on.order_by("pk").values_list("tag_id", flat=True))


@dataclass(frozen=True)
class TagsOn:
    """How far the crates of one intake have their tags, in the order they were typed in.

    next: the first without one; number: which one of them all that is. unequal: they do not all
    hold the same, so that it matters which one gets the tag.
    """

    next: Lot | None
    number: int
    crates: int
    unequal: bool = False


def tags_on(intake: str) -> TagsOn:
    """Return how far the tags of an intake are; of the latest, if this is the key of none.

    Crates of another intake are never offered.
    """
    standing = Intake.objects.filter(action__undone_by__isnull=True).order_by("-arrived_at", "-pk")
    if intake.isdecimal() and len(intake) < 10:
        standing = standing.filter(pk=intake)
    chosen = standing.first()
    if chosen is None:
        return TagsOn(None, 0, 0)
    here = list(
        chosen.lots.filter(state__in=HERE, movements__kind=Movement.Kind.BROUGHT_IN)
        .select_related("crop")
        .order_by("movements__number")
    )
    bare = set(without_tag().filter(intake=chosen).values_list("pk", flat=True))
    waiting = [number for number, lot in enumerate(here) if lot.pk in bare]
    unequal = len({lot.quantity for lot in here}) > 1
    if not waiting:
        return TagsOn(None, len(here), len(here), unequal)
    return TagsOn(here[waiting[0]], waiting[0] + 1, len(here), unequal)
