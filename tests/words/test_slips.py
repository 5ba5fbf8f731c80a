"""Delivery slips in words."""

import pytest
from django.utils import translation

from inventory.keeping import load_reference
from inventory.models import Crop, Farm
from inventory.queries.slips import Keeps, read_slip
from inventory.words.slips import (
    degrees_span,
    keeps_there_words,
    slip_name,
    slip_text,
    storing_words,
)
from tests.builders import make_lot
from tests.deliveries import got, handed, kitchen


@pytest.fixture(autouse=True)
def _in_english():
    with translation.override("en"):
        yield


@pytest.mark.parametrize(
    ("low", "high", "unit", "said"),
    [
        (1, 5, "C", "1 to 5 °C"),
        (1, 5, "F", "34 to 41 °F"),  # 5 °C is 41 °F: FDA Food Code 3-501.16(A)(2)
        (4, 4, "C", "4 °C"),
        (0.8, 1.2, "C", "1 °C"),
    ],
)
def test_a_span_of_degrees_is_whole(low, high, unit, said):
    assert degrees_span(low, high, unit) == said


@pytest.mark.parametrize(
    ("keeps", "said"),
    [
        (Keeps(5, 1, 5), "about 5 days at 1 to 5 °C"),
        (Keeps(1, 1, 5), "about 1 day at 1 to 5 °C"),
        (Keeps(0, 1, 5), "use it today; keep it at 1 to 5 °C"),
        (
            Keeps(6, 10, 13, True, 6, 2),
            "about 6 days at 10 to 13 °C or on the counter; in a fridge about 2",
        ),
        (
            Keeps(6, 10, 13, True, 3, 2),
            "about 6 days at 10 to 13 °C, on the counter about 3; in a fridge about 2",
        ),
        (
            Keeps(6, 10, 13, True, 3, None),
            "about 6 days at 10 to 13 °C, on the counter about 3; not in a fridge",
        ),
    ],
)
def test_how_long_it_keeps_there(keeps, said):
    assert keeps_there_words(keeps, "C") == said


@pytest.mark.parametrize(
    ("key", "said"),
    [
        # USDA Handbook 66 (2016): 0 °C, 95 to 98 % RH, sensitive to ethylene.
        (
            "kale",
            "best at 0 °C, damp: covered or bagged, away from apples, melons and ripe tomatoes",
        ),
        # USDA Handbook 66 (2016): -1 to 0 °C, 60 to 70 % RH.
        ("garlic", "best at -1 to 0 °C, dry and airy"),
        # Cantwell 2001; USDA Handbook 66 (2016): gives off ethylene.
        (
            "tomato-ripe",
            "best at 8 to 10 °C, damp: covered or bagged, "
            "gives off ripening gas: apart from greens",
        ),
    ],
)
def test_how_a_crop_is_stored(key, said):
    assert storing_words(load_reference()[key], "C") == said


def test_the_slip_as_text(farm):
    Farm.objects.update(postal_address="Brindle Lane 3, Brindlemoor", telephone="555-0100")
    made = handed(got(kitchen(), (make_lot(12), 12)), crates_back=2)
    slip, line = read_slip(1), made.paper["lines"][0]
    assert slip is not None
    days = line["keeps"]["days"]
    assert slip_text(slip, farm) == "\n".join(
        [
            "Delivery slip 1",
            "Wed 10 Jun",
            "From: Test Farm, Brindle Lane 3, Brindlemoor, 555-0100",
            "To: Lantern House, 2 Lantern Row, Tamberlow",
            "",
            f"Kale, 12 bunches; cut Wed 10 Jun; crate {line['code']}, lot {line['lot_codes'][0]}; "
            f"about {days} days at 1 to 5 °C",
            "  best at 0 °C, damp: covered or bagged, away from apples, melons and ripe tomatoes",
            "",
            "Our crates left with you: 1, brought back: 2",
            "For whole, uncut produce from this hand-over. Days are an estimate of quality, not "
            "of food safety.",
            "Your fridge is not known: reckoned at 5 °C, the food code's limit.",
        ]
    )


@pytest.mark.usefixtures("farm")
def test_a_name_is_told_in_the_reader_s_language_and_a_variety_stays_a_name():
    plain = make_lot(12)
    late = make_lot(12, variety="Rossa")
    with translation.override("es"):
        made = handed(got(kitchen(), (plain, 12), (late, 12)))
    lines = read_slip(made.number).lines
    assert [line.name for line in lines] == ["Col rizada (kale)", "Col rizada (kale), Rossa"]
    assert [slip_name(line) for line in lines] == ["Kale", "Kale, Rossa"]
    with translation.override("es"):
        assert [slip_name(line) for line in lines] == [line.name for line in lines]


@pytest.mark.usefixtures("farm")
def test_a_crop_renamed_since_is_told_as_it_was_printed():
    made = handed(got(kitchen(), (make_lot(12), 12)))
    Crop.objects.filter(reference_key="kale").update(name="Our kale")
    assert [slip_name(line) for line in read_slip(made.number).lines] == ["Kale"]
