"""Bringing in a harvest or bought cases, and the page of an intake."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from urllib.parse import urlencode

from django.db.models import Q
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from inventory.actions.intakes import (
    bring_in_cases,
    bring_in_harvest,
    correct_intake,
    put_away_lots,
    put_away_over,
)
from inventory.actions.quality import hold
from inventory.forms.crates import HoldForm
from inventory.forms.intakes import BringInForm, CasesForm, CorrectForm, HarvestForm, PutAwayForm
from inventory.forms.temperatures import ProbeForm
from inventory.labels.cases import CaseCode, NoCase, Pallet, case_in_picture, far_off, read_case
from inventory.labels.read import NoPicture, open_picture
from inventory.labels.turns import PHOTO_WAITS_S, pictures
from inventory.ledger.book import Act
from inventory.models import Action, CaseKind, Crop, Intake, Lot, Source
from inventory.queries.again import Like
from inventory.queries.crates import Crate, crates_here, with_life, with_parts
from inventory.queries.cutting import cuts_today
from inventory.queries.intakes import (
    LastTime,
    by_arrival,
    crates_from,
    crops_first,
    crops_off,
    first_of,
    last_time,
    other_crops,
    sources_for,
)
from inventory.queries.neighbours import said_before
from inventory.queries.rooms import places_for, read_stock, shares_for
from inventory.views.entry import (
    FarmRequest,
    act_for,
    attempt,
    corrects,
    done,
    form_key,
    is_owner,
    show_form,
)
from inventory.views.several import pick_of
from inventory.words.days import day_words
from inventory.words.refusals import picture_sentence


@dataclass(frozen=True)
class Way:
    """One way in: a harvest from a block, or cases from a supplier."""

    kind: str
    form: type[BringInForm]
    act: Callable[..., Action]


WAYS = {
    "harvest": Way(Source.Kind.BLOCK, HarvestForm, bring_in_harvest),
    "delivery": Way(Source.Kind.SUPPLIER, CasesForm, bring_in_cases),
}


def _way(name: str) -> Way:
    if name not in WAYS:
        raise Http404
    return WAYS[name]


def choose_crop(request: FarmRequest, way: str) -> HttpResponse:
    """At most eight crops first, those of today and last time; the others below."""
    _way(way)
    asked = request.GET.get("crop", "")
    if asked.isdecimal():
        query = urlencode(_from_case(request))
        return redirect(f"{reverse('bring-in', args=[way, int(asked)])}?{query}".rstrip("?"))
    return _crop_page(request, way)


def _crop_page(
    request: FarmRequest, way: str, problem: str = "", status: int = 200
) -> HttpResponse:
    first = crops_first(_way(way).kind)
    context = {
        "way": way,
        "first": first,
        "cuts": cuts_today(request.farm, timezone.now()) if way == "harvest" else (),
        "others": other_crops(first),
        "off": crops_off(),
        "from_case": _from_case(request),
        "problem": problem,
        "query": urlencode(_from_case(request)),
    }
    return render(request, "inventory/intakes/bring_in_crop.html", context, status=status)


@corrects
def bring_in(request: FarmRequest, way: str, pk: int) -> HttpResponse:
    """One intake: as last time, with another number of crates."""
    chosen = _way(way)
    crop = get_object_or_404(Crop, pk=pk)
    last = last_time(crop, chosen.kind)
    sources = sources_for(chosen.kind, last)
    form = chosen.form(
        request.POST or None,
        farm=request.farm,
        sources=sources,
        initial=_as_last_time(crop, last) | _from_case(request),
    )
    status = 200
    if request.method == "POST":
        like = Like(Action.Kind.BRING_IN, crop=crop)
        action, status = attempt(
            request, form, lambda act: chosen.act(act, crop=crop, **form.content), like
        )
        if action:
            return done(action)
    return show_form(
        request,
        "inventory/intakes/bring_in.html",
        form,
        status,
        crop=crop,
        way=way,
        last=last,
        sources=sources,
        choices=places_for(crop),
        case_questions=_case_questions(request),
        can_overrule=is_owner(request),
    )


def _as_last_time(crop: Crop, last: LastTime | None) -> dict:
    if last is None:
        return {"unit": crop.unit}
    return {
        "crates": last.crates,
        "quantity": last.quantity,
        "unit": last.unit,
        "source": last.intake.source_id,
        "container": last.container,
        "variety": last.intake.variety,
        "origin": last.intake.origin,
        "case_cost": last.intake.case_cost,
    }


# What the barcode of a case may fill in, or the cut list, as it stands in the form's address.
_CASE_FIELDS = (
    "crates", "quantity", "unit", "source", "container", "gtin", "supplier_reference", "packed_on",
    "best_before", "best_before_kind", "careless", "differs", "far_packed_on", "far_best_before",
)  # fmt: skip


def _from_case(request: FarmRequest) -> dict:
    return {name: request.GET[name] for name in _CASE_FIELDS if request.GET.get(name)}


def _case_questions(request: FarmRequest) -> list[str]:
    """Return what is asked about dates of a case's barcode that can hardly be."""
    told = _from_case(request)
    kinds = dict(Intake.DateKind.choices)
    kind = kinds.get(told.get("best_before_kind"), Intake.DateKind.BEST_BEFORE.label)
    asked = {
        "far_packed_on": _("The barcode says: packed on %(day)s. Is that so? Look and type it."),
        "far_best_before": _("The barcode says: %(kind)s %(day)s. Is that so? Look and type it."),
    }
    return [
        question % {"kind": kind, "day": day_words(day)}
        for name, question in asked.items()
        if (day := _day(told.get(name, "")))
    ]


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def case(request: FarmRequest) -> HttpResponse:
    """The barcode of a bought-in case: fills the form, and knows a number seen before."""
    if request.method != "POST":
        return redirect("choose-crop", "delivery")
    try:
        code = _case_code(request)
    except NoPicture as error:
        return _crop_page(request, "delivery", picture_sentence(error), 422)
    except Pallet:
        problem = _("That is the barcode of a whole pallet. Scan one of the cases on it.")
        return _crop_page(request, "delivery", problem, 422)
    except NoCase:
        problem = _("No case barcode with a right check digit was found. Choose the crop below.")
        return _crop_page(request, "delivery", problem, 422)
    known = CaseKind.objects.filter(gtin=code.gtin).first()
    facts = {
        "gtin": code.gtin,
        "supplier_reference": code.lot,
        "packed_on": code.packed_on,
        "best_before": code.best_before,
        "best_before_kind": code.best_before_kind,
        "careless": code.careless and "1",
        "differs": code.differs and "1",
        "quantity": code.weight,
        "unit": code.weight_unit or (known and known.unit),
        "source": known and known.source_id,
        "container": known and known.container_id,
    }
    for name, day in far_off(code, timezone.now().astimezone(request.farm.zone).date()).items():
        facts |= {name: None, f"far_{name}": day}
    query = urlencode({name: value for name, value in facts.items() if value})
    if known is None:
        return redirect(f"{reverse('choose-crop', args=['delivery'])}?{query}")
    return redirect(f"{reverse('bring-in', args=['delivery', known.crop_id])}?{query}")


def _case_code(request: FarmRequest) -> CaseCode:
    photo = request.FILES.get("photo")
    if photo is not None:
        with pictures.take(PHOTO_WAITS_S):
            return case_in_picture(open_picture(photo.read()))
    return read_case(request.POST.get("text", "")[:500])


def intake(request: FarmRequest, pk: int) -> HttpResponse:
    """One intake: its crates, wherever they are now."""
    found = get_object_or_404(
        Intake.objects.select_related("crop", "source", "action__person"), pk=pk
    )
    lots = with_parts(Lot.objects.filter(pk__in=crates_from(found)))
    crates = by_arrival(with_life(lots, request.farm, timezone.now()))
    context = {
        **_field_heat(found, crates),
        "probe_form": ProbeForm(farm=request.farm),
        "probes": found.probes.select_related("person", "taken_back_by"),
        "intake": found,
        "crates": crates,
        "pick": pick_of(request, crates),
        "hold_form": HoldForm(farm=request.farm),
        "entry_key": form_key(request),
    }
    return render(request, "inventory/intakes/intake.html", context)


def _field_heat(found: Intake, crates: list[Crate]) -> dict:
    """Return how an intake cools, and whether it still does; nothing for cold deliveries."""
    first = first_of(found, crates)
    if found.came_cold or first is None:
        return {}
    cooling = first.clocks.cooling(first.code)
    ready = datetime.fromtimestamp(cooling.seven_eighths_at, UTC)
    return {
        "cooling": cooling,
        "seven_eighths": ready,
        "still_cooling": timezone.now() < ready + timedelta(days=1),
    }


def correct(request: FarmRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Intake.objects.select_related("crop", "source"), pk=pk)
    form = CorrectForm(request.POST or None, farm=request.farm, intake=found)
    status = 200
    if request.method == "POST":
        action, status = attempt(request, form, lambda act: correct_intake(act, **form.content))
        if action:
            return done(action)
    return show_form(request, "inventory/intakes/correct.html", form, status, intake=found)


@require_POST
def hold_intake(request: FarmRequest, pk: int) -> HttpResponse:
    """Everything that is left of an intake, on hold."""
    found = get_object_or_404(Intake, pk=pk)
    form = HoldForm(request.POST, farm=request.farm)
    if not form.is_valid():
        return redirect("intake", pk)
    return done(hold(act_for(request), intake=found, reason=form.cleaned_data["reason"]))


def put_away(request: FarmRequest) -> HttpResponse:
    """Crates that are to be put away, by crop; ticked ones go to the place tapped."""
    waiting = crates_here(request.farm, timezone.now(), Q(state=Lot.State.TO_PUT_AWAY))
    only = request.POST.get("intake") or request.GET.get("intake") or ""
    of_it = [crate for crate in waiting if str(crate.lot.intake_id) == only]
    waiting = of_it or waiting
    crops = {crate.lot.crop_id: crate.lot.crop for crate in waiting}
    chosen = _chosen_crop(request, list(crops))
    shown = by_arrival(crate for crate in waiting if crate.lot.crop_id == chosen)
    form = PutAwayForm(
        request.POST or None, farm=request.farm, crates=shown, ask_cut=_cut_is_missing(shown)
    )
    status = 200
    if request.method == "POST":
        action, status = attempt(request, form, lambda act: _put_away(act, form))
        if action:
            return done(action)
    crop = crops.get(chosen)
    stock = read_stock() if crop else None
    choices = places_for(crop, len(shown), stock) if crop else []
    shares = shares_for(choices, len(shown))
    return show_form(
        request,
        "inventory/intakes/put_away.html",
        form,
        status,
        crop=crop,
        intake=only,
        crates=shown,
        choices=choices,
        shares=shares,
        staying=len(shown) - sum(share.crates for share in shares),
        company=said_before([crop], choices, stock) if crop else {},
        crops=[crops[pk] for pk in sorted(crops)],
    )


def _put_away(act: Act, form: PutAwayForm) -> Action:
    if form.cleaned_data["over"]:
        return put_away_over(act, shelves=form.shelves, cut_ago=form.told_cut)
    data = form.cleaned_data
    return put_away_lots(act, lots=data["lots"], position=data["position"], cut_ago=form.told_cut)


def _cut_is_missing(crates: list[Crate]) -> bool:
    """Return whether these are of one harvest, and nobody has said when it was cut."""
    intakes = {crate.lot.intake for crate in crates}
    if len(intakes) != 1:
        return False
    (only,) = intakes
    return only is not None and not only.is_bought and only.cut_at is None


def _chosen_crop(request: FarmRequest, crop_ids: list[int]) -> int | None:
    asked = request.POST.get("crop") or request.GET.get("crop") or ""
    if asked.isdecimal() and int(asked) in crop_ids:
        return int(asked)
    return crop_ids[0] if crop_ids else None
