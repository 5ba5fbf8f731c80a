"""The rotation page, and a sign of life."""

from dataclasses import dataclass

from django.conf import settings
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from inventory.queries.first_steps import steps_to_do
from inventory.queries.groups import CrateGroup, group_crates
from inventory.queries.home import read_rotation
from inventory.queries.temperatures import late_change, read_air, rooms_unchecked
from inventory.upkeep.ground import disk_is_full
from inventory.views.entry import ROWS_SHOWN, FarmRequest, before_set_up, rows_asked

URGENT = 3  # rows of crates to sell first that the first view of the page holds
FOLDED = 27  # rows behind its tiles: the page of a full room comes over one bar of signal


@dataclass(frozen=True)
class Fold:
    """A list of crates behind its tile, as many rows of it as are shown now.

    more: how many rows are left; rows: how many to ask for next.
    """

    key: str
    groups: list[CrateGroup]
    more: int = 0
    rows: int = 0
    is_open: bool = False


@before_set_up
def healthz(request: FarmRequest) -> HttpResponse:
    """Say "ok", which took a read of the database, or that the disk is full."""
    full = disk_is_full(settings.DATA_DIR)
    said, status = ("the disk is full", 507) if full else ("ok", 200)
    return HttpResponse(said, content_type="text/plain", status=status)


def home(request: FarmRequest) -> HttpResponse:
    """Is the room right, what goes first, what waits."""
    at = timezone.now()
    rotation = read_rotation(request.farm, at)
    first = group_crates(rotation.sell_first)
    lists = {
        "then": first[URGENT:],
        "discard": group_crates(rotation.discard),
        "look": group_crates(rotation.look),
        "not_found": group_crates(rotation.not_found),
        "held": group_crates(rotation.held),
        "kept": group_crates(rotation.kept),
    }
    context = {
        "rooms": read_air(at),
        "steps": steps_to_do(request.farm) if request.user.is_owner else [],
        "unchecked": rooms_unchecked(request.farm, at),
        "late_log": late_change(at),
        "today": timezone.localdate(at),
        "rotation": rotation,
        "urgent": first[:URGENT],
        "then_crates": sum(len(group.crates) for group in first[URGENT:]),
        "probe_due": [row for row in rotation.came_in if row.probe_is_due],
        **_folds(request, lists),
    }
    return render(request, "inventory/home/home.html", context)


def _folds(request: FarmRequest, lists: dict[str, list[CrateGroup]]) -> dict[str, Fold | None]:
    """Return the lists that have anything, few rows of them all; a hundred of one asked for."""
    opened = request.GET.get("open", "")
    left = FOLDED
    found: dict[str, Fold | None] = {}
    for key, groups in lists.items():
        most = rows_asked(request) if key == opened else left
        shown = groups[:most]
        left = max(left - len(shown), 0)
        found[key] = Fold(
            key, shown, len(groups) - len(shown), len(shown) + ROWS_SHOWN, key == opened
        ) if groups else None  # fmt: skip
    return found


def more(request: FarmRequest) -> HttpResponse:
    """What is done less often, and finding."""
    return render(request, "inventory/home/more.html")
