"""Walking a phone through trusting the farm's own certificate."""

import io
from pathlib import Path

from django.conf import settings
from django.http import FileResponse, Http404, HttpResponse
from django.http.request import split_domain_port
from django.shortcuts import render
from django.urls import reverse
from PIL import Image

from coldroom.tls import authority_file, old_authority_file
from inventory.labels.compose import QUIET_MODULES, qr_modules
from inventory.views.entry import FarmRequest, before_set_up

_DOTS = 6


def _file() -> Path:
    file = authority_file(settings.DATA_DIR)
    if not file.exists():
        raise Http404
    return file


def _plain(request: FarmRequest) -> str:
    """Return this page's address without HTTPS, which a phone can open before it trusts it."""
    host, _port = split_domain_port(request.get_host())
    if not request.is_secure():
        host = request.get_host()
    elif settings.HTTP_PORT != 80:
        host = f"{host}:{settings.HTTP_PORT}"
    return f"http://{host}{reverse('trust')}"


@before_set_up
def trust(request: FarmRequest) -> HttpResponse:
    """The steps, with the address of this page to scan."""
    _file()
    host, _port = split_domain_port(request.get_host())
    context = {
        "address": _plain(request),
        "secure": f"https://{host}:{settings.HTTPS_PORT}/",
        "had_another": old_authority_file(settings.DATA_DIR).exists(),
    }
    return render(request, "inventory/people/trust.html", context)


@before_set_up
def trust_file(request: FarmRequest) -> FileResponse:
    """The authority's certificate; its key was thrown away when it was made."""
    return FileResponse(
        _file().open("rb"),
        content_type="application/x-x509-ca-cert",
        as_attachment=True,
        filename="coldroom-farm.crt",
    )


@before_set_up
def trust_qr(request: FarmRequest) -> HttpResponse:
    _file()
    modules = qr_modules(_plain(request))
    side = len(modules) + 2 * QUIET_MODULES
    image = Image.new("1", (side, side), 1)
    for y, row in enumerate(modules):
        for x, dark in enumerate(row):
            image.putpixel((x + QUIET_MODULES, y + QUIET_MODULES), 0 if dark else 1)
    out = io.BytesIO()
    image.resize((side * _DOTS, side * _DOTS), Image.Resampling.NEAREST).save(out, "PNG")
    return HttpResponse(out.getvalue(), content_type="image/png")
