"""Orders in words: why a line lacks something, and what is not for a fridge."""

from decimal import Decimal

import pytest
from django.utils import translation

from inventory.models import Crop, Outlet
from inventory.rotation.pulls import Short, WhyShort
from inventory.words.orders import fridge_caution, short_words


@pytest.fixture(autouse=True)
def _in_english():
    with translation.override("en"):
        yield


def short(*parts: tuple[WhyShort, int]) -> Short:
    told = tuple((reason, Decimal(amount)) for reason, amount in parts)
    return Short("o1", sum((amount for _reason, amount in told), Decimal(0)), told)


def test_of_several_reasons_each_says_how_much_it_costs():
    found = short((WhyShort.TOO_OLD, 1), (WhyShort.NOT_ENOUGH, 4))
    assert short_words(found, "bunch") == (
        "1 bunch: the rest would not keep long enough there; "
        "4 bunches: there is no more that may go"
    )


def test_one_reason_needs_no_figure():
    assert short_words(short((WhyShort.NONE, 5)), "kg") == "there is none in the rooms that may go"


@pytest.mark.parametrize(
    ("key", "fridge_c", "said"),
    [
        ("mango", 4, "Not in the fridge"),  # too cold, and nobody published how long it stands it
        ("mango", 9, ""),  # its lowest safe 10 °C (AH-66 page 63), less the degree allowed
        ("eggplant", 4, ""),  # hurt after 5.6 days, which are told
        ("kale", 1, ""),
    ],
)
def test_what_nobody_has_shown_to_stand_a_fridge_is_not_for_it(key, fridge_c, said):
    assert fridge_caution(Crop(reference_key=key), Outlet(fridge_c=fridge_c)) == said
