"""The list of what is available, ready to send."""

from datetime import date
from decimal import Decimal

import pytest
from django.utils import translation

from inventory.models import Crop, Outlet
from inventory.queries.availability import Availability, Available, Part
from inventory.queries.crates import FridgeDays
from inventory.words.availability import availability_sms, availability_text
from tests.builders import crop

FRIDAY = date(2026, 6, 12)


def part(quantity, days=5, cut_on=None, in_fridge=True) -> Part:
    return Part(Decimal(quantity), FridgeDays(days, 5.0, in_fridge), cut_on)


def found(farm, *rows: Available, outlet=None) -> Availability:
    return Availability(farm, FRIDAY, outlet, rows)


def test_it_says_what_is_here_and_what_is_to_be_cut_and_how_long_that_keeps(farm):
    kale = Available(crop(), "bunch", part(24), part(36, days=9, cut_on=date(2026, 6, 11)))
    mango = Available(crop("mango"), "kg", part("2.5", days=1, in_fridge=False))
    assert availability_text(found(farm, kale, mango)).splitlines() == [
        "Test Farm, for Fri 12 Jun:",
        "Kale: 24 bunches (about 5 days), 36 bunches to be cut Thursday (about 9 days)",
        "Mangoes: 2.5 kg (about 1 day, not in the fridge)",
        "Days: in a fridge at 5 °C, from that day.",
    ]


MANY = [1, 9, 40, 120]


def long_list(farm, crops: int) -> tuple[list[Crop], str]:
    some = list(Crop.objects.all()[:crops])
    rows = [Available(one, "kg", part("1234.5", days=12)) for one in some]
    return some, availability_text(found(farm, *rows))


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("crops", MANY)
def test_it_stays_under_900_letters(farm, crops, language):
    with translation.override(language):
        _some, text = long_list(farm, crops)
    assert len(text) < 900


@pytest.mark.parametrize("crops", MANY)
def test_it_says_how_many_crops_did_not_go_in(farm, crops):
    some, text = long_list(farm, crops)
    named = sum(f"\n{one.shown_name}: 1234.5" in text for one in some)
    assert named >= min(crops, 20)
    left_out = crops - named
    assert (f"and {left_out} crops more: ask us." in text) == (left_out > 0)


def test_a_farm_whose_name_fills_it_all_is_cut_off(farm):
    farm.name = "x" * 1000
    assert len(availability_text(found(farm))) == 899


def test_it_opens_the_phones_own_messages_with_their_number(farm):
    kale = Available(crop(), "bunch", part(24))
    heron = Outlet(name="The Heron", telephone="+1 (555) 0142")
    link = availability_sms(found(farm, kale, outlet=heron))
    assert link.startswith("sms:+15550142?body=Test%20Farm%2C%20for%20Fri")
    assert availability_sms(found(farm, kale)).startswith("sms:?body=")
