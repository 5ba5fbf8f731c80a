"""The page of the rooms: how each is now, what is drawn, and the same as a list."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.actions.temperatures import record_readings
from inventory.models import Position, Room
from tests import builders
from tests.builders import make_lot, make_lots, place


def main_of(client) -> str:
    page = client.get("/rooms")
    assert page.status_code == 200
    return page.content.decode().partition("<main")[2]


AIR = [(None, "not measured"), (2.3, "2.3 °C ✓"), (9.0, "9 °C ! too warm")]


@pytest.mark.parametrize(("celsius", "said"), AIR)
def test_a_room_says_how_warm_it_is_now(signed_in, celsius, said):
    if celsius is not None:
        at = timezone.now()
        record_readings(Room.objects.get(), [(at, celsius)], kind="sensor", at=at, sensor="P1")
    assert said in " ".join(main_of(signed_in).split())


def test_a_crate_is_drawn_where_it_stands_and_counted_in_the_list_below(signed_in):
    lots = make_lots(12, 12, at=timezone.now())
    drawing, _, listed = main_of(signed_in).partition("Shelf by shelf")
    for lot in lots:
        assert f'href="/L/{lot.pk}" aria-label="Kale, ' in drawing
        assert lot.pk not in listed
    assert f"/P/{place().pk}" in drawing
    assert "2/5" in listed


def test_what_waits_stands_in_no_place_and_leads_to_be_put_away(signed_in):
    assert "In no place yet" not in main_of(signed_in)
    lot = make_lot(at=timezone.now(), position=None)
    page = main_of(signed_in)
    assert f'href="/L/{lot.pk}"' in page
    assert "Put away 1 crate" in page


def test_a_room_without_places_says_so(signed_in):
    Position.objects.all().delete()
    assert "This room has no places yet." in main_of(signed_in)


def test_the_drawing_asks_no_more_for_more_crates(signed_in, django_assert_num_queries):
    make_lot(at=timezone.now())
    main_of(signed_in)
    with CaptureQueriesContext(connection) as before:
        main_of(signed_in)
    asked = len(before)
    make_lots(*[12] * 6, at=timezone.now(), position=builders.place("B2"))
    main_of(signed_in)
    with django_assert_num_queries(asked):
        main_of(signed_in)
