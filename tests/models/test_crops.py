from decimal import Decimal

from inventory.models import Container, Crop, Source
from tests.models.constraints import unclean


def test_one_unnamed_crop_per_reference(refused):
    Crop.objects.create(reference_key="kale")
    Crop.objects.create(reference_key="apple")
    Crop.objects.create(reference_key="kale", name="Curly kale")
    with refused():
        Crop.objects.create(reference_key="kale")


def test_crop_names_are_unique(refused):
    Crop.objects.create(reference_key="kale", name="Curly kale")
    Crop.objects.create(reference_key="kale", name="Flat kale")
    Crop.objects.create(reference_key="kale")
    Crop.objects.create(reference_key="apple")
    assert unclean(Crop(reference_key="kale", name="curly KALE")) == {"name-taken"}
    with refused():
        Crop.objects.create(reference_key="kale", name="curly KALE")


def test_keeping_days_are_positive(refused):
    Crop.objects.create(reference_key="kale", keeping_days=Decimal("0.1"))
    Crop.objects.create(reference_key="apple", keeping_days=None)
    crop = Crop(reference_key="basil", keeping_days=0)
    assert unclean(crop) == {"Constraint “keeping_days_are_positive” is violated."}
    with refused():
        crop.save()


def test_source_names_are_unique(refused):
    Source.objects.create(kind="block", name="Bed 3")
    Source.objects.create(kind="block", name="Bed 4")
    Source.objects.create(kind="supplier", name="Bed 3")
    assert unclean(Source(kind="block", name="BED 3")) == {"name-taken"}
    with refused():
        Source.objects.create(kind="block", name="BED 3")


def test_container_names_are_unique(refused):
    Container.objects.create(name="tote")
    Container.objects.create(name="bulb crate")
    assert unclean(Container(name="Tote")) == {"name-taken"}
    with refused():
        Container.objects.create(name="Tote")


def test_tare_is_not_negative(refused):
    Container.objects.create(name="sack", tare_kg=0)
    crate = Container(name="tote", tare_kg=Decimal("-0.001"))
    assert unclean(crate) == {"Constraint “tare_is_not_negative” is violated."}
    with refused():
        crate.save()


def test_half_cooling_is_positive(refused):
    Container.objects.create(name="sack", half_cooling_h=None)
    Container.objects.create(name="bulb crate", half_cooling_h=Decimal("0.01"))
    crate = Container(name="tote", half_cooling_h=0)
    assert unclean(crate) == {"Constraint “half_cooling_is_positive” is violated."}
    with refused():
        crate.save()
