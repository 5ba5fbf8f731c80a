"""Permanent tags: which crates still want one."""

from dataclasses import dataclass

from django.db.models import QuerySet

from inventory.models import Intake, Lot, Movement, TagBinding
from inventory.queries.crates import HERE


def without_tag() -> QuerySet[Lot]:
    """Return the crates in the house that no tag is on, those seen last first."""
    return (
        Lot.objects.filter(state__in=HERE)
        .exclude(tag_bindings__in=TagBinding.objects.filter(taken_off_at__isnull=True))
        .select_related("crop")
        .order_by("-seen_at", "pk")
    )


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
