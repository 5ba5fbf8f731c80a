"""Printing labels of crates and places, permanent tags, and the farm's label stock."""

import io
import socket
import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlsplit

from django.conf import settings
from django.http import Http404, HttpResponse
from django.http.request import split_domain_port
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from coldroom.tls import authority_file, can_vouch
from inventory.actions.labels import record_prints
from inventory.actions.owner import forget_address
from inventory.codes import InvalidCode, read_code
from inventory.forms.labels import LabelFarmForm, PrintForm
from inventory.labels import LabelText, draw_label, draw_outline, fits, write_pdf
from inventory.labels.stock import Stock
from inventory.models import Farm, Lot, Position, Tag
from inventory.queries.crates import Crate, crates_here, with_life, with_parts
from inventory.queries.labels import farm_stock, gone_wrong, known_addresses, under_old_address
from inventory.views.answers import told_at
from inventory.views.entry import FarmRequest, act_for, attempt, owner_only, show_form
from inventory.words.labels import bar_words, crate_label, place_label, tag_label

MOST_LABELS = 1000


def _codes(request: FarmRequest) -> list[str]:
    """Return the codes asked for, in order; anything that is none is left out."""
    given = request.POST.getlist("codes") or ",".join(request.GET.getlist("codes")).split(",")
    found = []
    for text in given[:MOST_LABELS]:
        try:
            found.append(read_code(text))
        except InvalidCode:
            continue
    return list(dict.fromkeys(found))


def _labels(request: FarmRequest, codes: list[str]) -> tuple[list[LabelText], list[Crate]]:
    """Return the labels of crates, places and tags, and the crates among them."""
    farm = request.farm
    lots = with_parts(Lot.objects.filter(pk__in=codes))
    crates = {crate.code: crate for crate in with_life(lots, farm, timezone.now())}
    places = Position.objects.select_related("room").in_bulk(codes)
    tags = Tag.objects.in_bulk(codes)
    made = {
        **{code: crate_label(crate, farm) for code, crate in crates.items()},
        **{code: place_label(place, farm) for code, place in places.items()},
        **{code: tag_label(tag, farm) for code, tag in tags.items()},
    }
    return [made[code] for code in codes if code in made], list(crates.values())


def labels(request: FarmRequest) -> HttpResponse:
    """What is about to be printed, for which printer; and how to write it by hand."""
    stock = farm_stock(request.farm)
    made, _crates = _labels(request, _codes(request))
    form = PrintForm(farm=request.farm, stock=stock)
    return _show(request, form, made, _without_room(made, stock))


def _show(
    request: FarmRequest, form: PrintForm, made: list[LabelText], no_room: list[LabelText],
    status: int = 200,
) -> HttpResponse:  # fmt: skip
    context = {"labels": made, "codes": [label.code for label in made], "no_room": no_room}
    return show_form(request, "inventory/labels/labels.html", form, status, **context)


def _without_room(made: list[LabelText], stock: Stock) -> list[LabelText]:
    """Return the labels whose words have no room on this stock."""
    return [label for label in made if not fits(label, stock.label_w, stock.label_h)]


@require_POST
def print_labels(request: FarmRequest) -> HttpResponse:
    """The labels as a file, and a note of what they said.

    Those without room are left out, once the page that asks has named them.
    """
    stock = farm_stock(request.farm)
    form = PrintForm(request.POST, farm=request.farm, stock=stock)
    made, crates = _labels(request, _codes(request))
    if not made:
        raise Http404
    no_room = _without_room(made, stock)
    told = {label.code for label in no_room} <= set(request.POST.getlist("no_room"))
    fitting = [label for label in made if label not in no_room]
    if not fitting:
        form.add_error(None, _("These labels are too small for the code and the words."))
    if not (form.is_valid() and told):
        return _show(request, form, made, no_room, 422)
    printed = _drawn(request.farm, fitting, stock, **form.cleaned_data)
    codes = {label.code for label in fitting}
    said = [(crate.lot, crate.lasts_until) for crate in crates if crate.code in codes]
    record_prints(said, timezone.now(), request.farm.label_address)
    return printed


def _drawn(farm: Farm, made: list[LabelText], stock: Stock, start: int, form: str) -> HttpResponse:
    if form != "pdf":
        return _png(made, stock, int(form))
    return _pdf(lambda file: write_pdf(file, made, stock, start=start, nudge_mm=_nudge(farm)))


def _nudge(farm: Farm) -> tuple[float, float]:
    return float(farm.nudge_x_mm), float(farm.nudge_y_mm)


def _pdf(write: Callable[[Path], None]) -> HttpResponse:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "labels.pdf"
        write(file)
        return HttpResponse(
            file.read_bytes(),
            content_type="application/pdf",
            headers={"Content-Disposition": 'inline; filename="labels.pdf"'},
        )


def _png(made: list[LabelText], stock: Stock, dpi: int) -> HttpResponse:
    """One picture, or a zip of many."""
    pictures = [(label.code, _picture(label, stock, dpi)) for label in made]
    if len(pictures) == 1:
        return HttpResponse(pictures[0][1], content_type="image/png")
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for code, picture in pictures:
            archive.writestr(f"{code}.png", picture)
    return HttpResponse(
        packed.getvalue(),
        content_type="application/zip",
        headers={"Content-Disposition": 'attachment; filename="labels.zip"'},
    )


def _picture(label: LabelText, stock: Stock, dpi: int) -> bytes:
    out = io.BytesIO()
    draw_label(label, stock.label_w, stock.label_h, dpi).save(out, "PNG", dpi=(dpi, dpi))
    return out.getvalue()


def outline(request: FarmRequest) -> HttpResponse:
    """A test page with the outline of every label."""
    stock = farm_stock(request.farm)
    return _pdf(lambda file: draw_outline(file, stock, _nudge(request.farm), bar_words))


def reprint(request: FarmRequest) -> HttpResponse:
    """Crates whose label says a day or more too late or leads elsewhere, and any others."""
    here = crates_here(request.farm, timezone.now())
    wrong = gone_wrong(here)
    old = [crate for crate in under_old_address(here, request.farm) if crate not in wrong]
    context = {
        "tags_made": Tag.objects.exists(),
        "crates": wrong,
        "codes": _joined(wrong),
        "old": old,
        "old_codes": _joined(old),
        "others": sorted(
            (crate for crate in here if crate not in wrong and crate not in old),
            key=lambda crate: crate.lot.crop.shown_name.lower(),
        ),
    }
    return render(request, "inventory/labels/reprint.html", context)


def _joined(crates: list[Crate]) -> str:
    return ",".join(crate.code for crate in crates)


@owner_only
def label_settings(request: FarmRequest) -> HttpResponse:
    """The farm's label stock, margins and address."""
    farm = Farm.objects.get()
    proposed = _proposed_address(request)
    form = LabelFarmForm(request.POST or None, instance=farm, farm=request.farm, proposed=proposed)
    status = 200
    if request.method == "POST":
        action, status = attempt(request, form, form.keep)
        if action:
            return told_at("label-settings", done=action)
    context = {
        "addresses": known_addresses(request.farm),
        "has_certificate": authority_file(settings.DATA_DIR).exists(),
        "not_held": _not_held(request.farm),
        "here": f"{request.scheme}://{request.get_host()}",
        "places": ",".join(Position.objects.filter(in_use=True).values_list("pk", flat=True)),
    }
    return show_form(request, "inventory/labels/label_settings.html", form, status, **context)


def _not_held(farm: Farm) -> str:
    """Return the name on labels that the farm's certificate may not hold for, else ""."""
    address = urlsplit(farm.label_address)
    name = address.hostname or ""
    if address.scheme != "https" or settings.HTTPS or _is_numeric(name):
        return ""
    return "" if can_vouch(settings.DATA_DIR, name) else name


def _is_numeric(host: str) -> bool:
    return ":" in host or host.replace(".", "").isdigit()


def _proposed_address(request: FarmRequest) -> str:
    """Return the address labels should carry: HTTPS, by a name; "" where HTTPS is not served."""
    host, _port = split_domain_port(request.get_host())
    if _is_numeric(host) or host == "localhost":
        host = f"{socket.gethostname()}.local"
    if authority_file(settings.DATA_DIR).exists():
        return f"https://{host}:{settings.HTTPS_PORT}".lower()
    return f"https://{request.get_host()}".lower() if request.is_secure() else ""


@require_POST
@owner_only
def forget(request: FarmRequest) -> HttpResponse:
    """Take an address off the list of those whose labels are ours."""
    action = forget_address(act_for(request), address=request.POST.get("address", ""))
    return told_at("label-settings", done=action)
