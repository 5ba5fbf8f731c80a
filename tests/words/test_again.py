"""What was done a moment ago, in words, with the question whether it is meant again."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import translation

from inventory.actions.movements import bring_back, take_out
from inventory.actions.quality import discard, inspect
from inventory.actions.reshape import combine_lots, resort_lots, split_lot
from inventory.actions.temperatures import type_reading
from inventory.models import Reading, Room
from inventory.words.again import _YOU, again_words, ago_words
from tests import builders
from tests.builders import NOW, act, make_lots, owner

MINUTE = timedelta(minutes=1)
QUESTION = "Correct that, or is this another?"


@pytest.fixture(autouse=True)
def _in_english():
    with translation.override("en"):
        yield


@pytest.mark.parametrize(
    ("later", "said"),
    [
        (timedelta(seconds=-5), "just now"),
        (timedelta(0), "just now"),
        (timedelta(seconds=59), "just now"),
        (MINUTE, "1 min ago"),
        (timedelta(seconds=599), "9 min ago"),
    ],
)
def test_how_long_ago(later, said):
    assert ago_words(NOW, NOW + later) == said


def doings() -> dict[str, object]:
    lots = make_lots(12, 12, 12, 12, 12, 12)
    first, away, halved, alike, third, sorted_one = (lot.pk for lot in lots)
    out = take_out(act(), lot=away, portion=Decimal(5), purpose="own use")
    gone = {"reason": "wilted", "destination": "compost"}
    nothing = {"culls": Decimal(0), "lost": Decimal(0)}
    return {
        "brought in 6 crates of Kale": lots[0].intake.action,
        "took out 5 bunches of Kale": out,
        "brought back 1 bunch of Kale": bring_back(act(), lot=away, quantity=Decimal(1)),
        "put 3 bunches of Kale into a second crate": split_lot(
            act(), lot=halved, quantity=Decimal(3)
        ),
        "combined 2 crates of Kale": combine_lots(act(), lots=[alike, third]),
        "re-sorted 1 crate of Kale": resort_lots(
            act(), lots=[sorted_one], firsts=Decimal(9), seconds=Decimal(3), **nothing
        ),
        "discarded 6 bunches of Kale": discard(act(), lot=first, portion="half", **gone),
        f"looked at Kale {first}": inspect(act(), lot=first, days=2, seen="fine"),
    }


def test_each_doing_is_told_as_ones_own(farm):
    found = doings()
    assert {action.kind for action in found.values()} == set(_YOU)
    for said, action in found.items():
        words = again_words(action, owner(), farm, NOW + MINUTE)
        assert words == f"You {said} 1 min ago. {QUESTION}"


def test_anothers_doing_is_told_with_the_name(farm):
    lot = builders.make_lot()
    ben = builders.make_crew()
    out = take_out(act(person=ben), lot=lot.pk, portion="half", purpose="own use")
    words = again_words(out, owner(), farm, NOW)
    assert words == f"Ben, on this phone, just now: taken out, 6 bunches of Kale. {QUESTION}"


def test_a_temperature_is_told_in_the_farms_unit(farm):
    type_reading(act(), room=Room.objects.get(), celsius=4.2, moment=None)
    farm.temperature_unit = "F"
    words = again_words(Reading.objects.get(), owner(), farm, NOW + 2 * MINUTE)
    assert words == f"You wrote 39.6 °F 2 min ago. {QUESTION}"
