"""The week's figures, as a page, on paper and as a table."""

import csv
from datetime import date, timedelta
from decimal import Decimal

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone

from inventory.codes import normalise
from inventory.models import Crop
from inventory.models.crops import Unit
from inventory.queries.advice import WeekAdvice, read_advice
from inventory.queries.ages import read_ages
from inventory.queries.days import week_start
from inventory.queries.figures import crates_at
from inventory.queries.kept_order import read_kept_order
from inventory.queries.lost import read_lost
from inventory.queries.market import sold_by_week
from inventory.queries.plots import draw_weeks
from inventory.queries.week import WEEKS, Week, ledger_differs, read_weeks
from inventory.queries.week_table import csv_rows, fingerprint, is_fingerprint, is_of
from inventory.views.entry import FarmRequest, is_owner

WEEK = timedelta(days=7)
_EARLIEST, _LATEST = date(2000, 1, 1), date(2100, 1, 1)


def week(request: FarmRequest, day: str | None = None) -> HttpResponse:
    """Any week: what was wasted, what came in, where it went, and whether it adds up."""
    now = timezone.now()
    today = now.astimezone(request.farm.zone).date()
    found = _read(request, day, today)
    following = found.first + WEEK
    by_money = is_owner(request) and found.is_priced
    rates = [(first, flow.waste_of_left) for first, flow in found.trend.items()]
    sold = sold_by_week(request.farm, found.first, WEEKS, found.crops)
    any_sold = any(share is not None for _week, share in sold)
    context = {
        "week": found,
        "worst": found.worst(by_money=by_money),
        "bars": draw_weeks(rates, request.farm.waste_aim_percent),
        "before": found.first - WEEK,
        "after": following if following <= today else None,
        "following": following,
        "running": found.last >= today,
        "ledger_differs": ledger_differs(),
        "advice": _advice(request, found, today),
        "fifo": read_kept_order(request.farm, found.first),
        "lost": read_lost(request.farm, found.first),
        "sold": sold,
        "sold_bars": draw_weeks(sold, least_top=Decimal(100)) if any_sold else None,
        "ages": read_ages(request.farm, now) if found.last >= today else [],
        "now": now,
        **_on_paper(request, found),
    }
    return render(request, "inventory/ledger/week.html", context)


def _read(request: FarmRequest, day: str | None, today: date) -> Week:
    first = week_start(request.farm, read_day(day) if day else today)
    if not _EARLIEST <= first <= today:
        raise Http404
    return read_weeks(request.farm, first)


def _advice(request: FarmRequest, found: Week, today: date) -> WeekAdvice | None:
    if not request.user.is_owner:
        return None
    return read_advice(request.farm, found.first, today, found.crops)


def read_day(text: str) -> date:
    """Return the day of an address. The farm was not before the earliest, nor is in the far off."""
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        raise Http404 from error
    if not _EARLIEST <= day < _LATEST:
        raise Http404
    return day


def _on_paper(request: FarmRequest, found: Week) -> dict:
    """Return what a printed week is known by, and how one that was asked about compares."""
    printed, asked = fingerprint(found), request.GET.get("paper", "")[:20]
    path = f"{reverse('week-of', args=[found.first.isoformat()])}?paper={printed}"
    compared = ""
    if asked and not is_fingerprint(asked):
        compared = "unknown"
    elif asked and not is_of(asked, found):
        compared = "other"
    elif asked:
        compared = "same" if normalise(asked) == printed else "changed"
    return {"printed": printed, "address": request.build_absolute_uri(path), "compared": compared}


def week_csv(request: FarmRequest, day: str) -> HttpResponse:
    now = timezone.now()
    today = now.astimezone(request.farm.zone).date()
    found = _read(request, day, today)
    name = f"week-{found.first.isoformat()}.csv"
    answer = HttpResponse(
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
    farm, first = request.farm, found.first
    sold = sold_by_week(farm, first, WEEKS, found.crops)
    lost, kept = read_lost(farm, first), read_kept_order(farm, first)
    rows = csv_rows(found, lost, kept, sold, read_ages(farm, now) if found.last >= today else ())
    csv.writer(answer).writerows(rows)
    return answer


def here(request: FarmRequest, day: str, crop: int, unit: str) -> HttpResponse:
    """The crates of a crop that were here when a day began."""
    if unit not in Unit:
        raise Http404
    began, of = read_day(day), get_object_or_404(Crop, pk=crop)
    crates = list(crates_at(request.farm, began, of, unit))
    context = {"crop": of, "unit": unit, "day": began, "crates": crates}
    return render(request, "inventory/ledger/here.html", context)
