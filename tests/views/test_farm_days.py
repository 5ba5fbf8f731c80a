"""Days and moments on pages: the farm's own, on its clock and in its manner."""

import re
from datetime import UTC, datetime

import pytest

from inventory.models import Farm, Intake
from tests.builders import make_lot


def test_an_evening_harvest_is_headed_by_the_farms_day(signed_in):
    """23:30 in New York is the next day in Greenwich."""
    make_lot(at=datetime(2026, 6, 10, 3, 30, tzinfo=UTC))
    intake = Intake.objects.get()
    for path in (f"/intake/{intake.pk}", f"/intake/{intake.pk}/correct"):
        page = signed_in.get(path).content.decode()
        heading = re.search(r"<h1>(.*?)</h1>", page, re.DOTALL)[1]
        assert "Kale, Tue 9 Jun" in " ".join(heading.split())
        assert "10 Jun" not in heading


@pytest.mark.parametrize(
    ("region", "moment"),
    [("us", "Tue Jun 9, 2026 11:30 PM"), ("elsewhere", "Tue 9 Jun 2026 23:30")],
)
def test_pages_say_moments_as_the_farm_does(signed_in, region, moment):
    """Seen from months later, so that the year stands there too."""
    Farm.objects.update(region=region)
    make_lot(at=datetime(2026, 6, 10, 3, 30, tzinfo=UTC))
    assert moment in signed_in.get(f"/intake/{Intake.objects.get().pk}").content.decode()
