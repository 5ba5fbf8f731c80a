"""The drawings: how long a crop keeps, and how much of what left was wasted."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from inventory.keeping import load_reference
from inventory.models import Crop
from inventory.queries.plots import draw_lives, draw_weeks

WEEK = timedelta(days=7)
ONE_FIGURE = sorted(
    key for key, row in load_reference().items() if row.life_low_days == row.life_high_days
)


@pytest.mark.parametrize("key", ONE_FIGURE)
def test_a_handbook_of_one_figure_is_drawn_as_a_band_that_can_be_seen(key):
    plot = draw_lives(Crop(reference_key=key), [], None)
    assert plot.band_width == 2
    assert 0 < plot.band_x < plot.band_x + plot.band_width < plot.width


def test_the_band_runs_from_the_low_to_the_high_end_of_the_handbook():
    published = load_reference()["kale"]
    low, high = published.life_low_days, published.life_high_days
    plot = draw_lives(Crop(reference_key="kale"), [], None)
    (first, _), *_, (days, x) = plot.ages
    assert first == 0
    assert plot.band_x == pytest.approx(low / days * x, abs=0.05)
    assert plot.band_width == pytest.approx((high - low) / days * x, abs=0.1)


def test_some_crop_has_a_handbook_of_one_figure():
    assert "cilantro" in ONE_FIGURE


def test_weeks_of_waste_stand_as_bars_below_one_top():
    """Of what was drawn most is the top, but never less than 5 %; a week without a rate is flat."""
    monday = date(2026, 6, 8)
    rates = [(monday, None), (monday + WEEK, Decimal(5)), (monday + WEEK * 2, Decimal(20))]
    drawn = draw_weeks(rates, Decimal(10))
    assert [bar.height for bar in drawn.bars] == [0, drawn.height / 4, drawn.height]
    assert [bar.y for bar in drawn.bars] == [drawn.height, drawn.height * 3 / 4, 0]
    assert [bar.is_now for bar in drawn.bars] == [False, False, True]
    assert drawn.aim_y == drawn.height / 2
    assert all(0 <= bar.x <= drawn.width - drawn.bar for bar in drawn.bars)
    low = draw_weeks([(monday, Decimal(1))], None)
    assert (low.bars[0].height, low.aim_y) == (round(low.height / 5, 1), None)
