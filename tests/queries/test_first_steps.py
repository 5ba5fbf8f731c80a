"""What a new farm is told to do next, until it is done."""

from datetime import timedelta

from inventory.models import Crop, Farm
from inventory.queries.first_steps import Step, steps_to_do
from tests.builders import NOW, make_crew, make_lot


def to_do() -> list[str]:
    return steps_to_do(Farm.objects.get())


def test_a_new_farm_has_three_steps_to_do(farm):
    Crop.objects.update(grown=False)
    assert to_do() == [Step.CROPS, Step.PEOPLE, Step.LABELS]


def test_a_step_that_is_done_is_told_no_more(farm):
    assert to_do() == [Step.PEOPLE, Step.LABELS]
    make_crew()
    assert to_do() == [Step.LABELS]
    Farm.objects.update(label_address="http://farm.local:8000")
    assert to_do() == []


def test_who_has_brought_in_alone_on_three_days_works_alone(farm):
    """Days on the farm's clock: the last of these is two days on in Greenwich, one on the farm."""
    for hours in (0, 24, 37):
        make_lot(at=NOW + timedelta(hours=hours))
    assert Step.PEOPLE in to_do()
    make_lot(at=NOW + timedelta(hours=48))
    assert Step.PEOPLE not in to_do()
