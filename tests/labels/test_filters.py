"""The steps a damaged picture goes through, against Pillow's own filters and plain sums."""

import numpy as np
import pytest
from PIL import Image, ImageFilter

from inventory.labels.filters import against_surroundings, darkest, lightest

SIZES = [(64, 48), (101, 37), (21, 21), (3, 200)]


def noise(size: tuple[int, int], spread: int = 60, seed: int = 1) -> Image.Image:
    grey = np.random.default_rng(seed).normal(128, spread, size[::-1])
    return Image.fromarray(np.clip(grey, 0, 255).astype(np.uint8))


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("reach", [3, 5, 7])
def test_the_darkest_and_the_lightest_are_pillows_own_pixel_for_pixel(size, reach):
    for image in (noise(size), Image.new("L", size, 0), Image.new("L", size, 255)):
        least = image.filter(ImageFilter.MinFilter(reach))
        most = image.filter(ImageFilter.MaxFilter(reach))
        assert darkest(image, reach).tobytes() == least.tobytes()
        assert lightest(image, reach).tobytes() == most.tobytes()


def test_a_pixel_is_black_where_it_is_darker_than_the_mean_of_31_by_31_around_it():
    """Summed here pixel by pixel; where the mean is met to within a grey, either will do."""
    image = noise((90, 70), spread=40)
    grey = np.asarray(image, int)
    wide = np.pad(grey, 15, mode="edge")
    mean = np.array([[wide[y : y + 31, x : x + 31].mean() for x in range(90)] for y in range(70)])
    seen = np.asarray(against_surroundings(image))
    assert set(np.unique(seen)) == {0, 255}
    assert seen.shape == grey.shape
    assert (seen[grey > mean + 1] == 255).all()
    assert (seen[grey < mean - 1] == 0).all()
