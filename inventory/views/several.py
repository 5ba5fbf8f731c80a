"""Several crates of one place or harvest, ticked there and done together."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from django.http import Http404, HttpResponse
from django.utils import timezone

from inventory.actions import movements, quality
from inventory.actions.intakes import MOST_CRATES
from inventory.codes import InvalidCode, read_code
from inventory.forms import several as forms
from inventory.forms.fields import TickedForm
from inventory.ledger.book import Act
from inventory.models import Action, Lot, Position
from inventory.queries.book import planned_of
from inventory.queries.crates import Crate, with_life, with_parts
from inventory.queries.first import older_first
from inventory.queries.intakes import by_arrival
from inventory.queries.neighbours import Advice, said_before
from inventory.queries.rooms import Choice, places_for_all, read_stock
from inventory.rotation.fit import Doing
from inventory.views.crates import DOINGS
from inventory.views.entry import FarmRequest, attempt, done, show_form


@dataclass(frozen=True)
class Pick:
    """Crates to be ticked on their page. alike: those of one intake, where there are several.

    opened: somebody has asked to tick others than all.
    """

    crates: list[Crate]
    ticked: set[str]
    opened: bool
    alike: list[list[Crate]]


def pick_of(request: FarmRequest, crates: Iterable[Crate]) -> Pick:
    """Return the crates of a page that are here, ticked as its address says: all but for that."""
    here = [crate for crate in crates if crate.lot.is_here]
    asked = request.GET.get("tick", "")
    ticked = {crate.code for crate in here if asked in ("", "all", str(crate.lot.intake_id))}
    return Pick(here, ticked, bool(asked), _of_one_intake(here))


def _of_one_intake(crates: list[Crate]) -> list[list[Crate]]:
    by_intake = sorted(crates, key=lambda crate: crate.lot.intake_id or 0)
    groups = [list(group) for _, group in groupby(by_intake, key=lambda crate: crate.lot.intake_id)]
    several = [group for group in groups if len(group) > 1 and group[0].lot.intake_id]
    return several if len(groups) > 1 else []


@dataclass(frozen=True)
class Task:
    """How one thing is done to several crates."""

    form: type[TickedForm]
    act: Callable[[Act, Any], Action]


def _move(act: Act, form: forms.MoveSeveralForm) -> Action:
    return movements.move_lots(act, **form.content)


def _take_out(act: Act, form: forms.TakeSeveralForm) -> Action:
    return movements.take_out_lots(act, lots=form.cleaned_data["lots"], **form.what_for)


def _hold(act: Act, form: forms.HoldSeveralForm) -> Action:
    return quality.hold(act, **form.content)


def _discard(act: Act, form: forms.DiscardSeveralForm) -> Action:
    return quality.discard_lots(act, **form.content)


TASKS = {
    Doing.MOVE: Task(forms.MoveSeveralForm, _move),
    Doing.TAKE_OUT: Task(forms.TakeSeveralForm, _take_out),
    Doing.HOLD: Task(forms.HoldSeveralForm, _hold),
    Doing.DISCARD: Task(forms.DiscardSeveralForm, _discard),
}


def do(request: FarmRequest, doing: str) -> HttpResponse:
    """The one form about crates that were ticked: what else there is to say of them."""
    if doing not in TASKS:
        raise Http404
    task = TASKS[Doing(doing)]
    crates = _ticked(request)
    form = task.form(request.POST or None, farm=request.farm, crates=crates)
    status = 200
    if request.method == "POST":
        action, status = attempt(request, form, lambda act: task.act(act, form))
        if action:
            return done(action)
    return show_form(
        request,
        "inventory/crates/several.html",
        form,
        status,
        crates=crates,
        doing=doing,
        title=DOINGS[Doing(doing)].title,
        spot=_spot(crates),
        planned=planned_of(crates, request.farm, timezone.now()),
        older=_older(request, crates) if doing == Doing.TAKE_OUT else [],
        **(_places(crates) if doing == Doing.MOVE else {}),
    )


def _ticked(request: FarmRequest) -> list[Crate]:
    """Return the crates the page was opened with; those unticked since can be ticked again."""
    asked = request.GET.getlist("lots") or request.POST.getlist("lots")
    try:
        codes = {read_code(code) for code in asked[:MOST_CRATES]}
    except InvalidCode as error:
        raise Http404 from error
    lots = with_parts(Lot.objects.filter(pk__in=codes))
    return by_arrival(with_life(lots, request.farm, timezone.now()))


def _spot(crates: list[Crate]) -> Position | None:
    """Return the one place where all of them stand."""
    spots = {crate.lot.position for crate in crates}
    return spots.pop() if len(spots) == 1 else None


def _older(request: FarmRequest, crates: list[Crate]) -> list[Crate]:
    """Return which crates should go before these and are not among them, one for each crop."""
    last = {crate.lot.crop_id: crate for crate in sorted(crates, key=lambda crate: crate.key)}
    codes, now = {crate.code for crate in crates}, timezone.now()
    ahead = [older_first(crate, request.farm, now, codes) for crate in last.values()]
    return [crate for crate in ahead if crate]


def _places(crates: list[Crate]) -> dict[str, list[Choice] | dict[str, list[Advice]]]:
    """Return the places for all of them together, and what to say beside their rooms."""
    crops = {crate.lot.crop for crate in crates}
    stock = read_stock()
    choices = places_for_all(crops, len(crates), stock)
    return {"choices": choices, "company": said_before(crops, choices, stock)}
