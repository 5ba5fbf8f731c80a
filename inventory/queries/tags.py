"""Permanent tags: which crates still want one."""

from dataclasses import dataclass

from django.db.models import QuerySet

from inventory.models import Intake, Lot, TagBinding
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
    """How far the crates of one intake have their tags. next: the first without one."""

    next: Lot | None
    tagged: int
    crates: int


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
    here = chosen.lots.filter(state__in=HERE, parent_links__isnull=True)
    waiting = list(without_tag().filter(pk__in=here).order_by("pk"))
    crates = here.count()
    return TagsOn(waiting[0] if waiting else None, crates - len(waiting), crates)
