"""Walking a phone through trusting the farm's own certificate."""

import io

from django.conf import settings
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from PIL import Image

from coldroom.tls import authority_file
from inventory.labels.compose import QUIET_MODULES, qr_modules
from inventory.views.entry import public

_DOTS = 6


def _file():
    file = authority_file(settings.DATA_DIR)
    if not file.exists():
        raise Http404
    return file


@public
def trust(request):
    """The steps, with the address of this page to scan."""
    _file()
    host = request.get_host().partition(":")[0]
    context = {
        "address": request.build_absolute_uri(reverse("trust")),
        "secure": f"https://{host}:{settings.HTTPS_PORT}/",
    }
    return render(request, "inventory/trust.html", context)


@public
def trust_file(request):
    """The authority's certificate; its key never leaves the data folder."""
    return FileResponse(
        _file().open("rb"),
        content_type="application/x-x509-ca-cert",
        as_attachment=True,
        filename="coldroom-farm.crt",
    )


@public
def trust_qr(request):
    _file()
    modules = qr_modules(request.build_absolute_uri(reverse("trust")))
    side = len(modules) + 2 * QUIET_MODULES
    image = Image.new("1", (side, side), 1)
    for y, row in enumerate(modules):
        for x, dark in enumerate(row):
            image.putpixel((x + QUIET_MODULES, y + QUIET_MODULES), 0 if dark else 1)
    out = io.BytesIO()
    image.resize((side * _DOTS, side * _DOTS), Image.Resampling.NEAREST).save(out, "PNG")
    return HttpResponse(out.getvalue(), content_type="image/png")
