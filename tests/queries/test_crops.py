"""Choosing among all crops: by kind, and by whatever somebody calls one."""

import pytest
from django.utils import translation

from inventory.models import Crop
from inventory.queries.crops import by_group, called, folded
from tests.builders import crop


def found(text: str) -> list[str]:
    return [crop.reference_key for crop in called(text, Crop.objects.order_by("pk"))]


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize(
    ("typed", "keys"),
    [
        ("romaine", ["lettuce-romaine"]),
        ("MACHE", ["corn-salad"]),
        ("lamb's", ["corn-salad"]),
        ("orejona", ["lettuce-romaine"]),
        ("rucula", ["arugula"]),
        ("rúcula", ["arugula"]),
        ("carrot bunch", ["carrot-bunched"]),
        ("manojo betabel", ["beet-bunched"]),
        ("tomate cherry", ["tomato-cherry"]),
        ("nothing of the kind", []),
    ],
)
def test_a_crop_is_found_by_any_of_its_names_in_either_language(farm, language, typed, keys):
    with translation.override(language):
        assert found(typed) == keys


def test_a_crop_is_found_by_the_farms_own_name_and_still_by_the_others(farm):
    Crop.objects.filter(reference_key="kale").update(name="Moor greens")
    assert found("moor") == found("kale") == ["kale"]


def test_nothing_typed_finds_every_crop(farm):
    assert len(found(" ")) == Crop.objects.count() > 100


def test_crops_stand_by_kind_each_under_one(farm):
    groups = by_group(Crop.objects.all())
    assert sum(map(len, groups.values())) == Crop.objects.count()
    assert crop("kale") in groups["leafy"]
    assert [each.full_name for each in groups["mushroom"]] == ["Mushrooms"]
    assert list(by_group([crop("kale"), crop("apple")])) == ["leafy", "pome"]
    names = [folded(each.full_name) for each in groups["root"]]
    assert names == sorted(names)
