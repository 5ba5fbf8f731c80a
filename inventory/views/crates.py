"""The page of a crate, and the few things that can be done to it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.db.models import Q, QuerySet
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from inventory.actions import movements, quality, reshape
from inventory.codes import InvalidCode, read_code
from inventory.forms import crates as forms
from inventory.ledger.book import Act
from inventory.ledger.fold import still_out
from inventory.lives.logs import every_room
from inventory.models import Action, Lot, Movement, Parentage, Room, Tag
from inventory.queries.again import Like
from inventory.queries.book import crate_and_planned, fit_with, planned_of
from inventory.queries.crates import Crate, crates_here, one_crate, share
from inventory.queries.credits import said_of
from inventory.queries.first import Taking
from inventory.queries.neighbours import said_before
from inventory.queries.rooms import places_for, placing_at, read_stock
from inventory.queries.scans import read_taking
from inventory.rotation.fit import Doing, likely, why_not
from inventory.views.entry import (
    FarmRequest,
    attempt,
    corrects,
    done,
    is_owner,
    show_form,
)
from inventory.views.tags import show_free_tag
from inventory.words.scans import scan_words

# Nothing was ever filled from a crate without one of these entries.
_FILLS_ANOTHER = {
    Movement.Kind.SPLIT,
    Movement.Kind.COMBINED,
    Movement.Kind.RESORTED,
    Movement.Kind.BACK,
}

# Put together once, asked by every crate's page.
_HISTORY = Movement.objects.with_who().select_related("position").order_by("-occurred_at", "-pk")

_UNDONE_BY = Movement._meta.get_field("undone_by")


class CrateHoldForm(forms.CrateForm, forms.HoldForm):
    """Putting one crate on hold."""


@dataclass(frozen=True)
class Task:
    """How one thing is done to a crate: its button, its form, its action.

    several: it takes other crates along. kind: what it writes, where doing it twice by going
    Back is asked about.
    """

    title: str
    form: type[forms.CrateForm]
    act: Callable[[Act, Crate, Any], Action]
    several: bool = False
    kind: Action.Kind | None = None


def _move(act: Act, crate: Crate, form: forms.MoveForm) -> Action:
    return movements.move_lots(act, lots=[crate.code], position=form.cleaned_data["position"])


def _take_out(act: Act, crate: Crate, form: forms.TakeOutForm) -> Action:
    return movements.take_out(act, lot=crate.code, portion=form.portion, **form.what_for)


def _send_back(act: Act, crate: Crate, form: forms.SendBackForm) -> Action:
    note = form.cleaned_data["note"]
    return movements.send_back(act, lot=crate.code, portion=form.portion, note=note)


def _bring_back(act: Act, crate: Crate, form: forms.BringBackForm) -> Action:
    return movements.bring_back(act, lot=crate.code, **form.content)


def _count(act: Act, crate: Crate, form: forms.CountForm) -> Action:
    data = form.cleaned_data
    return reshape.count_lots(act, figures={crate.code: data["quantity"]}, reason=data["reason"])


def _split(act: Act, crate: Crate, form: forms.SplitForm) -> Action:
    return reshape.split_lot(act, lot=crate.code, quantity=form.cleaned_data["quantity"])


def _combine(act: Act, crate: Crate, form: forms.CombineForm) -> Action:
    return reshape.combine_lots(act, lots=form.lots, position=form.cleaned_data["position"])


def _resort(act: Act, crate: Crate, form: forms.ResortForm) -> Action:
    return reshape.resort_lots(
        act,
        lots=form.lots,
        destination=form.cleaned_data["destination"],
        position=form.cleaned_data["position"],
        **form.amounts(),
    )


def _discard(act: Act, crate: Crate, form: forms.DiscardForm) -> Action:
    data = form.cleaned_data
    return quality.discard(
        act,
        lot=crate.code,
        portion=form.portion,
        reason=data["reason"],
        destination=data["destination"],
        judgement=data["judgement"],
        note=data["note"],
    )


def _inspect(act: Act, crate: Crate, form: forms.InspectForm) -> Action:
    return quality.inspect(act, lot=crate.code, **form.content)


def _judge(act: Act, crate: Crate, form: forms.GoodForm) -> Action:
    return quality.judge_crate(act, lot=crate.code, **form.content)


def _hold(act: Act, crate: Crate, form: CrateHoldForm) -> Action:
    return quality.hold(act, lot=crate.code, reason=form.cleaned_data["reason"])


def _release(act: Act, crate: Crate, form: forms.ReasonForm) -> Action:
    return quality.release(act, lot=crate.code, reason=form.cleaned_data["reason"])


DOINGS = {
    Doing.TAKE_OUT: Task(_("Take out"), forms.TakeOutForm, _take_out, kind=Action.Kind.TAKE_OUT),
    Doing.MOVE: Task(_("Move"), forms.MoveForm, _move),
    Doing.BRING_BACK: Task(
        _("Bring back"), forms.BringBackForm, _bring_back, kind=Action.Kind.BRING_BACK
    ),
    Doing.LOOK: Task(_("Look and keep"), forms.InspectForm, _inspect, kind=Action.Kind.INSPECT),
    Doing.GOOD: Task(_("Still good?"), forms.GoodForm, _judge, kind=Action.Kind.INSPECT),
    Doing.DISCARD: Task(_("Discard"), forms.DiscardForm, _discard, kind=Action.Kind.DISCARD),
    Doing.SEND_BACK: Task(_("Send back to the supplier"), forms.SendBackForm, _send_back),
    Doing.COUNT: Task(_("Count"), forms.CountForm, _count),
    Doing.SPLIT: Task(_("Split in two"), forms.SplitForm, _split, kind=Action.Kind.SPLIT),
    Doing.COMBINE: Task(
        _("Combine"), forms.CombineForm, _combine, several=True, kind=Action.Kind.COMBINE
    ),
    Doing.SORT: Task(
        _("Re-sort"), forms.ResortForm, _resort, several=True, kind=Action.Kind.RESORT
    ),
    Doing.HOLD: Task(_("Put on hold"), CrateHoldForm, _hold),
    Doing.RELEASE: Task(_("Release"), forms.ReasonForm, _release),
}


def possible(crate: Crate, owner: bool, is_out: bool) -> list[tuple[Doing, Task]]:
    """Return what can be done to a crate now, the likely thing first. is_out: some of it is."""
    bought = crate.lot.supplier is not None
    now = crate.now._replace(out=is_out, bought=bought)
    found = [
        (doing, task)
        for doing, task in DOINGS.items()
        if not why_not(doing, now) and (owner or doing != Doing.RELEASE)
    ]
    first = likely(now, crate.verdict, crate.life.used)
    return sorted(found, key=lambda pair: pair[0] != first)


def _crate_or_404(request: FarmRequest, code: str) -> Crate:
    """Return the crate of a code, or the one a permanent tag is on now."""
    found = _find_crate(request, code)
    if found is None:
        raise Http404
    return found


def _find_crate(request: FarmRequest, code: str) -> Crate | None:
    try:
        read = read_code(code)
    except InvalidCode:
        return None
    found = one_crate(read, request.farm, timezone.now())
    if found is not None:
        return found
    tag = Tag.objects.filter(pk=read).first()
    lot = tag.current_lot() if tag else None
    return one_crate(lot.pk, request.farm, timezone.now()) if lot else None


def crate(request: FarmRequest, code: str) -> HttpResponse:
    """What it is, where, how much is left, how long it keeps, and everything that happened."""
    try:
        read = read_code(code)
    except InvalidCode as error:
        raise Http404 from error
    known = crate_and_planned(read, request.farm, timezone.now())
    if known is None:
        return _of_a_tag(request, read)
    found, planned = known
    if code != found.code:
        return redirect("crate", found.code)
    lot = found.lot
    spot = lot.position
    history = _history(lot)
    kinds = {entry.kind for entry in history}
    out = still_out(history)
    context = {
        "crate": found,
        "doings": possible(found, request.user.is_owner, bool(out)),
        "out": out,
        "planned": planned,
        "said": said_of(lot),
        "harm": spot and placing_at(lot.crop, spot).harm,
        "reference": lot.crop.reference,
        **_whereabouts(found),
        "history": history,
        "tags": _tags_on(lot) if Movement.Kind.TAG_ON in kinds else (),
        "parents": lot.parent_links.all() if found.is_filled else (),
        "children": _filled_from(lot) if kinds & _FILLS_ANOTHER else (),
    }
    return render(request, "inventory/crates/crate.html", context)


def _of_a_tag(request: FarmRequest, code: str) -> HttpResponse:
    """Lead to the crate that a permanent tag is on, or show the tag if it is free."""
    tag = get_object_or_404(Tag, pk=code)
    lot = tag.current_lot()
    return redirect("crate", lot.pk) if lot else show_free_tag(request, tag)


def _tags_on(lot: Lot) -> QuerySet[Tag]:
    return Tag.objects.filter(bindings__lot=lot, bindings__taken_off_at=None)


def _filled_from(lot: Lot) -> QuerySet[Parentage]:
    return lot.child_links.exclude(child__state=Lot.State.VOID)


def _history(lot: Lot) -> list[Movement]:
    """Return what happened to a crate, latest first."""
    found = list(_HISTORY.filter(lot=lot))
    share((entry.position for entry in found if entry.position), room=every_room())
    undoing = {entry.undoes_id: entry for entry in found}
    for entry in found:
        entry.lot = lot  # as it is read already, with its crop
        _UNDONE_BY.set_cached_value(entry, undoing.get(entry.pk))  # an undoing is of the same crate
    return found


def _whereabouts(found: Crate) -> dict:
    """Return what the "why" of a crate's life shows: its rooms' mean and how it cooled."""
    intake = found.lot.intake
    cools = intake is not None and not intake.came_cold
    first_hand = cools and not found.is_filled and found.lot.state != Lot.State.VOID
    return {
        "counts_as_in": _room_it_counts_in(found),
        "room_mean": found.clocks.room_mean(found.code, timezone.now()),
        "cooling": found.clocks.cooling(found.code) if first_hand else None,
    }


def _room_it_counts_in(found: Crate) -> Room | None:
    """Return by which room a crate ages that is not put away yet."""
    if found.lot.state != Lot.State.TO_PUT_AWAY:
        return None
    return Room.objects.filter(pk=found.clocks.room_of(found.code)).first()


@corrects
def do(request: FarmRequest, code: str, doing: str) -> HttpResponse:
    """One form about one crate."""
    found = _crate_or_404(request, code)
    if doing not in DOINGS:
        raise Http404
    chosen = DOINGS[doing]
    if doing == "release" and request.user.is_owner and not is_owner(request):
        return redirect(f"{reverse('owner')}?{urlencode({'next': request.get_full_path()})}")
    form = _form(request, found, chosen)
    status = 200
    if request.method == "POST":
        like = Like(chosen.kind, lot=found.code) if chosen.kind else None
        action, status = attempt(request, form, lambda act: chosen.act(act, found, form), like)
        if action:
            return done(action)
    stock = read_stock() if "position" in form.fields else None
    choices = places_for(found.lot.crop, stock=stock) if stock else []
    return show_form(
        request,
        "inventory/crates/crate_do.html",
        form,
        status,
        crate=found,
        doing=doing,
        title=chosen.title,
        choices=choices,
        company=said_before([found.lot.crop], choices, stock) if doing == Doing.MOVE else {},
        **_to_mind(request, found, Doing(doing)),
    )


def _to_mind(request: FarmRequest, found: Crate, doing: Doing) -> dict:
    """Return for which orders a crate is planned, and before it goes out what a scan would ask."""
    farm, now = request.farm, timezone.now()
    if doing == Doing.TAKE_OUT:
        taking = Taking(found, fit_with([found], farm, now), farm, now)
        return {"mind": scan_words(read_taking(taking)), "planned": taking.planned}
    if doing in (Doing.LOOK, Doing.MOVE):
        return {}  # it stays what it is
    return {"planned": planned_of([found], farm, now)[found.code]}


def _form(request: FarmRequest, found: Crate, task: Task) -> forms.CrateForm:
    extra = {}
    if task.several:
        alike = Q(crop=found.lot.crop, unit=found.lot.unit, held=False)
        others = crates_here(request.farm, timezone.now(), alike & ~Q(pk=found.code))
        extra["others"] = [other for other in others if not other.is_past_use_by]
    return task.form(request.POST or None, farm=request.farm, crate=found, **extra)
