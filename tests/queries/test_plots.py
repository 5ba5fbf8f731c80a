"""The drawing of how long a crop keeps."""

import pytest

from inventory.keeping import load_reference
from inventory.models import Crop
from inventory.queries.plots import draw_lives

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
