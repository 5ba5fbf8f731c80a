"""The page of what is available, its table, and what is asked wrongly."""

from datetime import timedelta

import pytest

from inventory.models import Farm, Outlet
from tests.builders import make_cases, make_crew, make_lot, sign_in, timezone_now

DAY = timedelta(days=1)


def today():
    return timezone_now().astimezone(Farm.objects.get().zone).date()


def test_the_page_lists_what_is_free_ready_to_send(signed_in):
    make_lot(12, at=timezone_now())
    sign_in(signed_in, make_crew())
    page = signed_in.get("/available").content.decode()
    assert "<b>12 bunches</b>" in page
    assert f'value="{today() + DAY}"' in page
    text = page.partition("<textarea")[2].partition(">")[2].partition("<")[0]
    assert "Kale: 12 bunches" in text
    assert 'href="sms:?body=Test%20Farm' in page


def test_of_a_buyer_it_is_for_their_next_delivery_and_for_what_they_take(signed_in):
    make_lot(12, at=timezone_now())
    make_cases(18, at=timezone_now())
    day = today() + 3 * DAY
    heron = Outlet.objects.create(
        name="The Heron", own_grown_only=True, delivery_days=str(day.weekday()), minimum_days=1
    )
    page = signed_in.get(f"/available?buyer={heron.pk}").content.decode()
    assert "12 bunches" in page
    assert "18 kg" not in page
    assert f'value="{day}"' in page
    assert f'href="/available.csv?buyer={heron.pk}"' in page


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("day=2020-01-01", "That day is over. Choose today or a later one."),
        ("day=soon", "Type a date like 2026-07-31."),
        ("day=9999-12-31", "Type a date like 2026-07-31."),
        ("buyer=999999", "Choose one of these."),
        ("buyer=heron", "Choose one of these."),
    ],
)
def test_what_is_asked_wrongly_is_said_and_nothing_is_listed(signed_in, query, words):
    make_lot(12, at=timezone_now())
    answer = signed_in.get(f"/available?{query}")
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert "12 bunches" not in answer.content.decode()
    table = signed_in.get(f"/available.csv?{query}")
    assert (table.status_code, table.content) == (422, b"")


def test_the_table_is_a_file(signed_in):
    make_lot(12, at=timezone_now())
    answer = signed_in.get("/available.csv")
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    head, kale = answer.content.decode().splitlines()
    assert head.startswith("crop,unit,here,days")
    assert kale.startswith("Kale,bunch,12,")


def test_nothing_free_is_said(signed_in):
    page = signed_in.get("/available").content.decode()
    assert "Nothing is free that they may have." in page
    assert "<textarea" not in page
