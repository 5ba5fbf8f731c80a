"""Rooms and places in words."""

import pytest
from django.utils import translation

from inventory.keeping import Harm
from inventory.models import Position, Room
from inventory.queries.rooms import Choice
from inventory.words.rooms import choice_words, place_groups


def choice(shelf: int, standing: int, harm: Harm = Harm.NONE, suggested: bool = False) -> Choice:
    place = Position(code_id=f"P{shelf}", room=Room(name="Cold room"), rack="A", shelf=shelf)
    return Choice(place, standing, harm, same=False, suggested=suggested)


def test_places_suggested_come_first_with_what_is_free_and_the_rest_with_what_is_wrong():
    choices = [choice(1, 0), choice(2, 5), choice(3, 2, suggested=True), choice(4, 9, Harm.CHILLS)]
    assert place_groups(choices) == [
        ("Good places", [("P3", "Cold room A3 (3 free)")]),
        (
            "All places",
            [
                ("P1", "Cold room A1"),
                ("P2", "Cold room A2: full"),
                ("P4", "Cold room A4: hurt by cold here"),
            ],
        ),
    ]


@pytest.mark.parametrize(
    ("standing", "harm", "so", "said"),
    [
        (3, Harm.NONE, {"suggested": True, "same": True}, "2 free · good"),
        (3, Harm.NONE, {"shorter": True, "same": True}, "2 free · keeps less long"),
        (6, Harm.NONE, {"same": True}, "full · same crop"),
        (0, Harm.NONE, {}, "5 free"),
        (0, Harm.CHILLS, {"shorter": True, "same": True}, "hurt by cold here · same crop"),
        (0, Harm.COLD_SPOT, {"shorter": True}, "known cold spot: may freeze here"),
    ],
)
def test_a_place_says_whether_it_hurts_what_it_holds_and_why_there(standing, harm, so, said):
    values = {"same": False, "suggested": False} | so
    with translation.override("en"):
        assert choice_words(Choice(Position(capacity=5), standing, harm, **values)) == said
