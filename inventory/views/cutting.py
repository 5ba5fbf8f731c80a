"""What is to be cut and bought for the orders."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from inventory.queries.cutting import read_cutting
from inventory.views.entry import FarmRequest


def to_cut(request: FarmRequest) -> HttpResponse:
    """By day: crop, block, how much, for whom; then what no block of ours gives."""
    cutting = read_cutting(request.farm, timezone.now())
    return render(request, "inventory/field/cut.html", {"cutting": cutting})
