"""The week in words."""

from datetime import date
from decimal import Decimal

import pytest

from inventory.learning import Flow
from inventory.models import Farm
from inventory.queries.week import Line, Week
from inventory.words.days import farm_days
from inventory.words.week import (
    figure_words,
    rate_words,
    short_day_words,
    signed_weight_words,
    week_words,
    weight_words,
)
from tests.builders import NOW


def test_weights_are_said_as_exactly_as_people_do():
    rows = [("60.4", "kg", "60 kg"), ("7.25", "kg", "7.3 kg"), ("0", "kg", "0 kg"),
            ("4.5359237", "lb", "10 lb"), ("-2", "kg", "-2 kg")]  # fmt: skip
    for kg, unit, said in rows:
        assert weight_words(Decimal(kg), unit) == said
    assert signed_weight_words(Decimal("-2"), "kg") == "−2 kg"
    assert signed_weight_words(Decimal(2), "kg") == "+2 kg"


def test_a_rate_has_one_decimal_and_is_a_dash_where_it_is_of_nothing():
    assert rate_words(Decimal("6.25")) == "6.3 %"
    assert rate_words(Decimal(100)) == "100.0 %"
    assert rate_words(None) == "–"


def test_what_a_figure_is():
    one = Decimal(1)
    assert figure_words(Line("counted", -one, None)) == "Missing at a count"
    assert figure_words(Line("counted", one, None)) == "Found at a count"
    assert figure_words(Line("stalls", -one, None)) == "Sold at market"
    thrown = Line("discarded", -one, None, "wilted", "compost")
    assert figure_words(thrown) == "Discarded: wilted → compost"


@pytest.mark.parametrize(
    ("region", "first", "said", "short"),
    [
        ("elsewhere", date(2026, 6, 8), "Mon 8 to Sun 14 Jun", "8 Jun"),
        ("elsewhere", date(2026, 6, 29), "Mon 29 Jun to Sun 5 Jul", "29 Jun"),
        ("us", date(2026, 6, 8), "Mon Jun 8 to Sun 14", "Jun 8"),
        ("us", date(2026, 6, 29), "Mon Jun 29 to Sun Jul 5", "Jun 29"),
    ],
)
def test_a_week_is_said_by_its_days(region, first, said, short):
    with farm_days(Farm(region=region, time_zone="UTC"), NOW):
        assert week_words(Week(first, [], {first: Flow()})) == said
        assert short_day_words(first) == short
