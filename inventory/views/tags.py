"""Permanent tags: making them, what they hang on, putting one on a crate, taking it off."""

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from inventory.actions.tags import bind_tag, make_tags, take_tag_off
from inventory.codes import InvalidCode, is_tail, read_code
from inventory.errors import Refused
from inventory.forms.tags import BindForm, TagsForm
from inventory.ledger.book import Act
from inventory.models import Action, Lot, Tag
from inventory.queries.labels import NotOurs, read_label
from inventory.queries.tags import crates_of_code, crates_to_tag, hanging, told_of
from inventory.views.answers import told_at
from inventory.views.entry import (
    SURE,
    FarmRequest,
    act_for,
    attempt,
    changed_hands,
    owner_only,
    show_form,
)


def show_free_tag(request: FarmRequest, tag: Tag) -> HttpResponse:
    """Offer the newest crates without a tag to bind this one to, or those of a code typed."""
    form = BindForm(farm=request.farm, tag=tag, lot=None)
    typed = request.GET.get("find", "")[:300].strip()
    return _tag_page(request, form, typed=typed)


def _tag_page(
    request: FarmRequest, form: BindForm, status: int = 200, typed: str = ""
) -> HttpResponse:
    found = _crates_typed(request, typed) if typed else []
    context = {
        "tag": form.tag,
        "lot": form.tag.current_lot(),
        "typed": typed,
        "found": found,
        "crates": found or crates_to_tag(request.farm, timezone.now()),
        "problem": _("No crate in the house has this code. Type its last four, or all seven.")
        if typed and not found
        else "",
        "history": told_of(form.tag),
    }
    return show_form(request, "inventory/labels/tag.html", form, status, **context)


def _crates_typed(request: FarmRequest, typed: str) -> list:
    try:
        code = typed if is_tail(typed) else read_label(typed, request.get_host())[1]
    except NotOurs:
        return []
    return crates_of_code(code, request.farm, timezone.now())


@require_POST
def bind(request: FarmRequest, code: str) -> HttpResponse:
    """Put a free tag on a crate, asking first where that leaves another without a label."""
    try:
        key, lot = read_code(code), read_code(request.POST.get("lot", ""))
    except InvalidCode as error:
        raise Http404 from error
    tag = Tag.objects.filter(pk=key).first()
    if tag is None:
        raise Refused("unknown-code", code=key)
    crate = Lot.objects.filter(pk=lot).first()
    form = BindForm(request.POST, farm=request.farm, tag=tag, lot=crate)

    def put_on(act: Act) -> Action:
        return bind_tag(act, tag=key, lot=lot, swap=SURE in request.POST)

    action, status = attempt(request, form, put_on)
    return told_at("crate", lot, done=action) if action else _tag_page(request, form, status)


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


def tag_list(request: FarmRequest) -> HttpResponse:
    """What each tag hangs on, and its label to print again."""
    return render(request, "inventory/labels/tag_list.html", {"tags": hanging(Tag.objects.all())})


@owner_only
def tags(request: FarmRequest) -> HttpResponse:
    """Make permanent tags, then print them; below, what those made so far hang on."""
    form = TagsForm(request.POST or None, farm=request.farm)
    status = 200
    if request.method == "POST":
        made, status = attempt(
            request, form, lambda act: make_tags(act, count=form.cleaned_data["count"])
        )
        if made:
            codes = ",".join(Tag.objects.filter(made_in=made).values_list("pk", flat=True))
            return redirect(f"{reverse('labels')}?codes={codes}")
    return show_form(
        request, "inventory/labels/tags.html", form, status, tags=hanging(Tag.objects.all())
    )
