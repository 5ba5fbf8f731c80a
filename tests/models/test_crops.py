from decimal import Decimal

from inventory.models import Container, Crop, Source
from inventory.models.crops import names_read_once
from tests.builders import make_lot
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


def grow(*keys: str) -> list[Crop]:
    return [Crop.objects.create(reference_key=key, grown=True) for key in keys]


def test_a_variant_is_said_only_where_the_farm_has_two_crops_of_one_short_name(db):
    with_tops = Crop.objects.create(reference_key="carrot-bunched")
    (carrots,) = grow("carrot-topped")
    assert carrots.shown_name == "Carrots"
    # The other one is not in use; to bring it in it is told apart already.
    assert with_tops.shown_name == "Carrots (in bunches)"
    Crop.objects.filter(pk=with_tops.pk).update(grown=True)
    assert [carrots.shown_name, with_tops.shown_name] == [
        "Carrots (without tops)", "Carrots (in bunches)",
    ]  # fmt: skip


def test_the_usual_one_of_two_has_no_variant_to_say(db):
    usual, other = grow("apple", "apple-chilling-sensitive")
    assert [usual.shown_name, other.shown_name] == ["Apples", "Apples (chill-sensitive)"]


def test_a_name_of_the_farms_own_stays_and_takes_no_short_name(db):
    own = Crop.objects.create(reference_key="carrot-topped", name="Moor carrots", grown=True)
    (bunched,) = grow("carrot-bunched")
    assert [own.shown_name, own.full_name] == ["Moor carrots"] * 2
    assert bunched.shown_name == "Carrots"


def test_a_crop_that_was_brought_in_once_is_still_told_apart_when_it_is_off(farm):
    make_lot(key="carrot-bunched")
    Crop.objects.filter(reference_key="carrot-bunched").update(grown=False)
    topped = Crop.objects.get(reference_key="carrot-topped")
    assert topped.shown_name == "Carrots (without tops)"
    assert Crop.objects.get(reference_key="kale").shown_name == "Kale"


def test_many_names_ask_once_and_what_can_have_no_namesake_never(db, django_assert_num_queries):
    crops = grow("kale", "carrot-topped", "carrot-bunched", "apple-chilling-sensitive")
    with django_assert_num_queries(1), names_read_once():
        assert [crop.shown_name for crop in crops * 2][:2] == ["Kale", "Carrots (without tops)"]
    with django_assert_num_queries(0):
        assert crops[0].shown_name == "Kale"
    crops[2].delete()
    with names_read_once():
        assert crops[1].shown_name == "Carrots"


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
