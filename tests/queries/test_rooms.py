"""Which places are offered for crates, and how a batch no shelf holds is shared out.

Apples age carrots: NC State Extension, HIL-803 Mixed Loads (1995).
"""

from decimal import Decimal

import pytest

from inventory.actions.movements import take_out
from inventory.models import Crop, Position, Room
from inventory.queries.rooms import Choice, places_for, places_for_all, shares_for
from tests import builders
from tests.builders import act, crop, make_cases, make_lot, make_lots, place

pytestmark = pytest.mark.usefixtures("farm")


def suggested(choices: list[Choice]) -> list[str]:
    return [choice.position.name for choice in choices if choice.suggested]


def other_room(*names: str, **changes) -> Room:
    """A second room that these places stand in."""
    room = Room.objects.create(**{"name": "Shed", "target_c": Decimal(2)} | changes)
    for name in names:
        there = place(name)
        there.room = room
        there.save()
    return room


def cold_spots(*names: str) -> None:
    for name in names:
        Position.objects.filter(pk=place(name).pk).update(cold_spot=True)


def test_a_cold_spot_is_good_for_nothing():
    cold_spots("A1", "A2")
    assert suggested(places_for(None)) == ["A3", "B1", "B2"]
    hardy = crop("beet-topped")  # stands a light freeze, and is not sent into it
    assert not places_for(hardy)[0].harm
    assert suggested(places_for(hardy)) == ["A3", "B1", "B2"]


def test_what_goes_to_one_place_is_asked_for_all_together():
    """Basil is hurt below 12 °C (ucd, as in crops.csv), kale keeps best near 0."""
    other_room("B1", "B2", "B3", target_c=Decimal(13))
    assert suggested(places_for_all([crop("kale")])) == ["A1", "A2", "A3"]
    assert suggested(places_for_all([crop("basil")])) == ["B1", "B2", "B3"]
    both = places_for_all([crop("kale"), crop("basil")])
    assert suggested(both) == []
    assert [choice.harm for choice in both] == ["chills"] * 3 + [""] * 3
    assert [choice.shorter for choice in both] == [False] * 3 + [True] * 3


def test_a_place_is_no_measure_for_others_where_it_hurts_the_crop():
    other_room("B3", target_c=Decimal(20))
    assert suggested(places_for(crop("basil"))) == ["B3"]


@pytest.mark.parametrize(("stands", "comes"), [("apple", "kale"), ("kale", "apple")])
def test_a_room_with_good_company_goes_before_one_with_bad(stands, comes):
    """Who gives the gas and who suffers from it: both ways round it is the same harm."""
    make_lot(key=stands, position=place("A1"))
    bad = places_for(crop(comes))
    assert suggested(bad) == ["A1", "A2", "A3"]  # there is no other room
    assert all(choice.bad_company for choice in bad)
    other_room("B2", "B3")
    assert suggested(places_for(crop(comes))) == ["B2", "B3"]
    make_lots(*[12] * 5, key="beet-topped", position=place("B2"))
    assert suggested(places_for(crop(comes))) == ["B3"]
    assert suggested(places_for(crop(comes), 6)) == []


def test_what_keeps_dry_is_offered_the_dry_room():
    other_room("B3", damp=False)
    assert suggested(places_for(crop("onion-bulb"))) == ["B3"]


def shared(crates: int, key: str = "kale") -> dict[str, int]:
    choices = places_for(crop(key), crates)
    return {share.position.name: share.crates for share in shares_for(choices, crates)}


def test_a_batch_that_one_place_holds_is_not_shared_out():
    assert shared(5) == {}


def test_a_batch_no_place_holds_goes_to_the_fewest_that_do():
    assert shared(8) == {"A1": 5, "A2": 3}
    make_lots(*[12] * 3, key="beet-topped", position=place("A2"))
    assert shared(8) == {"A3": 5, "B1": 3}
    make_lot(position=place("B3"))  # beside its own kind
    assert shared(8) == {"B2": 5, "B3": 3}
    cold_spots("B2")
    assert shared(8) == {"A3": 5, "B1": 3}  # close together before all


def test_more_than_three_places_hold_is_begun_with_three():
    assert shared(17) == {"A1": 5, "A2": 5, "A3": 5}


def test_a_batch_is_shared_out_in_good_company_where_all_of_it_finds_room():
    make_cases(18, position=place("A1"))
    other_room("B1", "B2", "B3")
    assert shared(8) == {"B1": 5, "B2": 3}
    make_lots(*[12] * 5, key="beet-topped", position=place("B1"))
    make_lots(*[12] * 5, key="beet-topped", position=place("B2"))
    assert shared(8) == {"A1": 4, "A2": 4}


def test_two_places_of_one_number_on_the_walk_are_two():
    Position.objects.update(walk=1)
    assert sum(shared(8).values()) == 8
    assert len(shared(8)) == 2


def test_the_market_page_offers_no_cold_spot_and_no_place_that_hurts(signed_in):
    def good(*keys: str) -> list[str]:
        for key in keys:
            Crop.objects.filter(reference_key=key).update(grown=True)
            lot = make_lot(key=key, at=builders.timezone_now())
            take_out(
                act(builders.timezone_now()), lot=lot.pk, portion="all", purpose="market",
                outlet=builders.market(),
            )  # fmt: skip
        return suggested(signed_in.get("/market", {"by": "crate"}).context["choices"])

    cold_spots("A1")
    assert good("kale") == ["A2", "A3", "B1"]
    other_room("B3", target_c=Decimal(13))
    assert good() == ["A2", "A3", "B1"]
    assert good("basil") == []
