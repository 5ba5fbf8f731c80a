"""The owner's pages: crops, sources, crates, rooms, places, buyers, people, the farm."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from functools import partial
from typing import Any

from django.db.models import Model, QuerySet
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_POST

from inventory.actions.owner import (
    adopt_keeping_days,
    call_dates_best_before,
    open_room,
    pick_crops,
    switch_crop,
)
from inventory.forms import owner as forms
from inventory.keeping import load_reference
from inventory.ledger.book import Act
from inventory.measures import NotANumber, read_decimal
from inventory.models import Action, Container, Crop, Farm, Outlet, Person, Position, Room, Source
from inventory.queries.crops import by_group, by_name, called
from inventory.queries.empties import crates_out
from inventory.queries.experience import estimate_of, read_harvests, sent_back
from inventory.queries.intakes import dates_of_unknown_kind
from inventory.queries.plots import draw_lives
from inventory.upkeep.backup import last_good_copy
from inventory.views.answers import told_at
from inventory.views.entry import FarmRequest, act_for, attempt, form_key, owner_only, show_form
from inventory.views.health import lines_now
from inventory.views.people import password_problem
from inventory.words.owner import record_words

# One night may fail; two are said.
COPY_IS_OLD = timedelta(hours=48)


@dataclass(frozen=True)
class OwnerList:
    """One list: its rows, and the forms to change one and to add one."""

    title: str
    rows: Callable[[], QuerySet]
    form: type[forms.OwnerForm]
    new_form: type[forms.OwnerForm] | None
    model: type[Model]

    @property
    def can_add(self) -> bool:
        return self.new_form is not None


LISTS = {
    "crops": OwnerList(_("Crops"), Crop.objects.all, forms.CropForm, forms.NewCropForm, Crop),
    "sources": OwnerList(
        _("Blocks and suppliers"), Source.objects.all, forms.SourceForm, forms.SourceForm, Source
    ),
    "containers": OwnerList(
        _("Kinds of crate"), Container.objects.all, forms.ContainerForm, forms.ContainerForm,
        Container,
    ),
    "outlets": OwnerList(
        _("Buyers"), Outlet.objects.all, forms.OutletForm, forms.OutletForm, Outlet
    ),
    "rooms": OwnerList(_("Rooms"), Room.objects.all, forms.RoomForm, None, Room),
    "places": OwnerList(
        _("Places on the shelves"), Position.objects.select_related("room").all,
        forms.PositionForm, forms.NewPositionForm, Position,
    ),
    "people": OwnerList(
        _("People"), Person.objects.all, forms.PersonForm, forms.PersonForm, Person
    ),
}  # fmt: skip


@owner_only
def set_up_lists(request: FarmRequest) -> HttpResponse:
    copied_at = last_good_copy()
    context = {
        "lists": LISTS.items(),
        "last_copy": copied_at,
        "no_copy_lately": copied_at is None or timezone.now() - copied_at > COPY_IS_OLD,
        "unknown_dates": dates_of_unknown_kind(),
        "troubles": sum(line.is_bad for line in lines_now(request)),
        "entry_key": form_key(request),
    }
    return render(request, "inventory/owner/lists.html", context)


@require_POST
@owner_only
def date_kinds(request: FarmRequest) -> HttpResponse:
    """The packer's dates whose kind nobody knows are best befores."""
    return told_at("lists", done=call_dates_best_before(act_for(request)))


def _list(name: str) -> OwnerList:
    if name not in LISTS:
        raise Http404
    return LISTS[name]


@owner_only
def rows(request: FarmRequest, name: str) -> HttpResponse:
    chosen = _list(name)
    found = list(chosen.rows())
    if chosen.model is Crop:
        found.sort(key=lambda crop: (not crop.grown, crop.full_name.lower()))
    context = {"name": name, "list": chosen, "rows": found}
    if chosen.model is Outlet:
        context["crates_out"] = {str(one.outlet.pk): one.crates for one in crates_out()}
    return render(request, "inventory/owner/list.html", context)


@owner_only
def change(request: FarmRequest, name: str, pk: str) -> HttpResponse:
    chosen = _list(name)
    if not pk.isalnum():
        raise Http404
    try:
        row = get_object_or_404(chosen.model, pk=pk)
    except ValueError as error:
        raise Http404 from error
    return _edit(request, name, chosen, chosen.form, row)


@owner_only
def add(request: FarmRequest, name: str) -> HttpResponse:
    chosen = _list(name)
    if chosen.new_form is None:
        raise Http404
    return _edit(request, name, chosen, chosen.new_form, chosen.model())


def _edit(
    request: FarmRequest,
    name: str,
    chosen: OwnerList,
    form_class: type[forms.OwnerForm],
    row: Model,
) -> HttpResponse:
    extra: dict[str, Any] = {}
    if form_class is forms.PersonForm:
        extra = {"person": request.user, "problem": partial(password_problem, request)}
    form = form_class(request.POST or None, instance=row, farm=request.farm, **extra)
    status = 200
    if request.method == "POST":
        action, status = attempt(request, form, form.keep)
        if action:
            return told_at("list", name, done=action)
    return show_form(
        request,
        "inventory/owner/list_form.html",
        form,
        status,
        name=name,
        list=chosen,
        row=row,
        record=_record(row, request.farm) if isinstance(row, Crop) and row.pk else None,
    )


def _record(crop: Crop, farm: Farm) -> dict[str, object]:
    """Return what the farm found of a crop itself: in figures, in words and drawn."""
    now = timezone.now()
    harvests = read_harvests(crop, farm, now)
    found = estimate_of(crop, harvests)
    return {
        "estimate": found,
        "words": record_words(found, load_reference()[crop.reference_key]),
        "plot": draw_lives(crop, harvests, found.curve),
        "sent_back": sent_back(crop, farm, now),
    }


@owner_only
def new_room(request: FarmRequest) -> HttpResponse:
    form = forms.NewRoomForm(request.POST or None, farm=request.farm)
    status = 200
    if request.method == "POST":
        action, status = attempt(request, form, lambda act: open_room(act, shelving=form.shelving))
        if action:
            return told_at("list", "rooms", done=action)
    return show_form(request, "inventory/rooms/room_new.html", form, status)


@owner_only
def farm(request: FarmRequest) -> HttpResponse:
    form = forms.FarmForm(request.POST or None, instance=Farm.objects.get(), farm=request.farm)
    status = 200
    if request.method == "POST":
        action, status = attempt(request, form, form.keep)
        if action:
            return told_at("lists", done=action)
    return show_form(request, "inventory/owner/farm.html", form, status)


@owner_only
def pick(request: FarmRequest) -> HttpResponse:
    """Pick several crops at once, by kind or by any of their names."""
    form = forms.PickCropsForm(request.POST or None, farm=request.farm)
    status = 200
    if request.method == "POST":
        action, status = attempt(request, form, lambda act: _pick(act, form))
        if action:
            return told_at("list", "crops", done=action)
    typed = request.GET.get("q", "")[:80]
    found = called(typed, Crop.objects.all())
    grown = [str(crop.pk) for crop in found if crop.grown]
    return show_form(
        request,
        "inventory/owner/pick_crops.html",
        form,
        status,
        typed=typed,
        ticked=request.POST.getlist("crops", grown),
        own=by_name(crop for crop in found if crop.grown),
        groups=by_group(crop for crop in found if not crop.grown),
    )


def _pick(act: Act, form: forms.PickCropsForm) -> Action:
    return pick_crops(act, on=form.switched_on, off=form.switched_off)


@require_POST
@owner_only
def toggle_crop(request: FarmRequest, pk: int) -> HttpResponse:
    """Switch a crop on or off, where it stands in the list."""
    crop = get_object_or_404(Crop, pk=pk)
    action = switch_crop(act_for(request), crop=crop)
    if request.htmx:
        return render(request, "inventory/owner/list.html#crop", {"row": crop, "name": "crops"})
    return told_at("list", "crops", done=action)


@require_POST
@owner_only
def adopt(request: FarmRequest, pk: int) -> HttpResponse:
    """Take the farm's own record as a crop's keeping days."""
    crop = get_object_or_404(Crop, pk=pk)
    action = adopt_keeping_days(act_for(request), crop=crop, days=_days_shown(request))
    return told_at("list-change", "crops", pk, done=action)


def _days_shown(request: FarmRequest) -> Decimal:
    """Return the figure the button showed; 0, which is never offered, without one."""
    try:
        return read_decimal(request.POST.get("days", ""))
    except NotANumber:
        return Decimal(0)
