"""What could be promised: a page to print, a message to send, a table."""

import csv
from datetime import timedelta

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from inventory.forms.availability import AvailabilityForm
from inventory.queries.availability import Availability, csv_rows, read_availability, usual_day
from inventory.views.entry import FarmRequest


def available(request: FarmRequest) -> HttpResponse:
    """Per crop what nobody is promised, for a day and a buyer."""
    form, found = _asked(request)
    context = {"form": form, "found": found, "query": request.GET.urlencode()}
    status = 200 if found else 422
    return render(request, "inventory/field/available.html", context, status=status)


def available_csv(request: FarmRequest) -> HttpResponse:
    _form, found = _asked(request)
    answer = HttpResponse(
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": 'attachment; filename="available.csv"'},
        status=200 if found else 422,
    )
    csv.writer(answer).writerows(csv_rows(found) if found else [])
    return answer


def _asked(request: FarmRequest) -> tuple[AvailabilityForm, Availability | None]:
    """Return what was asked, and the list; none where that could not be understood."""
    at = timezone.now()
    today = timezone.localdate(at, request.farm.zone)
    form = AvailabilityForm(request.GET.dict(), farm=request.farm, today=today)
    if not form.is_valid():
        return form, None
    outlet = form.cleaned_data["buyer"]
    day = form.cleaned_data["day"] or usual_day(outlet, today + timedelta(days=1))
    form.data = form.data | {"day": day.isoformat()}
    return form, read_availability(request.farm, at, day, outlet)
