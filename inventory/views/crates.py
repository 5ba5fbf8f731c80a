"""The page of a crate, and the few things that can be done to it."""

from collections.abc import Callable
from dataclasses import dataclass
from urllib.parse import urlencode

from django.db.models import Q
from django.http import Http404
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from inventory.actions import movements, quality, reshape
from inventory.codes import InvalidCode, read_code
from inventory.forms import crates as forms
from inventory.ledger.outings import out_of
from inventory.models import Lot, Tag
from inventory.queries.crates import Crate, crates_here, one_crate
from inventory.queries.rooms import places_for, placing_at
from inventory.views.entry import (
    attempt,
    done,
    is_owner,
    show_form,
)
from inventory.views.tags import free_tag, show_free_tag


@dataclass(frozen=True)
class Doing:
    """One thing that can be done to a crate: its button, its form, its action."""

    title: str
    form: type
    act: Callable
    states: tuple[str, ...] = (Lot.State.TO_PUT_AWAY, Lot.State.IN_PLACE)
    several: bool = False
    while_held: bool = False


def _move(act, crate, form):
    return movements.move_lots(act, lots=[crate.code], position=form.cleaned_data["position"])


def _take_out(act, crate, form):
    return movements.take_out(act, lot=crate.code, portion=form.portion, **form.what_for)


def _bring_back(act, crate, form):
    return movements.bring_back(act, lot=crate.code, **form.content)


def _count(act, crate, form):
    data = form.cleaned_data
    return reshape.count_lots(act, figures={crate.code: data["quantity"]}, reason=data["reason"])


def _split(act, crate, form):
    return reshape.split_lot(act, lot=crate.code, quantity=form.cleaned_data["quantity"])


def _combine(act, crate, form):
    return reshape.combine_lots(act, lots=form.lots, position=form.cleaned_data["position"])


def _resort(act, crate, form):
    return reshape.resort_lots(
        act,
        lots=form.lots,
        destination=form.cleaned_data["destination"],
        position=form.cleaned_data["position"],
        **form.amounts(),
    )


def _discard(act, crate, form):
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


def _inspect(act, crate, form):
    return quality.inspect(act, lot=crate.code, **form.cleaned_data)


def _hold(act, crate, form):
    return quality.hold(act, lot=crate.code, reason=form.cleaned_data["reason"])


def _release(act, crate, form):
    return quality.release(act, lot=crate.code, reason=form.cleaned_data["reason"])


class CrateHoldForm(forms.CrateForm, forms.HoldForm):
    """Putting one crate on hold."""


_ANY = tuple(Lot.State)

DOINGS = {
    "take-out": Doing(_("Take out"), forms.TakeOutForm, _take_out),
    "move": Doing(_("Move"), forms.MoveForm, _move, while_held=True),
    "bring-back": Doing(_("Bring back"), forms.BringBackForm, _bring_back, states=_ANY),
    "look": Doing(_("Look and keep"), forms.InspectForm, _inspect, while_held=True),
    "discard": Doing(_("Discard"), forms.DiscardForm, _discard, while_held=True),
    "count": Doing(
        _("Count"),
        forms.CountForm,
        _count,
        while_held=True,
        states=(Lot.State.TO_PUT_AWAY, Lot.State.IN_PLACE, Lot.State.EMPTY),
    ),
    "split": Doing(_("Split in two"), forms.SplitForm, _split),
    "combine": Doing(_("Combine"), forms.CombineForm, _combine, several=True),
    "sort": Doing(_("Re-sort"), forms.ResortForm, _resort, several=True),
    "hold": Doing(
        _("Put on hold"),
        CrateHoldForm,
        _hold,
        states=(Lot.State.TO_PUT_AWAY, Lot.State.IN_PLACE, Lot.State.OUT),
    ),
    "release": Doing(_("Release"), forms.ReasonForm, _release, while_held=True),
}


def possible(crate: Crate, owner: bool) -> list[tuple[str, Doing]]:
    """Return what can be done to a crate now, the likely things first."""
    lot = crate.lot
    out = bool(out_of(lot))

    def is_possible(name: str, doing: Doing) -> bool:
        if name == "bring-back":
            return out
        if name == "release":
            return lot.held and owner
        return lot.state in doing.states and (doing.while_held or not lot.held)

    found = [(name, doing) for name, doing in DOINGS.items() if is_possible(name, doing)]
    first = _likely(crate)
    return sorted(found, key=lambda pair: pair[0] != first)


def _likely(crate: Crate) -> str:
    if crate.lot.held:
        return "release"
    if crate.lot.state == Lot.State.TO_PUT_AWAY:
        return "move"
    if crate.lot.state == Lot.State.OUT:
        return "bring-back"
    return "look" if crate.verdict.worklist == "discard" else "take-out"


def _crate_or_404(request, code: str) -> Crate:
    """Return the crate of a code, or the one a permanent tag is on now."""
    try:
        read = read_code(code)
    except InvalidCode as error:
        raise Http404 from error
    tag = Tag.objects.filter(pk=read).first()
    lot = tag.current_lot() if tag else None
    crate = one_crate(lot.pk if lot else read, request.farm, timezone.now())
    if crate is None:
        raise Http404
    return crate


def crate(request, code):
    """What it is, where, how much is left, how long it keeps, and everything that happened."""
    free = free_tag(code)
    if free is not None:
        return show_free_tag(request, free)
    found = _crate_or_404(request, code)
    if code != found.code:
        return redirect("crate", found.code)
    lot = found.lot
    spot = lot.position
    context = {
        "crate": found,
        "doings": possible(found, request.user.is_owner),
        "out": out_of(lot),
        "harm": spot and placing_at(lot.crop, spot).harm,
        "reference": lot.crop.reference,
        **_whereabouts(found),
        "history": lot.movements.select_related(
            "action__person", "lot__crop", "position__room", "undone_by"
        ).order_by("-occurred_at", "-pk"),
        "tags": Tag.objects.filter(bindings__lot=lot, bindings__taken_off_at=None),
        "parents": lot.parent_links.select_related("parent__crop"),
        "children": lot.child_links.exclude(child__state=Lot.State.VOID).select_related("child"),
    }
    return render(request, "inventory/crate.html", context)


def _whereabouts(found: Crate) -> dict:
    """Return what the "why" of a crate's life shows: its rooms' mean and how it cooled."""
    intake = found.lot.intake
    cools = intake is not None and not intake.came_cold
    first_hand = cools and not found.lot.parent_links.exists() and found.lot.state != Lot.State.VOID
    return {
        "room_mean": found.clocks.room_mean(found.code, timezone.now()),
        "cooling": found.clocks.cooling(found.code) if first_hand else None,
    }


def do(request, code, doing):
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
        action, status = attempt(request, form, lambda act: chosen.act(act, found, form))
        if action:
            return done(action)
    choices = places_for(found.lot.crop) if "position" in form.fields else []
    return show_form(
        request,
        "inventory/crate_do.html",
        form,
        status,
        crate=found,
        doing=doing,
        title=chosen.title,
        choices=choices,
    )


def _form(request, found: Crate, doing: Doing):
    extra = {}
    if doing.several:
        alike = Q(crop=found.lot.crop, unit=found.lot.unit, held=False)
        others = crates_here(request.farm, timezone.now(), alike & ~Q(pk=found.code))
        extra["others"] = others
    return doing.form(request.POST or None, farm=request.farm, crate=found, **extra)
