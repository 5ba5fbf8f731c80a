"""What stands badly together, where it had better stand, and when that is worth saying.

Apples age carrots and kale: NC State Extension, HIL-803 Mixed Loads (1995); AH-66 pages 54-57.
"""

from datetime import timedelta

import pytest

from inventory.actions.movements import move_lots
from inventory.models import Position, Room
from inventory.queries.neighbours import read_advice, said_after, said_before
from inventory.queries.rooms import places_for_all
from tests.builders import NOW, act, crop, make_cases, make_lot, place
from tests.queries.test_rooms import cold_spots, other_room

pytestmark = pytest.mark.usefixtures("farm")


def cold_room() -> Room:
    return Room.objects.get(name="Cold room")


def better() -> str | None:
    """Where the apples had better stand, by every warning of them."""
    (found,) = {one.better for one in read_advice(cold_room()) if one.giver == crop("apple")}
    return found and found.name


@pytest.fixture
def apples():
    """Apples in A1, kale beside them."""
    make_lot(position=place("A2"))
    return make_cases(18, position=place("A1"))[0]


def test_a_cold_spot_is_never_least_harm(apples):
    assert better() == "B3"
    cold_spots("B3")
    assert better() == "B2"
    cold_spots("B2", "B1", "A3")
    assert better() is None


def test_what_was_moved_as_told_is_not_told_to_move_again(apples):
    move_lots(act(NOW), lots=[apples.pk], position=place(better()))
    assert better() is None
    later = NOW + timedelta(minutes=10)
    make_lot(position=place("A1"), at=later)
    assert better() is None


def test_another_room_goes_before_another_shelf(apples):
    other_room("B3")
    assert better() == "B3"
    make_lot(position=place("B3"))
    assert better() == "B2"  # there is kale in both rooms
    make_cases(18, position=place("B2"))
    Position.objects.update(capacity=1)
    assert better() is None


def test_a_room_in_which_they_keep_clearly_less_long_is_not_better(apples):
    other_room("B1", "B2", "B3", target_c=13)
    assert better() is None  # A3 is one place farther


def said(key: str) -> dict[str, set[str]]:
    """What is said before crates of a crop are put away: who gives the harm, by room."""
    return said_together(key)


def said_together(*keys: str) -> dict[str, set[str]]:
    crops = [crop(key) for key in keys]
    found = said_before(crops, places_for_all(crops))
    names = {str(room.pk): room.name for room in Room.objects.all()}
    return {
        names[room]: {one.giver.reference_key for one in told}
        for room, told in found.items()
        if told
    }


def test_it_is_said_before_crates_come_among_what_they_harm(apples):
    assert said("carrot-topped") == {"Cold room": {"apple"}}
    assert said("beet-topped") == {}


def test_in_one_room_it_is_said_once(apples):
    """Kale stands with the apples already, and there is nowhere else."""
    assert said("kale") == {}
    assert said("apple") == {}


def test_where_there_is_a_better_room_it_is_said_each_time(apples):
    other_room("B3")
    assert said("kale") == {"Cold room": {"apple"}}
    Position.objects.filter(pk=place("B3").pk).update(cold_spot=True)
    assert said("kale") == {}


def test_only_what_comes_is_named_beside_the_room(apples):
    """Kale has long stood there and is no news of the carrots that come now."""
    crops = [crop("carrot-topped")]
    (told,) = said_before(crops, places_for_all(crops)).values()
    assert {tuple(one.takers) for one in told} == {(crops[0],)}
    assert said_together("kale", "carrot-topped") == {"Cold room": {"apple"}}


def test_crops_that_come_together_are_told_what_they_do_to_each_other():
    assert said_together("apple", "kale") == {"Cold room": {"apple"}}


def test_a_room_without_a_good_place_needs_no_other_word(apples):
    """It is too warm for kale; tomatoes there do not matter."""
    other_room("B3", target_c=13)
    make_lot(position=place("B3"), key="tomato-ripe", unit="kg")
    assert said("spinach") == {"Cold room": {"apple"}}


def told(key: str, *put_down: str) -> list[str]:
    return [one.giver.reference_key for one in said_after(cold_room(), crop(key), put_down)]


def test_after_them_it_is_said_of_the_crates_that_made_it_so(apples):
    first = make_lot(position=place("A3"), key="carrot-topped", unit="kg")
    news = said_after(cold_room(), crop("carrot-topped"), [first.pk])
    assert {(one.giver, one.better.name) for one in news} == {(crop("apple"), "B3")}
    second = make_lot(position=place("A3"), key="carrot-topped", unit="kg")
    assert told("carrot-topped", second.pk) == []
    other_room("B3")
    assert set(told("carrot-topped", second.pk)) == {"apple"}


def test_the_pages_say_it_beside_the_place_once_and_folded(signed_in, apples):
    gas = "Ripening gas of"
    make_lot(position=None, key="carrot-topped", unit="kg")
    assert gas in signed_in.get("/put-away").content.decode()
    room = f"/rooms/{cold_room().pk}"
    context = signed_in.get(room).context
    assert {one.better.name for one in context["advice"]} == {"B3"}
    assert context["known"] == []
    move_lots(act(NOW), lots=[apples.pk], position=place("B3"))
    page = signed_in.get(room)
    assert page.context["advice"] == []
    assert gas in page.content.decode().partition("nowhere better here")[2]
