"""Permanent tags: making them, putting one on a crate, taking it off."""

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from inventory.actions.tags import bind_tag, make_tags, take_tag_off
from inventory.codes import InvalidCode, read_code
from inventory.forms.tags import TagsForm
from inventory.models import Tag
from inventory.queries.tags import without_tag
from inventory.views.answers import told_at
from inventory.views.entry import (
    FarmRequest,
    act_for,
    attempt,
    changed_hands,
    form_key,
    owner_only,
    show_form,
)


def free_tag(code: str) -> Tag | None:
    """Return the permanent tag of this code if it is on no crate now."""
    try:
        tag = Tag.objects.filter(pk=read_code(code)).first()
    except InvalidCode:
        return None
    return tag if tag and tag.current_lot() is None else None


def show_free_tag(request: FarmRequest, tag: Tag) -> HttpResponse:
    """Offer the latest crates without a tag, to bind this one to."""
    context = {"tag": tag, "lots": without_tag()[:30], "entry_key": form_key(request)}
    return render(request, "inventory/labels/tag.html", context)


@require_POST
def bind(request: FarmRequest, code: str) -> HttpResponse:
    """Put a free tag on a crate."""
    try:
        tag, lot = read_code(code), read_code(request.POST.get("lot", ""))
    except InvalidCode as error:
        raise Http404 from error
    return told_at("crate", lot, done=bind_tag(act_for(request), tag=tag, lot=lot))


@require_POST
def free(request: FarmRequest, code: str) -> HttpResponse:
    """Take a tag off the crate it is on."""
    try:
        tag = get_object_or_404(Tag, pk=read_code(code))
    except InvalidCode as error:
        raise Http404 from error
    if changed_hands(request):
        raise PermissionDenied
    action = take_tag_off(act_for(request), tag=tag.pk)
    if request.htmx:
        return render(request, "inventory/ledger/undone.html")
    return told_at("crate", tag.pk, done=action)


@owner_only
def tags(request: FarmRequest) -> HttpResponse:
    """Make permanent tags, then print them."""
    form = TagsForm(request.POST or None, farm=request.farm)
    status = 200
    if request.method == "POST":
        made, status = attempt(
            request, form, lambda act: make_tags(act, count=form.cleaned_data["count"])
        )
        if made:
            codes = ",".join(tag.pk for tag in made)
            return redirect(f"{reverse('labels')}?codes={codes}")
    return show_form(request, "inventory/labels/tags.html", form, status, count=Tag.objects.count())
