"""The week's figures."""

from datetime import date, timedelta

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from inventory.queries.days import week_start
from inventory.queries.week import ledger_differs, read_week
from inventory.views.entry import FarmRequest


def week(request: FarmRequest, day: str | None = None) -> HttpResponse:
    """Any week: what came in, where it went, what is left, and whether it adds up."""
    today = timezone.now().astimezone(request.farm.zone).date()
    try:
        asked = date.fromisoformat(day) if day else today
        first = week_start(request.farm, asked)
        if not date(2000, 1, 1) <= first <= today:
            raise ValueError(day)
    except (ValueError, OverflowError) as error:
        raise Http404 from error
    rows = read_week(request.farm, first)
    following = first + timedelta(days=7)
    context = {
        "rows": rows,
        "first": first,
        "last": first + timedelta(days=6),
        "before": first - timedelta(days=7),
        "after": following if following <= today else None,
        "wrong": [row for row in rows if row.difference],
        "ledger_differs": ledger_differs(),
    }
    return render(request, "inventory/ledger/week.html", context)
